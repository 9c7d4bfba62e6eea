"""Small routes made by hand for the referee's tests.

Lengths come from the published tables by way of numbers typed here, not from
``router.trade``: ASME B16.3 centre-to-end (from memory, checked in part), thread
engagement L1 + L3 and the shortest shouldered nipple (from memory). Figures
(counts, terms) are added up here as well.
"""

from __future__ import annotations

import itertools
from collections import Counter
from math import dist, sqrt
from typing import TYPE_CHECKING, Any

from router.hangers.place import place_hangers
from router.route.low_sections import LowSections
from router.route.model import LowSection, Piece, Route, RunResult, Takeoff
from router.scenario.model import Scenario
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.check.findings import Finding, Verdict

Xyz = tuple[float, float, float]

WAYS: dict[str, Xyz] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}
IN = 25.4

# inches: (kind, sorted sizes) -> (run or larger end, outlet or smaller end)
TAKE_OUT: dict[tuple[str, tuple[int, ...]], tuple[float, float]] = {
    ("tee", (25, 32, 32)): (1.58, 1.67),
    ("tee", (25, 25, 25)): (1.50, 1.50),
    ("tee", (32, 32, 32)): (1.75, 1.75),
    ("cross", (25, 25, 32, 32)): (1.58, 1.67),
    ("elbow_90", (25, 32)): (1.58, 1.67),
    ("elbow_90", (25, 25)): (1.50, 1.50),
    ("elbow_90", (32, 32)): (1.75, 1.75),
    ("elbow_45", (32, 32)): (1.29, 1.29),
    ("reducer", (15, 25)): (1.69, 1.69),
    ("reducing_coupling", (25, 32)): (1.0, 1.0),  # butt weld: half of 2 in. (ASME B16.9, from memory)
    ("outlet", (25,)): (0.0, 1.66 / 2 + 1.31),  # half the OD of DN32 pipe + assumed height
}
ENGAGEMENT = {25: 0.661, 32: 0.681}

WEIGHTS = {
    "unserved": 1e6,
    "fitting": 1000.0,
    "level_change": 500.0,
    "drain": 3000.0,
    "hanger": 300.0,
    "pipe": 20.0,
    "moved": 0.5,
    "style": 10.0,
    "reducer": 0.0,
    "hose": 1500.0,
    "large_drain": 1500.0,
    "wet_drain": 500.0,
    "price": 0.0,
}
UNITS = {
    "unserved": "heads",
    "fitting": "fittings",
    "level_change": "changes",
    "drain": "drains",
    "hanger": "hangers",
    "pipe": "m",
    "moved": "mm",
    "style": "styles",
    "reducer": "reducers",
    "hose": "hoses",
    "large_drain": "drains",
    "wet_drain": "drains",
    "price": "currency",
}


def vector(way: str | Xyz) -> Xyz:
    return WAYS[way] if isinstance(way, str) else way


class Draft:
    """A route being made: plain dictionaries, so that a test can spoil any of it."""

    def __init__(self, scenario: dict[str, Any]) -> None:
        self.given: dict[str, Any] = {"name": "by hand", "weights": {"unserved": 1e6}, **scenario}
        self.pieces: dict[str, dict[str, Any]] = {}
        self.fittings: dict[str, dict[str, Any]] = {}
        self.takeoffs: dict[str, dict[str, Any]] = {}
        self.runs: dict[str, dict[str, Any]] = {}
        self.heads: dict[str, dict[str, Any]] = {}
        self.drains = 0
        self.hang = False
        """Whether :meth:`route` has its hangers placed, by the code that makes routes."""

    # -- parts ------------------------------------------------------------------------------

    def fit(
        self, name: str, kind: str, at: Xyz, ways: list[Any], sizes: list[int], owner: str, run: str
    ) -> str:
        self.fittings[name] = {
            "id": name,
            "kind": kind,
            "owner": owner,
            "run": run,
            "at": at,
            "directions": [vector(way) for way in ways],
            "sizes": sizes,
            "counts_as": "reducer" if kind == "reducer" else "fitting",
        }
        return name

    def pipe(self, name: str, kind: str, ends: tuple[Any, Any], dn: int, owner: str, run: str) -> str:
        """Put a pipe between two ends: each is a fitting's id, or a point."""
        at = [self.fittings[end]["at"] if isinstance(end, str) else end for end in ends]
        self.pieces[name] = {
            "id": name,
            "kind": kind,
            "owner": owner,
            "run": run,
            "start": at[0],
            "end": at[1],
            "dn": dn,
            "length": 0.0,
            "make_up": 0.0,
            "fittings": [end if isinstance(end, str) else None for end in ends],
        }
        self.measure(name)
        return name

    def measure(self, name: str) -> None:
        """Work out a pipe's length and make-up by hand."""
        piece = self.pieces[name]
        length = dist(piece["start"], piece["end"])
        bare = length
        for fitting, sign in zip(piece["fittings"], (1.0, -1.0), strict=True):
            if fitting in self.fittings and piece["kind"] not in ("barrel", "hose"):
                way = [sign * (b - a) / length for a, b in zip(piece["start"], piece["end"], strict=True)]
                bare += (ENGAGEMENT[piece["dn"]] - self._take_out(fitting, way)) * IN
        piece["length"], piece["make_up"] = length, bare

    def _take_out(self, name: str, way: list[float]) -> float:
        fitting = self.fittings[name]
        run, outlet = TAKE_OUT[fitting["kind"], tuple(sorted(fitting["sizes"]))]
        ways = fitting["directions"]
        meets = [sum(a * b for a, b in zip(w, way, strict=True)) for w in ways]
        k = meets.index(max(meets))
        if fitting["kind"] in ("tee", "cross"):
            against = [sum(a * b for a, b in zip(w, ways[k], strict=True)) for w in ways]
            in_line = min(against) < -0.9
            if fitting["kind"] == "cross":
                in_line = fitting["sizes"][k] == max(fitting["sizes"])
            return run if in_line else outlet
        if fitting["kind"] == "outlet":
            return outlet
        return run if fitting["sizes"][k] == max(fitting["sizes"]) else outlet

    def take(self, name: str, style: str, station: float, side: str, level: float, **more: Any) -> None:
        """Describe a takeoff whose pieces and fittings are made already."""
        self.takeoffs[name] = {
            "id": name,
            "run": more.pop("run", "R"),
            "style": style,
            "station": station,
            "level": level,
            "side": side,
            "occupies": (station - 40.0, station + 40.0),
            "pieces": [key for key, piece in self.pieces.items() if piece["owner"] == name],
            "fittings": [key for key, fitting in self.fittings.items() if fitting["owner"] == name],
            **more,
        }
        for head in more.get("heads", []):
            at = next(item["at"] for item in self.given["heads"] if item["id"] == head)
            self.heads[head] = {
                "id": head,
                "served": True,
                "takeoff": name,
                "run": self.takeoffs[name]["run"],
                "style": style,
                "inlet": at,
            }

    def build(self, run: str, profile: list[tuple[float, float]], pitch: float = 0.0, **more: Any) -> None:
        """Describe a run whose takeoffs are described already."""
        own = [key for key, takeoff in self.takeoffs.items() if takeoff["run"] == run]
        self.runs[run] = {
            "id": run,
            "supply_level": profile[0][1],
            "pitch": pitch,
            "profile": [{"station": s, "level": level} for s, level in profile],
            "built_to": max((self.takeoffs[key]["station"] for key in own), default=0.0),
            "level_changes": [],
            "takeoffs": own,
            **more,
        }

    # -- figures ----------------------------------------------------------------------------

    def scenario(self) -> Scenario:
        return Scenario.model_validate(self.given)

    def counts(self) -> dict[str, Any]:
        kinds = Counter(fitting["kind"] for fitting in self.fittings.values())
        reducers = kinds["reducer"]
        for_heads = {key for key, takeoff in self.takeoffs.items() if takeoff.get("heads")}
        at_heads = [f for f in self.fittings.values() if f["owner"] in for_heads and f["kind"] != "reducer"]
        pipe: Counter[str] = Counter()
        for piece in self.pieces.values():
            if piece["kind"] not in ("barrel", "hose"):
                pipe[str(piece["dn"])] += piece["length"] / 1000.0
        served = sum(head["served"] for head in self.heads.values())
        return {
            "heads": len(self.given["heads"]),
            "served": served,
            "fittings": {kind: n for kind, n in kinds.items() if n},
            "fittings_counted": sum(kinds.values()) - reducers,
            "takeoff_fittings": len(at_heads),
            "reducers": reducers,
            "level_changes": sum(len(run["level_changes"]) for run in self.runs.values()),
            "drains": self.drains,
            "large_drains": 0,
            "wet_drains": 0,
            "price": 0.0,  # the three are put in by record(), from the low sections
            "arm_hangers": sum(takeoff.get("hangers", 0) for takeoff in self.takeoffs.values()),
            "hoses": len({p["owner"] for p in self.pieces.values() if p["kind"] == "hose"}),
            "styles": dict(Counter(self.takeoffs[key]["style"] for key in for_heads)),
            "pipe_m": dict(pipe),
            "pipe_total_m": sum(pipe.values()),
            "fittings_per_head": len(at_heads) / served if served else 0.0,
        }

    def terms(self, counts: dict[str, Any]) -> dict[str, float]:
        styles = {(t["run"], t["style"]) for t in self.takeoffs.values() if t.get("heads")}
        nominal = {run["id"]: run["elevation"] for run in self.given["runs"]}
        return {
            "unserved": counts["heads"] - counts["served"],
            "fitting": counts["fittings_counted"],
            "level_change": counts["level_changes"],
            "drain": counts["drains"],
            "large_drain": counts["large_drains"],
            "wet_drain": counts["wet_drains"],
            "hanger": counts["arm_hangers"],
            "pipe": counts["pipe_total_m"],
            "moved": sum(abs(run["supply_level"] - nominal[key]) for key, run in self.runs.items()),
            "style": len(styles),
            "reducer": counts["reducers"],
            "hose": counts["hoses"],
            "price": counts["price"],
        }

    def lows(self) -> list[LowSection]:
        """Low sections of the parts as they are, by the code that makes routes (the referee has its own)."""
        scenario = self.scenario()
        return LowSections(
            scenario,
            Tables(scenario.system.standard, scenario.rules.tables),
            [RunResult.model_validate(run) for run in self.runs.values()],
            [Takeoff.model_validate(takeoff) for takeoff in self.takeoffs.values()],
            [Piece.model_validate(piece) for piece in self.pieces.values()],
        ).find()

    def price(self, counts: dict[str, Any]) -> float:
        """Add up the price by the scenario's table, whose sizes are plain DN here."""
        table = self.given.get("prices")
        if table is None:
            return 0.0

        def each(cost: dict[str, float] | None) -> float:
            cost = cost or {}
            return float(cost.get("price", 0.0) + cost.get("minutes", 0.0) * table.get("minute", 0.0))

        total = 0.0
        for dn, metres in counts["pipe_m"].items():
            total += metres * each(table["pipe"].get(dn))
        for fitting in self.fittings.values():
            rows = table["fittings"].get(fitting["kind"], {})
            total += each(rows.get(str(max(fitting["sizes"])), rows.get("other")))
        number = {
            "hanger": counts["arm_hangers"],
            "hose": counts["hoses"],
            "drain": counts["drains"],
            "large_drain": counts["large_drains"],
            "wet_drain": counts["wet_drains"],
        }
        for name, n in number.items():
            total += n * each(table.get(name))
        return total

    def weights(self) -> dict[str, float]:
        """Return the scenario's weights; where the least price is wanted most of them are 0."""
        given = {**WEIGHTS, **self.given["weights"]}
        if not self.given.get("prices", {}).get("as_objective"):
            return given
        kept = {name: given[name] for name in ("unserved", "moved", "style")}
        return {**dict.fromkeys(WEIGHTS, 0.0), **kept, "price": given["price"] or 100.0}

    def record(self) -> dict[str, Any]:
        """The route as plain data, all figures added up."""
        lows = self.lows()
        counts = self.counts()
        counts["large_drains"] = sum(low.counts_as == "large_drain" for low in lows)
        counts["wet_drains"] = sum(low.counts_as == "wet_drain" for low in lows)
        counts["price"] = self.price(counts)
        weights = self.weights()
        terms: list[dict[str, Any]] = [
            {"name": n, "unit": UNITS[n], "amount": a, "weight": weights[n], "cost": a * weights[n]}
            for n, a in self.terms(counts).items()
        ]
        value = sum(term["cost"] for term in terms)
        return {
            "scenario": "by hand",
            "scenario_sha256": "",
            "status": "optimal",
            "objective": {"value": value, "bound": value, "gap": 0.0, "terms": terms},
            "proof": {"scope": "none", "closed_by": "hand", "candidates": 0, "levels": 0, "stations": 0},
            "counts": counts,
            "heads": list(self.heads.values()),
            "takeoffs": list(self.takeoffs.values()),
            "runs": list(self.runs.values()),
            "pieces": list(self.pieces.values()),
            "fittings": list(self.fittings.values()),
            "low_sections": [low.model_dump() for low in lows],
        }

    def route(self) -> Route:
        route = Route.model_validate(self.record())
        if not self.hang:
            return route
        return route.model_copy(update={"hangers": place_hangers(self.scenario(), route)})


def said(verdict: Verdict) -> list[Finding]:
    """All that the referee says, but that a route by hand gives no hangers."""
    return [finding for finding in verdict.findings if finding.rule != "hangers"]


def _run_pipe(draft: Draft, run: str, ends: list[Any], dn: int = 32) -> None:
    for k, (a, b) in enumerate(itertools.pairwise(ends)):
        draft.pipe(f"{run}/{k}", "run", (a, b), dn, run, run)


def line(**scenario: Any) -> Draft:
    """Three pendents on one level threaded DN32 run along +x: drop, return bend, side arm at the end.

    The run is at 3000; inlets at 2600. H2 is 500 to the left, H3 400 to the right.
    The return bend rises 120.
    """
    draft = Draft(
        {
            "runs": [{"id": "R", "plan": [(0, 0), (5000, 0)], "elevation": 3000, "size": 32}],
            "heads": [
                {"id": "H1", "at": (1000, 0, 2600)},
                {"id": "H2", "at": (3000, 500, 2600)},
                {"id": "H3", "at": (5000, -400, 2600)},
            ],
            **scenario,
        }
    )
    z = 3000.0
    draft.fit("T1/tee", "tee", (1000.0, 0.0, z), ["-x", "+x", "-z"], [32, 32, 25], "T1", "R")
    draft.fit("T1/red", "reducer", (1000.0, 0.0, 2600.0), ["+z", "-z"], [25, 15], "T1", "R")
    draft.pipe("T1/drop", "drop", ("T1/tee", "T1/red"), 25, "T1", "R")
    draft.take("T1", "straight_drop", 1000.0, "bottom", z, heads=["H1"])

    up = z + 120.0
    draft.fit("T2/tee", "tee", (3000.0, 0.0, z), ["-x", "+x", "+z"], [32, 32, 25], "T2", "R")
    draft.fit("T2/e1", "elbow_90", (3000.0, 0.0, up), ["-z", "+y"], [25, 25], "T2", "R")
    draft.fit("T2/e2", "elbow_90", (3000.0, 500.0, up), ["-y", "-z"], [25, 25], "T2", "R")
    draft.fit("T2/red", "reducer", (3000.0, 500.0, 2600.0), ["+z", "-z"], [25, 15], "T2", "R")
    draft.pipe("T2/nipple", "nipple", ("T2/tee", "T2/e1"), 25, "T2", "R")
    draft.pipe("T2/arm", "arm", ("T2/e1", "T2/e2"), 25, "T2", "R")
    draft.pipe("T2/drop", "drop", ("T2/e2", "T2/red"), 25, "T2", "R")
    draft.take("T2", "return_bend", 3000.0, "top", z, heads=["H2"], arm_level=up)

    draft.fit("T3/end", "elbow_90", (5000.0, 0.0, z), ["-x", "-y"], [32, 25], "T3", "R")
    draft.fit("T3/e1", "elbow_90", (5000.0, -400.0, z), ["+y", "-z"], [25, 25], "T3", "R")
    draft.fit("T3/red", "reducer", (5000.0, -400.0, 2600.0), ["+z", "-z"], [25, 15], "T3", "R")
    draft.pipe("T3/arm", "arm", ("T3/end", "T3/e1"), 25, "T3", "R")
    draft.pipe("T3/drop", "drop", ("T3/e1", "T3/red"), 25, "T3", "R")
    draft.take("T3", "side_arm", 5000.0, "right", z, heads=["H3"], arm_level=z, ends_run=True)

    _run_pipe(draft, "R", [(0.0, 0.0, z), "T1/tee", "T2/tee", "T3/end"])
    draft.build("R", [(0.0, z), (5000.0, z)])
    return draft


def dry_line(**scenario: Any) -> Draft:
    """Two dry pendents on a dry run, pitch 4 mm/m, that dips 300 by 45 degree elbows before them.

    H1 drops from the tee, H2 from a plugged tee at the end. The dip of 300 at
    station 1000 is trapped to the end of the run, 4000.
    """
    draft = Draft(
        {
            "system": {"kind": "dry", "heated": False},
            "runs": [{"id": "R", "plan": [(0, 0), (4000, 0)], "elevation": 3000, "size": 32}],
            "heads": [
                {"id": "H1", "at": (2500, 0, 2300), "dry": True},
                {"id": "H2", "at": (4000, 0, 2300), "dry": True},
            ],
            **scenario,
        }
    )

    def at(x: float, level: float) -> Xyz:
        return (x, 0.0, level + 0.004 * x)

    slope = _unit((300.0, 0.0, -300.0 + 0.004 * 300.0))
    back = (-slope[0], -slope[1], -slope[2])
    draft.fit("R/a", "elbow_45", at(1000.0, 3000.0), ["-x", slope], [32, 32], "R", "R")
    draft.fit("R/b", "elbow_45", at(1300.0, 2700.0), [back, "+x"], [32, 32], "R", "R")
    draft.fit("T1/tee", "tee", at(2500.0, 2700.0), ["-x", "+x", "-z"], [32, 32, 25], "T1", "R")
    draft.pipe("T1/barrel", "barrel", ("T1/tee", (2500.0, 0.0, 2300.0)), 25, "T1", "R")
    draft.take("T1", "straight_drop", 2500.0, "bottom", 2700.0, heads=["H1"])
    draft.fit("T2/tee", "tee", at(4000.0, 2700.0), ["-x", "+x", "-z"], [32, 32, 25], "T2", "R")
    draft.fit("T2/plug", "plug", at(4000.0, 2700.0), ["-x"], [32], "T2", "R")
    draft.pipe("T2/barrel", "barrel", ("T2/tee", (4000.0, 0.0, 2300.0)), 25, "T2", "R")
    draft.take("T2", "straight_drop", 4000.0, "bottom", 2700.0, heads=["H2"], ends_run=True)
    _run_pipe(draft, "R", [at(0.0, 3000.0), "R/a", "R/b", "T1/tee", "T2/tee"])
    change = {
        "id": "R/dip",
        "stations": (1000.0, 1300.0),
        "levels": (3000.0, 2700.0),
        "angle": 45,
        "at_bend": False,
        "fittings": ["R/a", "R/b"],
        "pieces": ["R/1"],
    }
    profile = [(0.0, 3000.0), (1000.0, 3000.0), (1300.0, 2700.0), (4000.0, 2700.0)]
    draft.build("R", profile, 4.0, level_changes=[change], trapped=[(1000.0, 4000.0)])
    draft.drains = 1
    return draft


def shared(**scenario: Any) -> Draft:
    """Two pendents, either side of a run's end, on one riser nipple that rises 120.

    H1 is 600 to the left, H2 450 to the right of station 2000.
    """
    draft = Draft(
        {
            "runs": [{"id": "R", "plan": [(0, 0), (2000, 0)], "elevation": 3000, "size": 32}],
            "heads": [{"id": "H1", "at": (2000, 600, 2600)}, {"id": "H2", "at": (2000, -450, 2600)}],
            **scenario,
        }
    )
    z, up = 3000.0, 3120.0
    draft.fit("T/end", "elbow_90", (2000.0, 0.0, z), ["-x", "+z"], [32, 25], "T", "R")
    draft.fit("T/tee", "tee", (2000.0, 0.0, up), ["-z", "+y", "-y"], [25, 25, 25], "T", "R")
    draft.pipe("T/nipple", "nipple", ("T/end", "T/tee"), 25, "T", "R")
    for head, y, back in (("H1", 600.0, "-y"), ("H2", -450.0, "+y")):
        draft.fit(f"T/{head}e", "elbow_90", (2000.0, y, up), [back, "-z"], [25, 25], "T", "R")
        draft.fit(f"T/{head}r", "reducer", (2000.0, y, 2600.0), ["+z", "-z"], [25, 15], "T", "R")
        draft.pipe(f"T/{head}arm", "arm", ("T/tee", f"T/{head}e"), 25, "T", "R")
        draft.pipe(f"T/{head}drop", "drop", (f"T/{head}e", f"T/{head}r"), 25, "T", "R")
    draft.take("T", "shared_nipple", 2000.0, "top", z, heads=["H1", "H2"], arm_level=up, ends_run=True)
    _run_pipe(draft, "R", [(0.0, 0.0, z), "T/end"])
    draft.build("R", [(0.0, z), (2000.0, z)])
    return draft


def tree(**scenario: Any) -> Draft:
    """A main along +x with two branches along +y: one on a riser nipple of 150, one straight on at the end.

    Each branch serves one pendent by a drop from its end elbow. DN32 all over;
    the main turns into branch C at (3000, 0), where C goes on along +x.
    """
    draft = Draft(
        {
            "runs": [
                {"id": "M", "kind": "main", "plan": [(0, 0), (3000, 0)], "elevation": 3000, "size": 32},
                {"id": "B", "plan": [(1500, 0), (1500, 2000)], "elevation": 3150, "size": 32, "supply": "M"},
                {"id": "C", "plan": [(3000, 0), (5000, 0)], "elevation": 3000, "size": 32, "supply": "M"},
            ],
            "heads": [{"id": "H1", "at": (1500, 2000, 2600)}, {"id": "H2", "at": (5000, 0, 2600)}],
            **scenario,
        }
    )
    z, up = 3000.0, 3150.0
    draft.fit("TB/tee", "tee", (1500.0, 0.0, z), ["-x", "+x", "+z"], [32, 32, 32], "TB", "M")
    draft.fit("TB/e", "elbow_90", (1500.0, 0.0, up), ["-z", "+y"], [32, 32], "TB", "M")
    draft.pipe("TB/nipple", "nipple", ("TB/tee", "TB/e"), 32, "TB", "M")
    draft.take("TB", "run_takeoff", 1500.0, "top", z, run="M", child_runs=["B"])
    draft.take("TC", "run_takeoff", 3000.0, "end", z, run="M", child_runs=["C"], ends_run=True)
    _run_pipe(draft, "M", [(0.0, 0.0, z), "TB/tee", (3000.0, 0.0, z)])
    for run, head, at, back in (("B", "H1", (1500.0, 2000.0, up), "-y"), ("C", "H2", (5000.0, 0.0, z), "-x")):
        name = f"T{head}"
        inlet = (at[0], at[1], 2600.0)
        draft.fit(f"{name}/e", "elbow_90", at, [back, "-z"], [32, 25], name, run)
        draft.fit(f"{name}/r", "reducer", inlet, ["+z", "-z"], [25, 15], name, run)
        draft.pipe(f"{name}/drop", "drop", (f"{name}/e", f"{name}/r"), 25, name, run)
        draft.take(name, "straight_drop", 2000.0, "bottom", at[2], run=run, heads=[head], ends_run=True)
    _run_pipe(draft, "B", ["TB/e", "TH1/e"])
    _run_pipe(draft, "C", [(3000.0, 0.0, z), "TH2/e"])
    draft.build("M", [(0.0, z), (3000.0, z)])
    draft.build("B", [(0.0, up), (2000.0, up)])
    draft.build("C", [(0.0, z), (2000.0, z)])
    return draft


def welded(apart: float = 400.0, **scenario: Any) -> Draft:
    """Two side arms from welded outlets on one uncut run, ``apart`` along it, then a drop at its end."""
    first, second, end = 1000.0, 1000.0 + apart, 3000.0 + apart
    draft = Draft(
        {
            "system": {"joining": "welded"},
            "runs": [{"id": "R", "plan": [(0, 0), (end, 0)], "elevation": 3000, "size": 32}],
            "heads": [
                {"id": "H1", "at": (first, 400, 2600)},
                {"id": "H2", "at": (second, -400, 2600)},
                {"id": "H3", "at": (end, 0, 2600)},
            ],
            **scenario,
        }
    )
    z = 3000.0
    for name, head, x, y, way, back in (
        ("T1", "H1", first, 400.0, "+y", "-y"),
        ("T2", "H2", second, -400.0, "-y", "+y"),
    ):
        draft.fit(f"{name}/o", "outlet", (x, 0.0, z), [way], [25], name, "R")
        draft.fit(f"{name}/e", "elbow_90", (x, y, z), [back, "-z"], [25, 25], name, "R")
        draft.fit(f"{name}/r", "reducer", (x, y, 2600.0), ["+z", "-z"], [25, 15], name, "R")
        draft.pipe(f"{name}/arm", "arm", (f"{name}/o", f"{name}/e"), 25, name, "R")
        draft.pipe(f"{name}/drop", "drop", (f"{name}/e", f"{name}/r"), 25, name, "R")
        side = "left" if y > 0 else "right"
        draft.take(name, "side_arm", x, side, z, heads=[head], arm_level=z)
    draft.fit("T3/e", "elbow_90", (end, 0.0, z), ["-x", "-z"], [32, 25], "T3", "R")
    draft.fit("T3/r", "reducer", (end, 0.0, 2600.0), ["+z", "-z"], [25, 15], "T3", "R")
    draft.pipe("T3/drop", "drop", ("T3/e", "T3/r"), 25, "T3", "R")
    draft.take("T3", "straight_drop", end, "bottom", z, heads=["H3"], ends_run=True)
    draft.pipe("R/0", "run", ((0.0, 0.0, z), "T3/e"), 32, "R", "R")
    # The elbow on a welded run: long radius, 1-7/8 in. to either end (ASME B16.9), not threaded.
    draft.pieces["R/0"]["make_up"] = end - 1.88 * IN
    draft.pieces["T3/drop"]["make_up"] = 400.0 - (1.88 + 1.69 - 2 * 0.661) * IN
    draft.build("R", [(0.0, z), (end, z)])
    return draft


def _unit(v: Xyz) -> Xyz:
    length = sqrt(sum(c * c for c in v))
    return (v[0] / length, v[1] / length, v[2] / length)
