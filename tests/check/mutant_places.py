"""Mutations of places: everything is still written down rightly, but stands where it must not."""

from __future__ import annotations

from itertools import pairwise
from math import cos, dist, hypot, radians, sin
from typing import TYPE_CHECKING

import shapely
from mutant_work import SAME_MM, Claim, Record, Work, Xyz, around, broken, flat, plus, towards

if TYPE_CHECKING:
    import random

STEP = 30.0
"""How far things are moved, mm: ten times any slack that a rule allows."""
UPRIGHT_MM = 1.0
OVERLAP_MM = 40.0
"""Two tees of the smallest run size (DN25: 1.5 in. centre to end, ASME B16.3) overlap at this distance."""


def aside(way: Xyz) -> Xyz:
    """Return the level unit vector square to a way."""
    length = hypot(way[0], way[1])
    return (-way[1] / length, way[0] / length, 0.0)


def upright(piece: Record) -> bool:
    return flat(piece["start"], piece["end"]) < UPRIGHT_MM


def level(piece: Record) -> bool:
    return bool(abs(piece["start"][2] - piece["end"][2]) < UPRIGHT_MM)


def pipe_across(work: Work, rng: random.Random) -> Claim | None:
    """Move a pipe 30 mm square to its axis, its fittings stay."""
    piece = rng.choice([p for p in work.pieces if any(p["fittings"])])
    way = towards(piece["start"], piece["end"])
    by = around(rng) if upright(piece) else rng.choice([aside(way), (0.0, 0.0, 1.0)])
    for end in ("start", "end"):
        piece[end] = plus(piece[end], by, STEP)
    work.keep()
    return broken(f"{piece['id']} no longer meets its fittings", "connected", "served")


def pipe_along(work: Work, rng: random.Random) -> Claim | None:
    """Move a pipe 30 mm along its axis, its fittings stay."""
    piece = rng.choice([p for p in work.pieces if any(p["fittings"])])
    way = towards(piece["start"], piece["end"])
    times = rng.choice((-STEP, STEP))
    for end in ("start", "end"):
        piece[end] = plus(piece[end], way, times)
    work.keep()
    return broken(f"{piece['id']} no longer meets its fittings", "connected", "served")


def elbow_with_pipes(work: Work, rng: random.Random) -> Claim | None:
    """Move a fitting off the run 30 mm with the pipe ends in it: a drop leans or an arm slopes."""
    choices = []
    for fitting in work.fittings:
        if fitting["kind"] in ("plug", "cap", "reducer") or work.on_a_run(fitting):
            continue
        for piece, _ in work.neighbours(fitting):
            choices += [(fitting, "flat")] if upright(piece) else []
            choices += [(fitting, "up")] if level(piece) and piece["kind"] == "arm" else []
    if not choices:
        return None
    fitting, how = rng.choice(choices)
    by = around(rng) if how == "flat" else (0.0, 0.0, rng.choice((-1.0, 1.0)))
    work.carry(fitting["at"], plus((0.0, 0.0, 0.0), by, STEP))
    work.keep()
    return broken(f"a pipe at {fitting['id']} is neither level nor upright", "square")


def run_fitting_aside(work: Work, rng: random.Random) -> Claim | None:
    """Move a fitting on a run 30 mm up, down or aside with all pipe ends in it."""
    choices = [
        (f, p)
        for f in work.fittings
        for p, _ in work.neighbours(f)
        if p["kind"] == "run" and p["run"] == f["run"] and not upright(p)
    ]
    if not choices:
        return None
    fitting, piece = rng.choice(choices)
    way = towards(piece["start"], piece["end"])
    by = rng.choice([aside(way), (0.0, 0.0, 1.0)])
    work.carry(fitting["at"], plus((0.0, 0.0, 0.0), by, rng.choice((-STEP, STEP))))
    work.keep()
    return broken(f"run pipe at {fitting['id']} is off its plan or profile", "band")


def run_fitting_along(work: Work, rng: random.Random) -> Claim | None:
    """Slide the fitting on the run 30 mm under an upright pipe: that leans."""
    choices = []
    for takeoff in work.takeoffs:
        fitting = work.run_fitting(takeoff)
        if takeoff["ends_run"] or fitting is None or work.uncut(takeoff["run"]):
            continue
        own = [p for p, _ in work.neighbours(fitting) if p["owner"] == takeoff["id"]]
        runs = [p for p, _ in work.neighbours(fitting) if p["kind"] == "run" and p["run"] == takeoff["run"]]
        if own and runs and upright(own[0]):
            choices.append((takeoff, fitting, runs[0]))
    if not choices:
        return None
    takeoff, fitting, piece = rng.choice(choices)
    way = towards(piece["start"], piece["end"])
    times = rng.choice((-STEP, STEP))
    work.carry(fitting["at"], plus((0.0, 0.0, 0.0), way, times))
    takeoff["station"] += times
    takeoff["occupies"] = tuple(s + times for s in takeoff["occupies"])
    work.keep()
    return broken(f"the pipe over or under {fitting['id']} leans", "square", "served")


def inlet(work: Work, rng: random.Random) -> Claim | None:
    """Write a head's inlet 30 mm off; the pipe stays."""
    head = rng.choice([h for h in work.heads if h["served"]])
    if work.given_head(head["id"])["shift"] >= STEP:
        return None
    by = rng.choice([around(rng), (0.0, 0.0, 1.0)])
    head["inlet"] = plus(head["inlet"], by, STEP)
    return broken(f"{head['id']} is fixed, and no pipe ends there", "served")


def drop_and_inlet(work: Work, rng: random.Random) -> Claim | None:
    """Move a head, its drop and the fitting above it 30 mm along its arm: all fits but the head's place."""
    choices = []
    for head in work.heads:
        if not head["served"] or work.given_head(head["id"])["shift"] >= STEP:
            continue
        for piece, end in work.ends_at(head["inlet"]):
            other = "start" if end == "end" else "end"
            top = next((f for f in work.fittings if dist(f["at"], piece[other]) <= SAME_MM), None)
            if top is not None and not work.on_a_run(top) and upright(piece):
                arms = [p for p, _ in work.neighbours(top) if level(p) and p["kind"] == "arm"]
                choices += [(head, top, arm) for arm in arms]
    if not choices:
        return None
    head, top, arm = rng.choice(choices)
    ends = sorted((arm["start"], arm["end"]), key=lambda p: dist(p, top["at"]))
    by = plus((0.0, 0.0, 0.0), towards(ends[1], ends[0]), STEP)
    work.carry(top["at"], by)
    work.carry(head["inlet"], by)
    head["inlet"] = plus(head["inlet"], by)
    work.keep()
    return broken(f"{head['id']} stands {STEP:g} mm from its place", "served")


def drop_short(work: Work, rng: random.Random) -> Claim | None:
    """End a drop 30 mm short of the head, with or without moving the head's inlet along."""
    choices = [
        (h, p, e) for h in work.heads if h["served"] for p, e in work.ends_at(h["inlet"]) if upright(p)
    ]
    if not choices:
        return None
    head, piece, end = rng.choice(choices)
    other = "start" if end == "end" else "end"
    by = plus((0.0, 0.0, 0.0), towards(piece[end], piece[other]), STEP)
    work.carry(head["inlet"], by)
    if rng.random() < 0.5:
        head["inlet"] = plus(head["inlet"], by)
    work.keep()
    return broken(f"the pipe ends {STEP:g} mm from {head['id']}", "served")


def lift(work: Work, up: float) -> None:
    """Raise the whole route, the heads' inlets and what stands at them apart."""
    inlets = [h["inlet"] for h in work.heads if h["served"]]

    def moved(p: Xyz) -> Xyz:
        return p if any(dist(p, q) <= 5.0 for q in inlets) else (p[0], p[1], p[2] + up)

    for piece in work.pieces:
        piece["start"], piece["end"] = moved(piece["start"]), moved(piece["end"])
    for fitting in work.fittings:
        fitting["at"] = moved(fitting["at"])
    for takeoff in work.takeoffs:
        takeoff["level"] += up
        if takeoff["arm_level"] is not None:
            takeoff["arm_level"] += up
    for run in work.runs:
        run["supply_level"] += up
        for point in run["profile"]:
            point["level"] += up
        for change in run["level_changes"]:
            change["levels"] = tuple(z + up for z in change["levels"])
    work.keep()


def into_a_beam(work: Work, rng: random.Random) -> Claim | None:
    """Raise or lower everything until a run is 15 mm too near to what it crosses."""
    radius = 10.0  # less than any pipe's here: the claim needs no table
    choices = []
    for item in work.scenario["obstructions"]:
        shape = shapely.Polygon(item["polygon"])
        need = work.scenario["rules"]["clearance"] if item["clearance"] is None else item["clearance"]
        for piece in work.pieces:
            axis = shapely.LineString([piece["start"][:2], piece["end"][:2]])
            if piece["kind"] != "run" or upright(piece) or not axis.crosses(shape):
                continue
            at = axis.intersection(shape).representative_point()
            t = axis.project(at) / axis.length
            z = piece["start"][2] + t * (piece["end"][2] - piece["start"][2])
            low, high = item["elevations"]
            goal = low - radius - need + 15.0 if z < low else high + radius + need - 15.0
            choices.append((item["id"], piece["id"], goal - z))
    if not choices:
        return None
    item_id, piece_id, up = rng.choice(choices)
    lift(work, up)
    return broken(f"{piece_id} is too near to {item_id}", "clearance")


def out_of_band(work: Work, rng: random.Random) -> Claim | None:
    """Lower everything until a run is 5 mm below its band, or raise it 5 mm above."""
    run = rng.choice(work.runs)
    given = work.given_run(run["id"])
    low, high = given["band"] or (given["elevation"] - 300.0, given["elevation"] + 300.0)
    levels = [point["level"] for point in run["profile"]]
    up = rng.choice([low - 5.0 - min(levels), high + 5.0 - max(levels)])
    lift(work, up)
    return broken(f"{run['id']} is 5 mm out of its band", "band")


def _movable(work: Work) -> list[tuple[Record, Record]]:
    """Takeoffs of heads that do not end their run, each with its fitting on the run."""
    found = []
    for takeoff in work.takeoffs:
        fitting = work.run_fitting(takeoff)
        if fitting is not None and takeoff["heads"] and not takeoff["ends_run"]:
            found.append((takeoff, fitting))
    return found


def _places_of(work: Work, takeoff: Record) -> list[Xyz]:
    """Every place of a takeoff's own pieces and fittings, once."""
    places: list[Xyz] = []
    own = [p[e] for p in work.pieces if p["owner"] == takeoff["id"] for e in ("start", "end")]
    for place in own + [f["at"] for f in work.fittings if f["owner"] == takeoff["id"]]:
        if all(dist(place, other) > SAME_MM for other in places):
            places.append(place)
    return places


def _heads_follow(work: Work, takeoff: Record, moved: dict[str, Xyz]) -> None:
    """Write the heads' new places into the route and the scenario: the heads are not what is wrong."""
    for name in takeoff["heads"]:
        work.head(name)["inlet"] = moved[name]
        work.given_head(name)["at"] = moved[name]


def outlet_into_neighbour(work: Work, rng: random.Random) -> Claim | None:
    """Push a takeoff with its heads along the run until two tees overlap."""
    fittings = {t["id"]: f for t in work.takeoffs if (f := work.run_fitting(t)) is not None}
    movable = {t["id"] for t, _ in _movable(work)}
    choices = []
    for run in work.runs:
        own = sorted((t for t in work.takeoffs if t["run"] == run["id"]), key=lambda t: t["station"])
        for a, b in pairwise(own):
            if a["id"] not in fittings or b["id"] not in fittings or a["level"] != b["level"]:
                continue
            apart = dist(fittings[a["id"]]["at"], fittings[b["id"]]["at"])
            if abs(b["station"] - a["station"] - apart) > 1.0 or apart < OVERLAP_MM + 1.0:
                continue  # a bend lies between
            choices += [(m, s) for m, s in ((a, b), (b, a)) if m["id"] in movable]
    if not choices:
        return None
    takeoff, still = rng.choice(choices)
    here, there = fittings[takeoff["id"]]["at"], fittings[still["id"]]["at"]
    by = plus((0.0, 0.0, 0.0), towards(here, there), dist(here, there) - OVERLAP_MM)
    along = (dist(here, there) - OVERLAP_MM) * (1 if still["station"] > takeoff["station"] else -1)
    for place in _places_of(work, takeoff):
        work.carry(place, by)
    _heads_follow(work, takeoff, {n: plus(work.head(n)["inlet"], by) for n in takeoff["heads"]})
    takeoff["station"] += along
    takeoff["occupies"] = tuple(s + along for s in takeoff["occupies"])
    if takeoff["arm_level"] is not None:
        takeoff["arm_level"] += by[2]
    work.keep()
    return broken(f"{takeoff['id']} is {OVERLAP_MM:g} mm from {still['id']}", "outlet_spacing")


def arm_turned(work: Work, rng: random.Random) -> Claim | None:
    """Turn a side arm with its head 10 degrees out of square."""
    choices = [(t, f) for t, f in _movable(work) if t["style"] in ("side_arm", "level_cross")]
    if not choices:
        return None
    takeoff, fitting = rng.choice(choices)
    turn = radians(rng.choice((-10.0, 10.0)))
    x0, y0, _ = fitting["at"]

    def turned(p: Xyz) -> Xyz:
        x, y = p[0] - x0, p[1] - y0
        return (x0 + cos(turn) * x - sin(turn) * y, y0 + sin(turn) * x + cos(turn) * y, p[2])

    for place in _places_of(work, takeoff):
        new = turned(place)
        work.carry(place, plus(new, place, -1.0))
    _heads_follow(work, takeoff, {n: turned(work.head(n)["inlet"]) for n in takeoff["heads"]})
    work.keep()
    return broken(f"{takeoff['id']} leaves 10 degrees out of square", "square")


def obstruction_on_pipe(work: Work, rng: random.Random) -> Claim | None:
    """Put an obstruction round the middle of a pipe, or 1 mm nearer than its clearance."""
    piece = rng.choice([p for p in work.pieces if p["kind"] != "hose" and p["length"] > 80.0])
    a, b = piece["start"], piece["end"]
    x, y, z = ((p + q) / 2 for p, q in zip(a, b, strict=True))
    if rng.random() < 0.5 or not level(piece):
        box, why = (x - 20, y - 20, x + 20, y + 20), "goes through"
        levels = (z - 20.0, z + 20.0)
    else:
        # 10 mm is less than any pipe's radius, so that this needs no table of diameters
        box, why = (x - 20, y - 20, x + 20, y + 20), "is too near to"
        levels = (z + 10.0 + 50.0 - 1.0, z + 200.0)
    corners = [(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]
    work.scenario["obstructions"].append(
        {"id": "put there", "kind": "duct", "polygon": corners, "elevations": levels, "clearance": 50.0}
    )
    return broken(f"{piece['id']} {why} what was put there", "clearance")


def ceiling_raised(work: Work, rng: random.Random) -> Claim | None:
    """Put a ceiling 5 mm too near under a level arm or run."""
    arms = [p for p in work.pieces if p["kind"] in ("arm", "run") and level(p) and p["length"] > 200.0]
    if not arms:
        return None
    piece = rng.choice(arms)
    x, y, z = ((p + q) / 2 for p, q in zip(piece["start"], piece["end"], strict=True))
    corners = [(x - 30, y - 30), (x + 30, y - 30), (x + 30, y + 30), (x - 30, y + 30)]
    top = z - 10.0 - work.scenario["rules"]["ceiling_clearance"] + 5.0
    work.scenario["ceilings"].append({"id": "put there", "polygon": corners, "elevation": top})
    return broken(f"{piece['id']} is too near over a ceiling", "ceiling")


def head_moved(work: Work, rng: random.Random) -> Claim | None:
    """Move a head 30 mm in the scenario; the route stays as it was."""
    head = rng.choice([h for h in work.heads if h["served"]])
    given = work.given_head(head["id"])
    if given["shift"] >= STEP:
        return None
    given["at"] = plus(given["at"], rng.choice([around(rng), (0.0, 0.0, 1.0)]), STEP)
    return broken(f"{head['id']} is elsewhere", "served")


PLACES = {
    "pipe moved 30 mm across": pipe_across,
    "pipe moved 30 mm along": pipe_along,
    "elbow moved 30 mm with its pipes": elbow_with_pipes,
    "fitting on a run moved 30 mm with its pipes": run_fitting_aside,
    "fitting on a run slid 30 mm": run_fitting_along,
    "inlet written 30 mm off": inlet,
    "drop and inlet moved 30 mm along the arm": drop_and_inlet,
    "drop 30 mm short": drop_short,
    "run raised or lowered into a beam": into_a_beam,
    "run out of its band": out_of_band,
    "outlet pushed into its neighbour": outlet_into_neighbour,
    "arm turned out of square": arm_turned,
    "obstruction put on a pipe": obstruction_on_pipe,
    "ceiling raised to a pipe": ceiling_raised,
    "head moved in the scenario": head_moved,
}
