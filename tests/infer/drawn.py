"""Routes of our own as a person would draw them: rounded, shuffled, turned round, to the faces."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from router.building.route import route_scenario
from router.check.joints import engagement, take_out
from router.check.survey import Survey
from router.deliver.segments_csv import write_segments
from router.readers.segments import Segment, read_segments
from router.scenario import read_scenario

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario

FOLDER = Path(__file__).parents[2] / "scenarios"
FILES = sorted(p.name for p in FOLDER.glob("*.json"))


@cache
def given(name: str) -> Scenario:
    return read_scenario(FOLDER / name)


@cache
def routed(name: str) -> Route:
    return route_scenario(given(name))[0]


def drawn(route: Route, folder: Path, decimals: int = 3) -> list[Segment]:
    """Written to a file and read back."""
    path = folder / "drawing.csv"
    path.write_text(write_segments(route, decimals=decimals), encoding="utf-8")
    return read_segments(path)


def shuffled(segments: list[Segment], seed: int) -> list[Segment]:
    """Rows in another order, some pipes the other way round, no roles, ids or lines."""
    rng = random.Random(seed)
    other = [
        Segment(f"X{k}", *((s.b, s.a) if rng.random() < 0.5 else (s.a, s.b)), s.dn, hose_only(s))
        for k, s in enumerate(segments)
    ]
    rng.shuffle(other)
    return other


def hose_only(segment: Segment) -> str:
    """A hose cannot be told from pipe by its axis."""
    return "hose" if segment.role == "hose" else ""


def shaken(segments: list[Segment], by: float, seed: int) -> list[Segment]:
    """Every coordinate of every end off by up to ``by`` mm."""
    rng = random.Random(seed)

    def off(p: tuple[float, float, float]) -> tuple[float, float, float]:
        x, y, z = (v + rng.uniform(-by, by) for v in p)
        return (x, y, z)

    return [Segment(s.id, off(s.a), off(s.b), s.dn, s.role) for s in segments]


def to_faces(scenario: Scenario, route: Route) -> list[Segment]:
    """Pipes that stop at the faces of their fittings, as the tables have them."""
    survey = Survey(scenario, route)
    made = []
    for piece in route.pieces:
        ends = []
        for end, name in zip(survey.ends(piece), piece.fittings, strict=True):
            fitting = survey.fittings.get(name or "")
            short = 0.0
            if fitting is not None and fitting.kind != "reducer":
                short = take_out(survey, fitting, end.into).mm
                short -= engagement(survey, piece.dn, survey.piece_joining(piece))
            x, y, z = (float(v) for v in np.add(end.at, np.multiply(end.into or (0, 0, 0), short)))
            ends.append((x, y, z))
        made.append(Segment(piece.id, ends[0], ends[1], piece.dn, "hose" if piece.kind == "hose" else ""))
    return made
