"""Mutations that provably break nothing: other names, another order, another frame, laxer limits."""

from __future__ import annotations

from math import cos, dist, radians, sin
from typing import TYPE_CHECKING, Any

from mutant_work import SAME_MM, Claim, Work, Xyz, around, harmless, plus

if TYPE_CHECKING:
    import random
    from collections.abc import Callable

POINTS = ("at", "start", "end", "inlet", "lowest")
WITHIN_MM = 0.04
"""Less than half the slack of 0.1 mm on every compared length."""


def _renamed(value: Any, names: dict[str, str]) -> Any:
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, dict):
        return {key: _renamed(item, names) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return type(value)([_renamed(item, names) for item in value])
    return value


def renamed_parts(work: Work, rng: random.Random) -> Claim | None:
    """Give every pipe, fitting, takeoff and level change another id, wherever it is named."""
    names = {
        item["id"]: f"n{rng.randrange(10**9)}x{k}"
        for k, item in enumerate(
            [
                *work.pieces,
                *work.fittings,
                *work.takeoffs,
                *(c for r in work.runs for c in r["level_changes"]),
            ]
        )
    }
    for kind in ("pieces", "fittings", "takeoffs", "runs", "heads", "hangers", "low_sections"):
        work.route[kind] = _renamed(work.route[kind], names)
    return harmless("names only")


def renamed_givens(work: Work, rng: random.Random) -> Claim | None:
    """Give runs, heads and obstructions other ids in scenario and route."""
    kinds = ("runs", "heads", "obstructions", "ceilings")
    items = [item for kind in kinds for item in work.scenario[kind]]
    names = {item["id"]: f"g{rng.randrange(10**9)}x{k}" for k, item in enumerate(items)}
    for kind in kinds:
        work.scenario[kind] = _renamed(work.scenario[kind], names)
    for pins in work.scenario["pins"].values():
        for key in list(pins):
            pins[names.get(key, key)] = _renamed(pins.pop(key), names)
    for kind in ("pieces", "fittings", "takeoffs", "runs", "heads", "hangers", "low_sections"):
        work.route[kind] = _renamed(work.route[kind], names)
    return harmless("names only")


def reordered(work: Work, rng: random.Random) -> Claim | None:
    """Shuffle every list whose order means nothing, openings of fittings with their sizes."""
    for kind in ("pieces", "fittings", "takeoffs", "runs", "heads"):
        rng.shuffle(work.route[kind])
    for kind in ("runs", "heads", "obstructions"):
        rng.shuffle(work.scenario[kind])
    rng.shuffle(work.route["objective"]["terms"])
    for takeoff in work.takeoffs:
        for key in ("heads", "child_runs", "pieces", "fittings"):
            rng.shuffle(takeoff[key])
    for run in work.runs:
        rng.shuffle(run["takeoffs"])
    for fitting in work.fittings:
        order = list(range(len(fitting["directions"])))
        rng.shuffle(order)
        fitting["directions"] = [fitting["directions"][k] for k in order]
        fitting["sizes"] = [fitting["sizes"][k] for k in order]
    return harmless("order only")


def turned_round(work: Work, rng: random.Random) -> Claim | None:
    """Write some pipes from their other end."""
    for piece in work.pieces:
        if rng.random() < 0.4:
            piece["start"], piece["end"] = piece["end"], piece["start"]
            piece["fittings"] = piece["fittings"][::-1]
    return harmless("a pipe has no direction")


def _moved(work: Work, point: Callable[[Xyz], Xyz], way: Callable[[Xyz], Xyz], up: float) -> None:
    """Bring scenario and route into another frame; ``up`` is what levels gain."""

    def flat(p: tuple[float, float]) -> tuple[float, float]:
        return point((p[0], p[1], 0.0))[:2]

    parts = [*work.pieces, *work.fittings, *work.heads, *work.route["hangers"], *work.route["low_sections"]]
    for item in [*parts, *work.scenario["heads"]]:
        for key in POINTS:
            if key in item:
                item[key] = point(item[key])
    for fitting in work.fittings:
        fitting["directions"] = [way(d) for d in fitting["directions"]]
    for item in [*work.scenario["obstructions"], *work.scenario["ceilings"]]:
        item["polygon"] = [flat(p) for p in item["polygon"]]
        if "elevations" in item:
            item["elevations"] = tuple(z + up for z in item["elevations"])
        else:
            item["elevation"] += up
    for run in work.scenario["runs"]:
        run["plan"] = [flat(p) for p in run["plan"]]
        run["elevation"] += up
        run["band"] = run["band"] and tuple(z + up for z in run["band"])
        if run["supply_elevation"] is not None:
            run["supply_elevation"] += up
    for takeoff in work.takeoffs:
        takeoff["level"] += up
        if takeoff["arm_level"] is not None:
            takeoff["arm_level"] += up
    for run in work.runs:
        run["supply_level"] += up
        for corner in run["profile"]:
            corner["level"] += up
        for change in run["level_changes"]:
            change["levels"] = tuple(z + up for z in change["levels"])


def shifted(work: Work, rng: random.Random) -> Claim | None:
    """Move scenario and route together."""
    by = (rng.uniform(-9e4, 9e4), rng.uniform(-9e4, 9e4), rng.uniform(-9e3, 9e3))
    _moved(work, lambda p: plus(p, by), lambda d: d, by[2])
    return harmless("the same building elsewhere")


def rotated(work: Work, rng: random.Random) -> Claim | None:
    """Turn scenario and route together about the origin."""
    turn = rng.uniform(0.0, 360.0)
    c, s = cos(radians(turn)), sin(radians(turn))

    def round_it(p: Xyz) -> Xyz:
        return (c * p[0] - s * p[1], s * p[0] + c * p[1], p[2])

    _moved(work, round_it, round_it, 0.0)
    for head in work.scenario["heads"]:
        if head["facing"] is not None:
            head["facing"] += turn
    return harmless("the same building turned")


def mirrored(work: Work, rng: random.Random) -> Claim | None:
    """Mirror scenario and route: left is right."""

    def mirror(p: Xyz) -> Xyz:
        return (-p[0], p[1], p[2])

    _moved(work, mirror, mirror, 0.0)
    other = {"left": "right", "right": "left"}
    for head in work.scenario["heads"]:
        if head["facing"] is not None:
            head["facing"] = 180.0 - head["facing"]
    for pin in work.scenario["pins"]["heads"].values():
        pin["side"] = other.get(pin["side"], pin["side"])
    for takeoff in work.takeoffs:
        takeoff["side"] = other.get(takeoff["side"], takeoff["side"])
    return harmless("the same building in a mirror")


def laxer(work: Work, rng: random.Random) -> Claim | None:
    """Ask for less: fewer obstructions, smaller clearances, more reach, wider bands."""
    rules = work.scenario["rules"]
    for item in list(work.scenario["obstructions"]):
        if rng.random() < 0.3:
            work.scenario["obstructions"].remove(item)
        elif item["clearance"] is not None:
            item["clearance"] *= rng.random()
    for name in ("clearance", "piece_clearance", "ceiling_clearance", "working_allowance"):
        rules[name] *= rng.random()
    rules["reach"] += 1000.0
    for run in work.scenario["runs"]:
        low, high = run["band"] or (run["elevation"] - 300.0, run["elevation"] + 300.0)
        run["band"] = (low - 50.0, high + 50.0)
    there = {item["id"] for item in work.scenario["obstructions"]}
    for hanger in work.route["hangers"]:
        if hanger["structure"] not in there:
            hanger["structure"] = hanger["rod"] = None
    return harmless("every limit is as it was or laxer")


def far_obstruction(work: Work, rng: random.Random) -> Claim | None:
    """Put an obstruction 10 m above everything."""
    top = max(z for p in work.pieces for z in (p["start"][2], p["end"][2])) + 10_000.0
    x, y, _ = rng.choice(work.pieces)["start"]
    corners = [(x - 500, y - 500), (x + 500, y - 500), (x + 500, y + 500), (x - 500, y + 500)]
    item = {"id": "far", "kind": "beam", "polygon": corners, "elevations": (top, top + 500.0)}
    work.scenario["obstructions"].append({**item, "clearance": 500.0})
    return harmless("nothing is near it")


def within_tolerance(work: Work, rng: random.Random) -> Claim | None:
    """Move a fitting with its pipe ends by less than half the slack; nothing else is written anew."""
    fitting = rng.choice(work.fittings)
    if any(dist(h["inlet"], fitting["at"]) <= SAME_MM for h in work.heads):
        return None
    by = plus((0.0, 0.0, 0.0), rng.choice([around(rng), (0.0, 0.0, 1.0)]), WITHIN_MM)
    work.carry(fitting["at"], by)
    return harmless(f"{WITHIN_MM} mm are within every slack")


def weak_bound(work: Work, rng: random.Random) -> Claim | None:
    """Claim less: a lower bound, and no optimum."""
    objective = work.route["objective"]
    objective["bound"] -= rng.uniform(10.0, 5000.0)
    objective["gap"] = objective["value"] - objective["bound"]
    work.route["status"] = "feasible"
    return harmless("a weaker claim is still true")


def other_remarks(work: Work, rng: random.Random) -> Claim | None:
    """Change what is only said: names, reasons, scope of the proof, versions."""
    work.route["proof"]["scope"] = "another scope"
    work.route["versions"] = {"another": "1"}
    work.route["seed"] = rng.randrange(100)
    work.scenario["story"] = "another story"
    for run in work.runs:
        for change in run["level_changes"]:
            change["reason"] = "because"
    return harmless("remarks only")


def repriced(work: Work, rng: random.Random) -> Claim | None:
    """Give other prices, the sum and the objective follow."""
    table = work.scenario["prices"]
    if table is None:
        return None
    costs = [*table["pipe"].values(), *(c for rows in table["fittings"].values() for c in rows.values())]
    for cost in costs:
        cost["price"] += rng.uniform(0.0, 50.0)
    table["minute"] += rng.random()
    work.keep_counts()
    work.keep_objective()
    return harmless("the sum is right by the other prices")


def head_left_out(work: Work, rng: random.Random) -> Claim | None:
    """Leave a takeoff out altogether and call its heads unserved: worse, yet against no rule."""
    choices = []
    for takeoff in work.takeoffs:
        fitting = work.run_fitting(takeoff)
        if takeoff["ends_run"] or not takeoff["heads"] or fitting is None:
            continue
        run = [p for p, _ in work.neighbours(fitting) if p["kind"] == "run"]
        if fitting["kind"] == "outlet" or (len(run) == 2 and run[0]["dn"] == run[1]["dn"]):
            choices.append((takeoff, fitting, run))
    if not choices:
        return None
    takeoff, fitting, run = rng.choice(choices)
    if fitting["kind"] != "outlet":
        _merge(work, fitting["id"], run[0]["id"], run[1]["id"])
    for name in takeoff["heads"]:
        head = work.head(name)
        head.update(served=False, takeoff=None, run=None, style=None, inlet=work.given_head(name)["at"])
    work.forget("pieces", [p["id"] for p in work.pieces if p["owner"] == takeoff["id"]])
    work.forget("fittings", [f["id"] for f in work.fittings if f["owner"] == takeoff["id"]])
    work.takeoffs.remove(takeoff)
    for built in work.runs:
        built["takeoffs"] = [name for name in built["takeoffs"] if name != takeoff["id"]]
    work.route["hangers"] = []  # they would have to be placed anew
    work.keep_counts()
    work.keep_objective()
    return harmless(f"{takeoff['heads']} are listed as unserved")


def _merge(work: Work, fitting: str, first: str, second: str) -> None:
    """Make one pipe of the two on either side of a tee that goes."""
    a, b = work.piece(first), work.piece(second)
    ends = []
    for piece in (a, b):
        k = 1 - piece["fittings"].index(fitting)
        ends.append((piece[("start", "end")[k]], piece["fittings"][k]))
    # both make-ups miss a take-out of the tee less an engagement; that pipe end is whole again
    tee_a, tee_b = (_tee_loss(work, piece, fitting) for piece in (a, b))
    a["start"], a["end"] = ends[0][0], ends[1][0]
    a["fittings"] = (ends[0][1], ends[1][1])
    a["length"] = dist(a["start"], a["end"])
    a["make_up"] = a["make_up"] + b["make_up"] + tee_a + tee_b
    work.forget("pieces", [second])


def _tee_loss(work: Work, piece: dict[str, Any], fitting: str) -> float:
    """Take-out less engagement that the tee cost a pipe: from a pipe between two like tees, else by table.

    ASME B16.3 and thread engagement by way of the trade tables (their own tests check them).
    """
    from router.trade.tables import Tables

    record = next(f for f in work.case.route.fittings if f.id == fitting)
    joining = work.joining(piece["run"])
    tables = Tables(work.scenario["system"]["standard"], work.scenario["rules"]["tables"])
    out = tables.take_out("tee", "run", piece["dn"], min(record.sizes), joining=joining)
    return out - tables.engagement(piece["dn"], joining=joining)


HARMLESS = {
    "parts renamed": renamed_parts,
    "givens renamed": renamed_givens,
    "lists reordered": reordered,
    "pipes written from the other end": turned_round,
    "all shifted": shifted,
    "all rotated": rotated,
    "all mirrored": mirrored,
    "limits laxer": laxer,
    "prices changed with their sum": repriced,
    "far obstruction": far_obstruction,
    "moved within the tolerance": within_tolerance,
    "weaker bound": weak_bound,
    "other remarks": other_remarks,
    "head left out and listed": head_left_out,
}
