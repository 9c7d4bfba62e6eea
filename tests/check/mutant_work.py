"""What the mutations of routes work on: a scenario and a route as plain data that may be spoilt.

Nothing here asks the referee or the router anything: lengths, figures and sums are added up
again in this file, so that a mutation can be told with all its books kept in order and only the
rule that it really breaks can find it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from math import cos, dist, hypot, radians, sin
from typing import TYPE_CHECKING, Any

from router.route.model import Route
from router.scenario.model import Scenario

if TYPE_CHECKING:
    import random
    from collections.abc import Iterable

Record = dict[str, Any]
Xyz = tuple[float, float, float]
SAME_MM = 0.01
NOT_PIPE = ("barrel", "hose")


@dataclass(frozen=True)
class Case:
    """A clean route and its scenario."""

    name: str
    scenario: Scenario
    route: Route


@dataclass(frozen=True)
class Claim:
    """What a mutation did, by construction.

    ``breaks``: it breaks a rule, or provably none. ``rules``: ids of which at least one must be
    among the findings (empty: any).
    """

    breaks: bool
    why: str
    rules: frozenset[str] = frozenset()


def broken(why: str, *rules: str) -> Claim:
    """Claim that a rule is broken."""
    return Claim(True, why, frozenset(rules))


def harmless(why: str) -> Claim:
    """Claim that nothing is broken."""
    return Claim(False, why)


def plus(a: Xyz, b: Xyz, times: float = 1.0) -> Xyz:
    """Return ``a + times * b``."""
    return (a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2])


def towards(a: Xyz, b: Xyz) -> Xyz:
    """Return the unit vector from ``a`` to ``b``."""
    length = dist(a, b)
    return ((b[0] - a[0]) / length, (b[1] - a[1]) / length, (b[2] - a[2]) / length)


def around(rng: random.Random) -> Xyz:
    """Return a level unit vector."""
    turn = radians(rng.uniform(0.0, 360.0))
    return (cos(turn), sin(turn), 0.0)


def flat(a: Xyz, b: Xyz) -> float:
    """Plan distance."""
    return hypot(a[0] - b[0], a[1] - b[1])


@dataclass
class Work:
    """A copy of a case that a mutation may change as it likes."""

    case: Case
    scenario: Record = field(init=False)
    route: Record = field(init=False)
    mouths: dict[tuple[str, int], tuple[str, int]] = field(init=False)
    """(fitting, opening) -> (piece, end) that is in it, as the route was made."""

    def __post_init__(self) -> None:
        self.scenario = self.case.scenario.model_dump()
        self.route = self.case.route.model_dump()
        self.mouths = {}
        for piece in self.pieces:
            for end, name in enumerate(piece["fittings"]):
                fitting = self.fitting(name) if name else None
                if fitting is None or piece["length"] < SAME_MM:
                    continue
                way = towards(piece[("start", "end")[end]], piece[("end", "start")[end]])
                dots = [sum(x * y for x, y in zip(way, d, strict=True)) for d in fitting["directions"]]
                self.mouths[name, dots.index(max(dots))] = (piece["id"], end)

    # -- look-ups ---------------------------------------------------------------------------

    @property
    def pieces(self) -> list[Record]:
        return self.route["pieces"]  # type: ignore[no-any-return]

    @property
    def fittings(self) -> list[Record]:
        return self.route["fittings"]  # type: ignore[no-any-return]

    @property
    def takeoffs(self) -> list[Record]:
        return self.route["takeoffs"]  # type: ignore[no-any-return]

    @property
    def runs(self) -> list[Record]:
        return self.route["runs"]  # type: ignore[no-any-return]

    @property
    def heads(self) -> list[Record]:
        return self.route["heads"]  # type: ignore[no-any-return]

    def piece(self, name: str) -> Record:
        return next(p for p in self.pieces if p["id"] == name)

    def fitting(self, name: str) -> Record | None:
        return next((f for f in self.fittings if f["id"] == name), None)

    def takeoff(self, name: str) -> Record:
        return next(t for t in self.takeoffs if t["id"] == name)

    def head(self, name: str) -> Record:
        return next(h for h in self.heads if h["id"] == name)

    def given_head(self, name: str) -> Record:
        return next(h for h in self.scenario["heads"] if h["id"] == name)

    def given_run(self, name: str) -> Record:
        return next(r for r in self.scenario["runs"] if r["id"] == name)

    def ends_at(self, place: Xyz) -> list[tuple[Record, str]]:
        """Piece ends at a place."""
        return [(p, e) for p in self.pieces for e in ("start", "end") if dist(p[e], place) <= SAME_MM]

    def uncut(self, run: str) -> bool:
        """Whether outlets sit on the pipe of a run instead of cutting it."""
        return self.joining(run) in ("welded", "grooved")

    def joining(self, run: str) -> str:
        """How a run is joined: as given, or by its size at its supply end."""
        joining: str | list[Record] = self.given_run(run)["joining"] or self.scenario["system"]["joining"]
        if isinstance(joining, str):
            return joining
        largest = max((p["dn"] for p in self.pieces if p["kind"] == "run" and p["run"] == run), default=0)
        return next(str(j["joining"]) for j in joining if j["up_to"] is None or largest <= j["up_to"])

    def run_fitting(self, takeoff: Record) -> Record | None:
        """The takeoff's fitting on its run: the one at its station, found by the run pipe there."""
        pipe = [p for p in self.pieces if p["kind"] == "run" and p["run"] == takeoff["run"]]
        for name in takeoff["fittings"]:
            fitting = self.fitting(name)
            if fitting is None or fitting["kind"] in ("plug", "cap", "reducer"):
                continue
            if fitting["kind"] == "outlet":
                return fitting
            if any(name in p["fittings"] for p in pipe):
                return fitting
        return None

    def on_a_run(self, fitting: Record) -> bool:
        """Whether run pipe meets a fitting, or it sits on it."""
        return fitting["kind"] == "outlet" or any(
            p["kind"] == "run" and fitting["id"] in p["fittings"] for p in self.pieces
        )

    def neighbours(self, fitting: Record) -> list[tuple[Record, int]]:
        """Pieces that name a fitting, with the end that does."""
        return [(p, k) for p in self.pieces for k in (0, 1) if p["fittings"][k] == fitting["id"]]

    # -- changes ----------------------------------------------------------------------------

    def carry(self, place: Xyz, by: Xyz) -> None:
        """Move every fitting and piece end that is at a place."""
        for piece, end in self.ends_at(place):
            piece[end] = plus(piece[end], by)
        for fitting in self.fittings:
            if dist(fitting["at"], place) <= SAME_MM:
                fitting["at"] = plus(fitting["at"], by)

    def keep(self) -> None:
        """Put all the books in order: directions, sizes of openings, lengths, counts, objective."""
        self.keep_openings()
        self.keep_lengths()
        self.keep_counts()
        self.keep_objective()

    def keep_openings(self) -> None:
        """Let openings point along the pipes that are in them, in the pipes' size."""
        pieces = {p["id"]: p for p in self.pieces}
        for fitting in self.fittings:
            for k in range(len(fitting["directions"])):
                name, end = self.mouths.get((fitting["id"], k), ("", 0))
                piece = pieces.get(name)
                if piece is not None and dist(piece["start"], piece["end"]) > SAME_MM:
                    ways = (piece["start"], piece["end"])
                    fitting["directions"][k] = towards(ways[end], ways[1 - end])
                    if piece["kind"] not in NOT_PIPE:
                        fitting["sizes"][k] = piece["dn"]

    def keep_lengths(self) -> None:
        """Write lengths anew; make-up changes by as much, since the take-outs stay."""
        for piece in self.pieces:
            length = dist(piece["start"], piece["end"])
            piece["make_up"] += length - piece["length"]
            piece["length"] = length

    def keep_counts(self) -> None:
        """Count everything anew, price and all (drains stay: they follow from the profiles)."""
        counts = self.route["counts"]
        kinds = Counter(f["kind"] for f in self.fittings)
        of_heads = {t["id"] for t in self.takeoffs if t["heads"]}
        counts["heads"] = len(self.scenario["heads"])
        counts["served"] = sum(h["served"] for h in self.heads)
        counts["fittings"] = dict(sorted(kinds.items()))
        counts["reducers"] = kinds["reducer"]
        counts["fittings_counted"] = sum(kinds.values()) - kinds["reducer"]
        own = sum(f["owner"] in of_heads and f["kind"] != "reducer" for f in self.fittings)
        counts["takeoff_fittings"] = own
        counts["fittings_per_head"] = own / counts["served"] if counts["served"] else 0.0
        counts["level_changes"] = sum(len(r["level_changes"]) for r in self.runs)
        counts["arm_hangers"] = sum(t["hangers"] for t in self.takeoffs)
        counts["hoses"] = len({p["owner"] for p in self.pieces if p["kind"] == "hose"})
        counts["styles"] = dict(sorted(Counter(t["style"] for t in self.takeoffs if t["heads"]).items()))
        metres: Counter[str] = Counter()
        for piece in self.pieces:
            if piece["kind"] not in NOT_PIPE:
                metres[str(piece["dn"])] += piece["length"] / 1000.0
        counts["pipe_m"] = dict(metres)
        counts["pipe_total_m"] = sum(metres.values())
        self.keep_price()

    def keep_drains(self) -> None:
        """Count the drains that the route's low sections are said to have."""
        counts = self.route["counts"]
        terms = Counter(low["counts_as"] for low in self.route["low_sections"])
        counts["drains"] = terms["drain"] + terms["large_drain"]
        counts["large_drains"], counts["wet_drains"] = terms["large_drain"], terms["wet_drain"]

    def keep_price(self) -> None:
        """Add the price up anew, labour included; the tables of our cases have plain DN for sizes."""
        table, counts = self.scenario["prices"], self.route["counts"]
        if table is None:
            return
        nothing: Record = {"price": 0.0, "minutes": 0.0}
        costs = [(table["pipe"].get(dn, nothing), metres) for dn, metres in counts["pipe_m"].items()]
        for fitting in self.fittings:
            rows = table["fittings"].get(fitting["kind"], {})
            costs.append((rows.get(str(max(fitting["sizes"])), rows.get("other", nothing)), 1))
        costs += [
            (table["hanger"], counts["arm_hangers"]),
            (table["hose"], counts["hoses"]),
            (table["drain"], counts["drains"]),
            (table["large_drain"], counts["large_drains"]),
            (table["wet_drain"], counts["wet_drains"]),
        ]
        counts["price"] = sum((c["price"] + c["minutes"] * table["minute"]) * n for c, n in costs)

    def keep_objective(self) -> None:
        """Write amounts and costs anew; a route that was changed claims no proof."""
        counts, objective = self.route["counts"], self.route["objective"]
        nominal = {r["id"]: r["elevation"] for r in self.scenario["runs"]}
        amounts = {
            "unserved": counts["heads"] - counts["served"],
            "fitting": counts["fittings_counted"],
            "level_change": counts["level_changes"],
            "drain": counts["drains"],
            "large_drain": counts["large_drains"],
            "wet_drain": counts["wet_drains"],
            "hanger": counts["arm_hangers"],
            "pipe": counts["pipe_total_m"],
            "moved": sum(abs(r["supply_level"] - nominal.get(r["id"], 0.0)) for r in self.runs),
            "style": len({(t["run"], t["style"]) for t in self.takeoffs if t["heads"]}),
            "reducer": counts["reducers"],
            "hose": counts["hoses"],
            "price": counts["price"],
        }
        for term in objective["terms"]:
            term["amount"] = amounts[term["name"]]
            term["cost"] = term["amount"] * term["weight"]
            term["least"] = None
        objective["value"] = sum(term["cost"] for term in objective["terms"])
        objective["bound"] = min(objective["bound"], objective["value"])
        objective["gap"] = objective["value"] - objective["bound"]
        self.route["status"] = "feasible"

    def forget(self, kind: str, names: Iterable[str]) -> None:
        """Take pieces or fittings out, and out of every list that names them."""
        gone = set(names)
        self.route[kind] = [item for item in self.route[kind] if item["id"] not in gone]
        holders = [*self.takeoffs, *(c for r in self.runs for c in r["level_changes"])]
        for holder in holders:
            holder[kind] = [name for name in holder[kind] if name not in gone]
        if kind == "fittings":
            for piece in self.pieces:
                piece["fittings"] = tuple(None if name in gone else name for name in piece["fittings"])

    def made(self) -> tuple[Scenario, Route]:
        """Return the records again."""
        return Scenario.model_validate(self.scenario), Route.model_validate(self.route)
