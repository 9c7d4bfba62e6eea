"""Seeded changes of a scenario or its route, to be judged by the referee and the outside witness."""

from __future__ import annotations

from math import cos, dist, inf, pi, sin
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from router.route.model import Fitting, Route, Takeoff, Xyz
    from router.scenario.model import Obstruction, Scenario

CLEARANCES = (None, 0.0, 40.0, 110.0)


PLUG_MM: Final = {25: 1.50 * 25.4, 32: 1.58 * 25.4}
"""Tee's centre to its plugged end by its size, with a 1 in. barrel: ASME B16.3 (from memory)."""


def moved_obstructions(
    scenario: Scenario, route: Route, seed: int, count: int, *, to_plugs: bool = False
) -> Scenario:
    """So many obstructions of the scenario, each cut down, turned, moved and with another clearance.

    Each is moved by a random vector so that a random corner of it comes near to a random
    point of the route (``to_plugs``: of a plugged opening): some pierce pipe, some just
    keep clear of it, some do not.
    """
    rng = np.random.default_rng(seed)
    moved = []
    axes = [(piece.start, piece.end) for piece in route.pieces]
    if to_plugs:
        axes = [plug_axis(each) for each in route.fittings if each.kind == "plug"]
    for k in range(count):
        item = scenario.obstructions[int(rng.integers(len(scenario.obstructions)))]
        axis = axes[int(rng.integers(len(axes)))]
        moved.append(_moved(item, axis, f"moved {k}", rng, far=60.0 if to_plugs else 150.0))
    return scenario.model_copy(update={"obstructions": moved})


def plug_axis(plug: Fitting) -> tuple[Xyz, Xyz]:
    """From the centre of a plug's tee to the end of its opening."""
    (x, y, z), (a, b, c), far = plug.at, plug.directions[0], PLUG_MM[plug.sizes[0]]
    return plug.at, (x + far * a, y + far * b, z + far * c)


def _moved(
    item: Obstruction, axis: tuple[Xyz, Xyz], name: str, rng: np.random.Generator, far: float
) -> Obstruction:
    corners = np.array(item.polygon, dtype=float)
    low, high = item.elevations
    # a long beam would meet everything
    corners = corners.mean(axis=0) + (corners - corners.mean(axis=0)) * float(rng.uniform(0.03, 0.3))
    turn = float(rng.uniform(0, 2 * pi))
    spin = np.array([[cos(turn), -sin(turn)], [sin(turn), cos(turn)]])
    corners = (corners - corners.mean(axis=0)) @ spin.T
    t = float(rng.uniform(0, 1))
    to = [(1 - t) * a + t * b for a, b in zip(*axis, strict=True)]
    corner = corners[int(rng.integers(len(corners)))]
    corners = corners - corner + np.array(to[:2]) + rng.uniform(-far, far, 2)
    rise = float(to[2] + rng.uniform(-far, far) - (low if rng.random() < 0.5 else high))
    return item.model_copy(
        update={
            "id": name,
            "polygon": [(float(x), float(y)) for x, y in corners],
            "elevations": (low + rise, high + rise),
            "clearance": CLEARANCES[int(rng.integers(len(CLEARANCES)))],
        }
    )


def moved_takeoffs(scenario: Scenario, route: Route, seed: int, *, to_pipe: bool = False) -> Route:
    """The route with most takeoffs of heads bent towards a near obstruction, or towards other pipe.

    What stands on the run stays, all else of the takeoff moves by one vector: its first pipe is bent.
    """
    rng = np.random.default_rng(seed)
    changed = route
    for takeoff in route.takeoffs:
        if takeoff.heads and rng.random() < 0.7:
            targets = _on_pipe(route, takeoff, rng) if to_pipe else _on_obstructions(scenario, rng)
            changed = _moved_takeoff(changed, takeoff, targets, rng)
    return changed


def _moved_takeoff(route: Route, takeoff: Takeoff, targets: list[Xyz], rng: np.random.Generator) -> Route:
    own = set(takeoff.pieces)
    on_run = {name for piece in route.pieces if piece.id not in own for name in piece.fittings if name}
    stays = {each.at for each in route.fittings if each.id in on_run or each.kind == "outlet"}
    places = [end for piece in route.pieces if piece.id in own for end in (piece.start, piece.end)]
    places = [place for place in places if place not in stays]
    if not places:
        return route
    by = _towards(targets, places[int(rng.integers(len(places)))], rng)
    moving = set(places)

    def to(at: Xyz) -> Xyz:
        if at not in moving:
            return at
        return (at[0] + by[0], at[1] + by[1], at[2] + by[2])

    pieces = [
        piece.model_copy(update={"start": to(piece.start), "end": to(piece.end)})
        if piece.id in own
        else piece
        for piece in route.pieces
    ]
    fittings = [
        each.model_copy(update={"at": to(each.at)}) if each.owner == takeoff.id else each
        for each in route.fittings
    ]
    heads = [
        head.model_copy(update={"inlet": to(head.inlet)}) if head.id in takeoff.heads else head
        for head in route.heads
    ]
    return route.model_copy(update={"pieces": pieces, "fittings": fittings, "heads": heads})


def _on_obstructions(scenario: Scenario, rng: np.random.Generator) -> list[Xyz]:
    """A corner of every obstruction, half way up."""
    corners = [item.polygon[int(rng.integers(len(item.polygon)))] for item in scenario.obstructions]
    levels = [sum(item.elevations) / 2 for item in scenario.obstructions]
    return [(x, y, z) for (x, y), z in zip(corners, levels, strict=True)]


def _on_pipe(route: Route, takeoff: Takeoff, rng: np.random.Generator) -> list[Xyz]:
    """A point of every piece of other owners."""
    found = []
    for piece in route.pieces:
        if piece.owner != takeoff.id:
            t = float(rng.uniform(0, 1))
            x, y, z = ((1 - t) * a + t * b for a, b in zip(piece.start, piece.end, strict=True))
            found.append((x, y, z))
    return found


def _towards(targets: list[Xyz], place: Xyz, rng: np.random.Generator) -> Xyz:
    """A vector that brings a place near to the nearest target, if one is near; else any."""
    near = min((dist(target, place), target) for target in targets) if targets else (inf, place)
    by = rng.uniform(-300, 300, 3)
    if near[0] < 3000.0:
        by = np.array(near[1]) - np.array(place) + rng.uniform(-120, 120, 3)
    return (round(float(by[0]), 3), round(float(by[1]), 3), round(float(by[2]), 3))


def moved_route(route: Route, seed: int, far: float) -> Route:
    """The whole route moved by one random vector of up to ``far`` mm a way."""
    by = np.random.default_rng(seed).uniform(-far, far, 3).round(3)

    def to(at: Xyz) -> Xyz:
        return (at[0] + float(by[0]), at[1] + float(by[1]), at[2] + float(by[2]))

    return route.model_copy(
        update={
            "pieces": [p.model_copy(update={"start": to(p.start), "end": to(p.end)}) for p in route.pieces],
            "fittings": [f.model_copy(update={"at": to(f.at)}) for f in route.fittings],
            "heads": [h.model_copy(update={"inlet": to(h.inlet)}) for h in route.heads],
        }
    )
