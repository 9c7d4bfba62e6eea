"""The benchmark's cases: what is routed, under which name, in which set."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from made_buildings import Shape, building, shared_offsets
from made_floors import DENSITY, floor, line

from router.readers import read_csv_folder

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.scenario.model import Scenario

ROOT = Path(__file__).parents[1]
DATA = ROOT.parent / "shared" / "open-data"
HOSPITAL = ("hospital_s1_L1B001", "hospital_s3_L3high", "hospital_level1", "hospital_level3")
SEEDS = 5
"""A line is measured over so many, and the median taken."""
CLASH_LIMIT = 20.0
"""Seconds that routing may take where arms of neighbouring lines cross; large floors take more."""


@dataclass(frozen=True)
class Case:
    """One case. ``make`` gives its scenarios: all are timed, the first is compared with the baselines.

    ``family`` groups the tables; cases of one ``growth`` are the same thing at
    other sizes. ``processes``: 0 for as many as there are cores. ``limit``:
    seconds for routing. ``baselines``: whether the greedy ones run too; the
    local search only where ``search``.
    """

    name: str
    family: str
    make: Callable[[], list[Scenario]]
    quick: bool
    growth: str = ""
    processes: int = 1
    limit: float | None = None
    baselines: bool = True
    search: bool = True


def _lines() -> list[Case]:
    cases = []
    for heads in (6, 12, 24, 48):

        def make(heads: int = heads) -> list[Scenario]:
            return [line(heads, seed) for seed in range(SEEDS)]

        cases.append(Case(f"line of {heads}", "line", make, quick=True, growth="line, medium"))
    for heads in (6, 12):

        def own(heads: int = heads) -> list[Scenario]:
            return [line(heads, seed, rules={"slide": 0.0}) for seed in range(SEEDS)]

        cases.append(Case(f"line of {heads}, outlets at heads only", "line", own, quick=True))
    return cases


def _floors() -> list[Case]:
    def floors(heads: int = 12) -> list[Scenario]:
        return [floor(10, heads, seed) for seed in range(3)]

    def shared() -> list[Scenario]:
        return [shared_offsets(8, 6, seed) for seed in range(3)]

    def more() -> list[Scenario]:
        return [shared_offsets(16, 12)]

    def crossing(lines: int, heads: int, seeds: int = 1) -> Callable[[], list[Scenario]]:
        return lambda: [building(1, lines, heads, s, "regular", "crossing") for s in range(seeds)]

    def large() -> list[Scenario]:
        return [floor(100, 12)]

    return [
        Case("floor of 10 x 12", "floor", floors, quick=True),
        Case("shared offsets 8 x 6", "shared offsets", shared, quick=True),
        Case("shared offsets 16 x 12", "shared offsets", more, quick=False),
        Case("crossing arms 3 x 6", "crossing arms", crossing(3, 6, 3), quick=True, limit=CLASH_LIMIT),
        Case("crossing arms 3 x 12", "crossing arms", crossing(3, 12), quick=True, limit=CLASH_LIMIT),
        Case("crossing arms 10 x 12", "crossing arms", crossing(10, 12), quick=False, limit=15 * CLASH_LIMIT),
        Case("one main, 100 x 12", "floor", large, quick=True, search=False),
    ]


def _building(
    floors: int, lines: int, heads: int, shape: Shape, density: str, *, quick: bool, processes: int = 1
) -> Case:
    count = floors * lines * heads
    more = ", all cores" if processes != 1 else ""
    return Case(
        f"{shape} building, {density}, {count:,}{more}",
        f"{shape} building",
        lambda: [building(floors, lines, heads, 0, shape, density)],
        quick=quick,
        growth=f"{shape}, {density}" if density == "medium" else "",
        processes=processes,
        baselines=count <= 1200 or (shape == "regular" and density == "medium" and processes == 1),
        search=count <= 300 or (count <= 1200 and not quick),
    )


def _buildings() -> list[Case]:
    shapes: tuple[Shape, ...] = ("regular", "rotated", "curved")
    cases = []
    for shape in shapes:
        cases.append(_building(1, 10, 12, shape, "medium", quick=True))
        for density in DENSITY:
            if density != "crossing":
                quick = density == "medium" or (shape == "curved" and density in ("none", "dense"))
                cases.append(_building(3, 10, 10, shape, density, quick=quick))
        cases.append(_building(10, 10, 12, shape, "medium", quick=shape != "rotated"))
        cases.append(_building(10, 10, 12, shape, "dense", quick=False))
        cases.append(_building(100, 10, 12, shape, "medium", quick=False))
    cases.append(_building(1, 10, 12, "curved", "crowded", quick=True))
    cases.append(_building(10, 10, 12, "regular", "crowded", quick=False))
    for density in ("none", "dense"):
        cases.append(_building(100, 10, 12, "regular", density, quick=False, processes=0))
    cases.append(_building(100, 10, 12, "regular", "medium", quick=False, processes=0))
    return cases


def _hospital(data: Path) -> list[Case]:
    def make(name: str) -> Callable[[], list[Scenario]]:
        return lambda: [read_csv_folder(data / name).scenario]

    return [
        Case(name, "hospital", make(name), quick=True)
        for name in HOSPITAL
        if (data / name / "pipes.csv").exists()
    ]


def all_cases(data: Path = DATA) -> list[Case]:
    """Give every case; the hospital's only where its tables are."""
    return [*_lines(), *_floors(), *_buildings(), *_hospital(data)]


def missing(data: Path = DATA) -> list[str]:
    """Give the hospital's folders that are not here."""
    return [name for name in HOSPITAL if not (data / name / "pipes.csv").exists()]
