"""Work that is stopped before it is done: a clean route, and a bound that is never above the optimum.

A stop comes at the k-th question, so nothing here depends on time.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from made import line
from test_apart import storeys
from test_clashes import trees_of, two_lines

from router.building import apart, tree
from router.building.route import route_scenario, solve
from router.building.settle import Group
from router.building.stop import NothingDecidedError, Stop
from router.building.term_bounds import PRICED, tree_least
from router.building.why import MOST_ONCE_STOPPED
from router.check.referee import check_route
from router.route.model import STEPS, Route
from router.scenario import parse_scenario, read_scenario

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.building.progress import Progress
    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"


class At(Stop):
    """Stops once it was asked so often."""

    def __init__(self, questions: int) -> None:
        super().__init__()
        self.questions, self.count = questions, 0

    def asked(self) -> bool:
        self.count += 1
        if self.count > self.questions:
            self.set()
        return super().asked()


def long_floor(lines: int = 4, heads: int = 40) -> Scenario:
    """One main with lines of many heads straight below them."""
    runs = [{"id": "M", "plan": [[0, 0], [0, 3000.0 * lines]], "elevation": 3000, "size": 100,
             "kind": "cross_main"}]  # fmt: skip
    placed = []
    for n in range(lines):
        y = 3000.0 * n + 1500
        runs.append({"id": f"L{n}", "plan": [[0, y], [3000.0 * heads + 500, y]], "elevation": 3000,
                     "supply": "M"})  # fmt: skip
        placed += [{"id": f"H{n}-{h}", "at": [3000.0 * h + 1500, y, 2600]} for h in range(heads)]
    return parse_scenario({"name": "long lines", "runs": runs, "heads": placed}, "made")


def by_price() -> Scenario:
    """Two dry lines whose sizes follow a schedule, each size with its price, and the price decides."""
    data = long_floor(2, 3)
    pipe = {"1": 2, "1-1/4": 3, "1-1/2": 4, "2": 6, "2-1/2": 9, "3": 13, "4": 20}
    return parse_scenario(
        {
            "name": "by price",
            "system": {"kind": "dry", "pitch_branch": 4.0},
            "runs": [run.model_dump(exclude_none=True, include={"id", "plan", "elevation", "supply", "kind"})
                     for run in data.runs],
            "heads": [{"id": h.id, "at": [h.at[0], h.at[1] + 300, 3400], "kind": "upright"}
                      for h in data.heads],
            "prices": {
                "pipe": {size: {"price": price} for size, price in pipe.items()},
                "fittings": {kind: {"other": {"price": 5}}
                             for kind in ("tee", "elbow_90", "elbow_45", "reducer")},
                "as_objective": True,
            },
        },
        "made",
    )  # fmt: skip


CASES: dict[str, Callable[[], Scenario]] = {
    **{f"line {seed}": partial(line, seed) for seed in (1, 4, 7)},
    **{f"two lines {seed}": partial(two_lines, seed) for seed in (1, 4, 12)},
    "storeys": partial(storeys, 2),
    "loading dock": lambda: read_scenario(SCENARIOS / "loading_dock.json"),
    "by price": by_price,
}


def stopped_at(scenario: Scenario, questions: int) -> Route | None:
    try:
        route, solution = route_scenario(scenario, stop=At(questions))
    except NothingDecidedError:
        return None
    assert (route.status == "feasible") >= (solution.stopped is not None)
    return route


def points(count: int, most: int) -> list[int]:
    """So many stopping points among so many questions, the first and the last among them."""
    return sorted({round(i * count / most) for i in range(most + 1)})


@pytest.mark.parametrize("alone", [False, True], ids=["at once", "tree by tree"])
@pytest.mark.parametrize("case", CASES)
def test_bound_and_route_of_a_stopped_solve(case: str, alone: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = CASES[case]()
    if alone:
        monkeypatch.setattr(apart, "WORTH_HEADS", 1)
    free = At(1 << 60)
    best, _ = route_scenario(scenario, stop=free)
    assert free.count > 3
    none, found = 0, []
    for questions in points(free.count, 4 if len(scenario.heads) > 15 else 8):
        route = stopped_at(scenario, questions)
        if route is None:
            none += 1
            continue
        found.append(route)
        assert route.counts.served > 0
        assert route.objective.bound <= best.objective.value + 1e-6
        assert route.objective.bound <= route.objective.value
        if best.status == "optimal":
            assert route.objective.value >= best.objective.value - 1e-6
        assert {f.rule for f in check_route(scenario, route).breaks} <= {"hangers"}
        assert sum(route.proof.lines_closed.values()) == len(scenario.runs)
        for head in route.heads:
            assert head.served or head.stopped_by
    assert none, "stopped before the first question nothing is decided"
    assert found[-1].objective == best.objective
    assert found[-1].heads == best.heads


def test_what_is_not_begun_says_so_and_what_is_known_is_routed() -> None:
    scenario = read_scenario(SCENARIOS / "reading_room.json")
    runs = [run.id for run in scenario.runs]
    routes = [route for n in range(2, 9, 2) if (route := stopped_at(scenario, n)) is not None]
    part = next(route for route in routes if 0 < route.counts.served < route.counts.heads)
    assert part.proof.lines_closed == {"unproven": len(runs)}
    said = [a for head in part.heads for a in head.stopped_by if a.rule == "stopped"]
    assert said
    for attempt in said:
        assert attempt.text == f"not routed: interrupted before {attempt.run} was worked out"
    assert part.objective.bound > 0, "the lines that are known cost something"
    assert len({route.counts.served for route in routes}) > 2, "the later the stop, the more is served"


def test_explaining_is_quick_once_stopped() -> None:
    """Heads that nothing can reach, on lines that are known: only the first few are looked into."""
    data = long_floor(2, 30)
    far = [h.model_copy(update={"at": (h.at[0], -9000.0, 2600.0), "run": "L0"}) for h in data.heads[:29]]
    scenario = data.model_copy(update={"heads": [*far, *data.heads[29:]]})
    route, solution = route_scenario(scenario, stop=At(5))
    assert solution.stopped == "interrupted"
    unserved = [head.stopped_by for head in route.heads if not head.served]
    short = [tries for tries in unserved if tries[0].rule == "stopped"]
    assert len(unserved) >= 29
    assert len(unserved) - len(short) == MOST_ONCE_STOPPED
    assert all(tries[0].text.startswith("not served so far: interrupted before all ways") for tries in short)


@pytest.mark.parametrize("seed", range(1, 8))
def test_the_model_stops_in_the_midst(seed: int) -> None:
    """Stopped between its rounds, a group gives its last choice and a bound below its answer."""
    prepared, trees, prices = trees_of(two_lines(seed), 60, seed)
    free = At(1 << 60)
    whole = Group(prepared, trees, prices).settle(30.0, free, lambda text: None)
    for questions in range(free.count):
        part = Group(prepared, trees, prices).settle(30.0, At(questions), lambda text: None)
        assert part.bound <= whole.value
        assert part.status == "feasible" or part == whole
        assert not part.clear or part.value >= whole.value


def test_a_time_limit_that_is_up_at_once() -> None:
    with pytest.raises(NothingDecidedError, match=r"the time limit of 1e-09 s was up"):
        solve(storeys(2), seconds=1e-9)


def test_a_time_limit_that_is_never_up_changes_nothing() -> None:
    scenario = storeys(2)
    best, _ = route_scenario(scenario)
    limited, solution = route_scenario(scenario, seconds=3600.0)
    assert solution.stopped is None
    assert limited == best


@pytest.mark.parametrize("phase", ["candidates", "model"])
def test_stopped_by_whoever_hears_of_the_progress(phase: str) -> None:
    """As Ctrl-C does it: from outside, in the midst of a phase."""
    scenario, stop = storeys(4), Stop()
    told: list[Progress] = []

    def tell(progress: Progress) -> None:
        told.append(progress)
        if progress.phase == phase and progress.runs > 3:
            stop.set()

    route, solution = route_scenario(scenario, tell=tell, stop=stop)
    assert solution.stopped == "interrupted"
    assert route.status == "feasible"
    assert 0 < route.counts.served < route.counts.heads
    assert {p.phase for p in told} <= {"candidates", "model"}


def test_two_processes_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario, stop = storeys(6), Stop()
    monkeypatch.setattr(apart, "WORTH_HEADS", 1)
    monkeypatch.setattr(apart, "CHUNK_HEADS", 8)
    monkeypatch.setattr(apart, "PROCESS_HEADS", 8)
    told: list[Progress] = []

    def tell(progress: Progress) -> None:
        told.append(progress)
        if progress.heads:
            stop.set()

    best, _ = route_scenario(scenario, processes=2)
    try:
        route, _ = route_scenario(scenario, tell=tell, stop=stop, processes=2)
    except NothingDecidedError:
        pytest.fail("some heads were done")
    assert route.objective.bound <= best.objective.value
    assert check_route(scenario, route).clean
    assert any(p.heads for p in told), "the processes count what they have done"
    assert all(p.all_heads == len(scenario.heads) and p.all_runs == len(scenario.runs) for p in told)


def test_every_line_says_what_closed_it() -> None:
    free, _ = route_scenario(storeys(4))
    assert set(free.proof.lines_closed) <= set(STEPS)
    assert free.proof.lines_closed["model_several_runs"] >= 4
    assert "unproven" not in free.proof.lines_closed
    styled, _ = route_scenario(read_scenario(SCENARIOS / "reading_room.json"))
    assert styled.proof.lines_closed["styles"] > 0
    single, _ = route_scenario(two_lines(0))
    assert single.proof.lines_closed == {"relaxation": 2}


def test_thin_lines_give_the_same_route(monkeypatch: pytest.MonkeyPatch) -> None:
    """With every line thinned as soon as it is known, even those that the model then wants whole."""
    cases = [make() for make in CASES.values()]
    whole = [route_scenario(scenario)[0] for scenario in cases]
    monkeypatch.setattr(tree, "WHOLE_ARCS", -1)
    thinned = 0
    for scenario, want in zip(cases, whole, strict=True):
        route, solution = route_scenario(scenario)
        assert route == want
        thinned += sum(not built.whole for t in solution.trees for built in t.graphs.values())
    assert thinned > 3


def test_thin_lines_with_a_low_price_for_unserved_heads(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = read_scenario(SCENARIOS / "minimal.json")
    weights = scenario.weights.model_copy(update={"unserved": 3500.0, "style": 900.0})
    cheap = scenario.model_copy(update={"weights": weights})
    want, _ = route_scenario(cheap)
    monkeypatch.setattr(tree, "WHOLE_ARCS", -1)
    assert route_scenario(cheap)[0] == want


def test_the_least_of_each_term_over_thin_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = long_floor(3, 6)
    want = solve(scenario)
    monkeypatch.setattr(tree, "WHOLE_ARCS", -1)
    thin = solve(scenario)
    assert thin.trees[0].thinned
    assert tree_least(thin.trees[0], thin.prices, PRICED) == tree_least(want.trees[0], want.prices, PRICED)
