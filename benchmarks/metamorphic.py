"""Scenarios turned, moved, renamed, reordered, cut, and made harder or easier: what breaks of what must hold.

``python benchmarks/metamorphic.py [SEEDS] [FIRST]`` takes random scenarios with everything in them
(``tests/metamorphic/made_mixed.py``), the project's own and the benchmark's small floors, and puts
them through every transform of the tests. It prints how many were checked and how many broke
(``told``: the weaker scenario's better route is found once the stricter one's is given as an
older route), and writes ``results/metamorphic.json``. It ends with code 1 if something broke.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter, defaultdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

HERE = Path(__file__).parent
TESTS = HERE.parent / "tests"
# the folder of this file has a module of the same name as the tests' package
sys.path[:] = [
    str(TESTS),
    *(p for p in sys.path if Path(p or ".").resolve() != HERE),
    str(TESTS / "oracle"),
    str(HERE),
]

from made_buildings import building, shared_offsets  # noqa: E402
from made_floors import floor  # noqa: E402
from metamorphic import solved as judge  # noqa: E402
from metamorphic import transforms as t  # noqa: E402
from metamorphic.made_halves import halves  # noqa: E402
from metamorphic.made_mixed import mixed  # noqa: E402
from metamorphic.relaxations import CLAIMS, relaxed  # noqa: E402

from router.building.stop import NothingDecidedError  # noqa: E402
from router.scenario import ScenarioError, parse_scenario, read_scenario  # noqa: E402
from router.scenario.write import scenario_data  # noqa: E402

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from router.route.model import Route

Data = dict[str, Any]
SECONDS = 5.0
"""For each route; what is not proven by then is not compared (a time limit decides nothing)."""
BOXES = 3

MOVES: dict[str, Callable[[Data, int], Data]] = {
    "turned by a quarter": lambda d, s: t.turned(d, (90, 180, 270)[s % 3]),
    "turned by any angle": lambda d, s: t.turned(d, (17.3 * (s + 1)) % 360),
    "moved a little": lambda d, s: t.shifted(d, 12.3, -45.6 - s, 7.8),
    "moved by kilometres": lambda d, s: t.shifted(d, 4.5e6 + 0.123, 9.1e6, 5.2e5 + 0.25),
    "mirrored in x": lambda d, _: t.mirrored(d, "x"),
    "mirrored in y": lambda d, _: t.mirrored(d, "y"),
    "renamed": lambda d, _: t.renamed(d, t.backwards(d)),
    "reordered": t.reordered,
    "outlines redrawn": t.outlines_redrawn,
    "points in straight legs": t.with_points_between,
}


class Campaign:
    """What was checked, what broke, and what could not be compared."""

    def __init__(self) -> None:
        self.checked: Counter[str] = Counter()
        self.open: Counter[str] = Counter()
        self.otherwise: Counter[str] = Counter()
        self.broke: dict[str, list[str]] = defaultdict(list)
        self.known_after: dict[str, list[float]] = defaultdict(list)

    def routed(self, data: Data, keep: Route | None = None) -> judge.Outcome | None:
        """Route within the time; ``None`` where the reader refuses it or nothing is proven."""
        try:
            found = judge.outcome(parse_scenario(data), keep, SECONDS)
        except (ScenarioError, NothingDecidedError):
            return None
        return None if found.status == "feasible" else found

    def same(self, what: str, name: str, one: judge.Outcome, data: Data) -> None:
        """Compare with what must cost the same."""
        other = self.routed(data)
        if other is None:
            self.open[what] += 1
            return
        self.checked[what] += 1
        found = judge.unlike(one, other)
        if found:
            self._tell(what, name, found)
        elif judge.split_otherwise(one, other):
            self.otherwise[what] += 1

    def weaker(self, what: str, name: str, strict: judge.Outcome, weak: judge.Outcome, claim: str) -> None:
        """Compare with what must not cost more."""
        self.checked[what] += 1
        found = judge.worse(strict, weak)
        if found and claim == "kept":
            try:
                kept = judge.keeping(weak, strict, SECONDS)
            except NothingDecidedError:
                self.open[what] += 1
                return
            if not judge.worse(strict, kept):
                self.known_after[what].append(round(weak.value - strict.value, 3))
                return
            found = f"{found}, {kept.value} with the older route kept"
        if found:
            real = "the stricter one's route passes" if judge.still_a_route(strict, weak) else "other rules"
            self._tell(what, name, f"{found}; {real}")

    def _tell(self, what: str, name: str, found: str) -> None:
        self.broke[what].append(f"{name}: {found}")
        print(f"BROKE {what}: {name}: {found}", flush=True)

    def scenario(self, name: str, seed: int, data: Data) -> None:
        """Put one scenario through everything."""
        data = {**data, "weights": {**data.get("weights", {}), "unserved": 200_000.0}}
        one = self.routed(data)
        if one is None:
            self.open["scenarios"] += 1
            return
        self.checked["scenarios"] += 1
        if not judge.WITHOUT_PLACE.issuperset(one.broken):
            self._tell("scenarios", name, f"the referee: {one.broken}")
            return
        for what, move in MOVES.items():
            self.same(what, name, one, move(data, seed))
        for unit in ("m", "in", "ft"):
            self.checked["units"] += 1
            if parse_scenario(t.in_unit(data, unit)) != one.scenario:
                self._tell("units", name, unit)
        for k in range(BOXES):
            boxed = self.routed(t.with_box(data, 1000 * seed + k))
            if boxed is not None:
                self.weaker("one more obstruction", name, boxed, one, "kept")
        for rule, (claim, _) in CLAIMS.items():
            weak = relaxed(data, rule, seed) if claim != "none" else None
            if weak is None:
                continue
            what = f"weaker: {rule}"
            if claim == "same":
                self.same(what, name, one, weak)
                continue
            other = self.routed(weak)
            if other is None:
                self.open[what] += 1
            else:
                self.weaker(what, name, one, other, claim)

    def half(self, seed: int) -> None:
        """Cut one line in two."""
        data, station, pitch = halves(seed)
        one = self.routed(data)
        if one is not None:
            self.same(
                "two runs end to end", f"halves {seed}", one, t.split_at_node(data, "B", station, pitch)
            )

    def results(self) -> Data:
        """Give it all as plain data, by what was done."""
        return {
            what: {
                "checked": self.checked[what],
                "broke": len(self.broke[what]),
                "not compared": self.open[what],
                "same cost otherwise made up": self.otherwise[what],
                "better route only once it was told": len(self.known_after[what]),
                "points by which": sorted(self.known_after[what]),
                "which": self.broke[what],
            }
            for what in sorted({*self.checked, *self.open})
        }


def scenarios(first: int, seeds: int) -> Iterator[tuple[str, int, Data]]:
    """Give name, seed and plain data of every scenario."""
    for seed in range(first, first + seeds):
        data = mixed(seed)
        if data is not None:
            yield f"mixed {seed}", seed, data
    if first:
        return
    folder = HERE.parent / "scenarios"
    for k, path in enumerate([*sorted(folder.glob("*.json")), *sorted((folder / "variants").glob("*.json"))]):
        yield path.stem, k, scenario_data(read_scenario(path))
    for seed in range(3):
        for density in ("medium", "dense", "crowded", "crossing"):
            yield f"floor {seed} {density}", seed, scenario_data(floor(2, 3, seed, density=density))
        yield f"shared offsets {seed}", seed, scenario_data(shared_offsets(4, 3, seed))
        yield f"curved {seed}", seed, scenario_data(building(1, 3, 3, seed, "curved", "medium"))
        yield f"two floors {seed}", seed, scenario_data(building(2, 2, 2, seed, "rotated", "medium"))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seeds", nargs="?", type=int, default=200)
    parser.add_argument("first", nargs="?", type=int, default=0)
    parser.add_argument("--output", type=Path, default=HERE / "results" / "metamorphic.json")
    asked = parser.parse_args()
    campaign = Campaign()
    for name, seed, data in scenarios(asked.first, asked.seeds):
        campaign.scenario(name, seed, data)
    for seed in range(asked.first, asked.first + asked.seeds):
        campaign.half(seed)
    found = campaign.results()
    for what, row in found.items():
        told, left = row["better route only once it was told"], row["not compared"]
        print(
            f"{what:28} {row['checked']:5} checked {row['broke']:3} broke {left:3} not compared {told:3} told"
        )
    asked.output.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    broke = sum(len(rows) for rows in campaign.broke.values())
    print(f"{sum(campaign.checked.values())} checked, {broke} broke: {asked.output}")
    return int(broke > 0)


if __name__ == "__main__":
    sys.exit(main())
