"""Dynamic programme, CP-SAT and HiGHS on one run, each against plain enumeration."""

from __future__ import annotations

import math
from dataclasses import replace

import highspy
import numpy as np
import pytest
from exhaustive import Enumeration, arc_cost
from made import PRICES, graph_at_random, graph_of, graph_of_short_lives, line, thinned

from router.bounds.dynamic import DynamicProgramme
from router.building.route import route_scenario
from router.check.referee import check_route
from router.model.choice import Answer, Choice
from router.profiles.graph import NEVER, Arc, Item, LongLow, Prices, RunGraph

LINES = range(220)
CLOSE = 3
"""Thousandths of a point: two sums of rounded floats may differ by their last digit."""


def programme(graph: RunGraph, prices: Prices) -> DynamicProgramme:
    return DynamicProgramme(graph, prices, np.zeros(len(graph.arcs), dtype=np.int64))


def choice(graph: RunGraph, prices: Prices) -> Answer:
    """The whole model, nothing pruned."""
    r = graph.run
    costs = np.array([arc_cost(arc, prices) for arc in graph.arcs], dtype=np.int64)
    whole = Choice(
        {r: graph}, {r: list(range(len(graph.arcs)))}, {r: None}, {r: list(range(len(graph.items)))},
        {r: costs}, prices,
    )  # fmt: skip
    return whole.solve()


def built_or_not(oracle: Enumeration, *, styles: bool = False) -> float:
    """Least cost of the run, or of leaving it out."""
    ways = [oracle.least(level, styles=styles) for level in range(oracle.graph.levels)]
    return min([*ways, oracle.unserved_cost(0)])


def same_table(graph: RunGraph, prices: Prices) -> int:
    """Compare every supply level; returns how many have a way."""
    oracle, table = Enumeration(graph, prices), programme(graph, prices).table()
    want = [oracle.least(level) for level in range(graph.levels)]
    for w, got in zip(want, table, strict=True):
        if w == math.inf:
            assert got >= NEVER
        else:
            assert got == pytest.approx(w, abs=CLOSE)
    return sum(w < math.inf for w in want)


@pytest.mark.parametrize("tens", range(0, len(LINES), 10))
def test_table_of_small_lines(tens: int) -> None:
    assert sum(same_table(*graph_of(line(seed))) for seed in LINES[tens : tens + 10])


def test_the_lines_are_of_many_kinds() -> None:
    seen, traps, pitched, left, levels = set(), 0, 0, 0, 0
    for seed in LINES[::5]:
        scenario = line(seed)
        graph, prices = graph_of(scenario)
        seen |= {arc.style for arc in graph.arcs}
        traps += graph.traps
        pitched += bool(scenario.system.pitch_branch)
        levels = max(levels, graph.levels)
        left += built_or_not(Enumeration(graph, prices)) > 1000 * prices.unserved
    assert {"side_arm", "return_bend", "raised_arm", "lowered_arm", "straight_drop", "sprig"} <= seen
    assert {"shared_nipple", "level_cross"} & seen
    assert min(traps, pitched, left, len(LINES[::5]) - left) > 3
    assert levels > 4


@pytest.mark.parametrize("hundred", range(0, 600, 100))
def test_table_of_random_graphs_by_true_enumeration(hundred: int) -> None:
    """Every way one by one; and the path that the programme names costs what it says."""
    ways = 0
    for seed in range(hundred, hundred + 100):
        graph = graph_at_random(seed)
        oracle, dp = Enumeration(graph, PRICES), programme(graph, PRICES)
        for level in range(graph.levels):
            every = list(oracle.every(level))
            ways += len(every)
            least = min((w.cost for w in every), default=math.inf)
            assert oracle.least(level) == least  # the oracle's own two ways agree
            got = int(dp.table()[level])
            if least == math.inf:
                assert got >= NEVER
                continue
            assert got == pytest.approx(least, abs=CLOSE)
            path = dp.path(level)
            same = [w for w in every if w.arcs == path.arcs]
            assert same
            assert min(w.cost for w in same) == pytest.approx(least, abs=CLOSE)
            assert path.unserved == same[0].unserved
            assert path.cost + oracle.moved(level) == pytest.approx(least, abs=CLOSE)
    assert ways > 300


def check_through(graph: RunGraph, prices: Prices) -> int:
    oracle, dp = Enumeration(graph, prices), programme(graph, prices)
    least = [math.inf] * len(graph.arcs)
    start = np.full(graph.levels, NEVER, dtype=np.int64)
    for level in range(graph.levels):
        if oracle.moved(level) < math.inf:
            start[level] = int(oracle.moved(level))
        for way in oracle.every(level):
            for k in way.arcs:
                least[k] = min(least[k], way.cost)
    got = dp.through(start)
    for k, want in enumerate(least):
        if want == math.inf:
            assert got[k] >= NEVER - 10**12
        else:
            assert got[k] + dp.base == pytest.approx(want, abs=CLOSE)
    return sum(want < math.inf for want in least)


@pytest.mark.parametrize("hundred", range(0, 300, 100))
def test_through_costs_of_random_graphs(hundred: int) -> None:
    assert sum(check_through(graph_at_random(seed), PRICES) for seed in range(hundred, hundred + 100)) > 150


@pytest.mark.parametrize("hundred", range(0, 600, 100))
def test_items_that_follow_each_other_and_weigh_more_or_less(hundred: int) -> None:
    for seed in range(hundred, hundred + 100):
        graph = graph_of_short_lives(seed)
        same_table(graph, PRICES)
        dp = programme(graph, PRICES)
        for level in range(graph.levels):
            if dp.value[0, level, 0, 0] < NEVER:
                path = dp.path(level)
                missed = sum(graph.items[i].weight for i in path.unserved) * PRICES.unserved * 1000
                assert missed <= path.cost < missed + PRICES.unserved * 1000
        check_through(graph, PRICES)


def test_a_jump_over_a_whole_life_pays_for_whom_it_passes() -> None:
    # X is served at once and open until 2; the offset from 1 to 5 passes all that serves Y (3 heads)
    at = [100_000 * i for i in range(7)]
    nothing = (1.0, *[0.0] * 10)
    arcs = [
        Arc("takeoff", at[0], at[1], 0, 0, nothing, (0,)),
        Arc("takeoff", at[1], at[2], 0, 0, nothing, (0,)),
        Arc("takeoff", at[3], at[4], 0, 0, nothing, (1,)),
        Arc("offset", at[1], at[5], 0, 1, nothing),
        Arc("takeoff", at[5], at[6], 1, 1, nothing, (2,), ends=True),
    ]
    items = [Item("X", 1), Item("Y", 3), Item("Z", 1)]
    ok = np.ones((6, 2), dtype=bool)
    graph = RunGraph(0, np.array(at, dtype=np.int64), ok, arcs, items, False, np.array([0.0, -1.0]))
    graph.index_arcs()
    dp = programme(graph, PRICES)
    # takeoff of X, offset, takeoff of Z: 3 fittings; Y's 3 heads are missed
    assert dp.table()[0] == 1000 * (3 * PRICES.unserved + 3 * PRICES.fitting)
    assert dp.path(0).arcs == (0, 3, 4)
    assert dp.path(0).unserved == (1,)
    assert same_table(graph, PRICES) == 1
    assert check_through(graph, PRICES) == 3


@pytest.mark.parametrize("seed", range(0, 120, 3))
def test_through_costs_of_thinned_lines(seed: int) -> None:
    graph, prices = graph_of(line(seed))
    check_through(thinned(graph, 34, seed), prices)


@pytest.mark.parametrize("tens", range(0, len(LINES), 10))
def test_whole_model_of_small_lines(tens: int) -> None:
    for seed in LINES[tens : tens + 10]:
        graph, prices = graph_of(line(seed))
        weight = [0.0, 10.0, 700.0][seed % 3]  # 700: dear enough to change the choice
        prices = replace(prices, style=weight)
        answer = choice(graph, prices)
        assert answer.status == "optimal"
        assert answer.value == answer.bound
        want = built_or_not(Enumeration(graph, prices), styles=weight > 0)
        assert answer.value == pytest.approx(want, abs=CLOSE)


def test_whole_model_of_random_graphs() -> None:
    for seed in range(150):
        graph = graph_at_random(seed)
        for prices in (replace(PRICES, style=0.0), replace(PRICES, style=900.0)):
            answer = choice(graph, prices)
            want = built_or_not(Enumeration(graph, prices), styles=prices.style > 0)
            assert answer.value == pytest.approx(want, abs=CLOSE)


def test_a_dear_style_changes_some_choice() -> None:
    changed = 0
    for seed in range(0, 60):
        graph, prices = graph_of(line(seed))
        oracle = [Enumeration(graph, replace(prices, style=w)) for w in (0.0, 700.0)]
        cheap, dear = (built_or_not(o, styles=True) for o in oracle)
        changed += dear - cheap > 700_000 + CLOSE
    assert changed > 3


def by_highs(graph: RunGraph, prices: Prices) -> float:
    """Path flow over (position, level, trapped), each arc split by trapped flag, solved by HiGHS."""
    highs = highspy.Highs()  # type: ignore[no-untyped-call]
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 1e-6)
    oracle = Enumeration(graph, prices)
    goes_in: dict[tuple[int, int, bool], list[highspy.highs.highs_var]] = {}
    goes_out: dict[tuple[int, int, bool], list[highspy.highs.highs_var]] = {}
    serving: list[list[highspy.highs.highs_var]] = [[] for _ in graph.items]
    starts = []
    for level in range(graph.levels):
        if oracle.moved(level) < math.inf:
            starts.append(highs.addBinary(obj=oracle.moved(level) / 1000))
            goes_in.setdefault((0, level, False), []).append(starts[-1])
    flags = (False, True) if graph.traps else (False,)
    for trapped in flags:
        for i, step in enumerate(oracle.step):
            for level in map(int, np.flatnonzero(graph.level_ok[i])):
                use = highs.addBinary(obj=step / 1000)
                goes_out.setdefault((i, int(level), trapped), []).append(use)
                goes_in.setdefault((i + 1, int(level), trapped), []).append(use)
        for (i, la), arcs in oracle.leaving.items():
            for k in arcs:
                arc = graph.arcs[k]
                now, drain = oracle.trap(arc, trapped)
                use = highs.addBinary(obj=(oracle.cost[k] + drain) / 1000)
                goes_out.setdefault((i, la, trapped), []).append(use)
                onto = oracle.goes[k]
                if onto is not None:
                    goes_in.setdefault((onto, arc.lb, now), []).append(use)
                for item in arc.items:
                    serving[item].append(use)
    for node in sorted(set(goes_in) | set(goes_out)):
        highs.addConstr(
            sum(goes_in.get(node, []), highspy.highs.highs_linear_expression())
            == sum(goes_out.get(node, []), highspy.highs.highs_linear_expression())
        )
    if starts:
        highs.addConstr(sum(starts, highspy.highs.highs_linear_expression()) <= 1)
    for item, uses in enumerate(serving):
        left = highs.addBinary(obj=oracle.missed[item] / 1000)
        highs.addConstr(sum(uses, highspy.highs.highs_linear_expression()) + left == 1)
    highs.run()
    assert highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return float(highs.getInfo().objective_function_value) * 1000


@pytest.mark.parametrize("seed", range(45))
def test_highs_finds_the_same_optimum(seed: int) -> None:
    graph, prices = graph_of(line(1000 + seed))
    dp = programme(graph, prices).table().min()
    oracle = Enumeration(graph, prices)
    best = min(int(dp), oracle.unserved_cost(0))
    assert by_highs(graph, prices) == pytest.approx(best, abs=CLOSE + 1e-6 * best)


def test_bound_of_a_line_that_can_serve_nobody_is_their_price() -> None:
    found = 0
    for seed in range(120):
        scenario = line(seed)
        graph, prices = graph_of(scenario)
        oracle = Enumeration(graph, prices)
        if min(oracle.least(level) for level in range(graph.levels)) == math.inf:
            route, solution = route_scenario(scenario)
            assert route.counts.served == 0
            assert solution.bound == oracle.unserved_cost(0) == 1000 * route.objective.value
            found += 1
    assert found


@pytest.mark.parametrize("tens", range(0, 100, 10))
def test_route_of_a_small_line_is_the_oracles_and_clean(tens: int) -> None:
    for seed in range(400 + tens, 410 + tens):
        scenario = line(seed)
        graph, prices = graph_of(scenario)
        route, solution = route_scenario(scenario)
        assert [f.text for f in check_route(scenario, route).breaks if f.rule != "served"] == []
        assert solution.bound / 1000 == pytest.approx(route.objective.value, abs=0.05)
        # arms of one line may clash: then it may only be dearer
        want = built_or_not(Enumeration(graph, prices), styles=True)
        assert route.objective.value >= want / 1000 - 0.05
        if "model" not in solution.closed_by:
            assert route.objective.value == pytest.approx(want / 1000, abs=0.05)


def large_due(graph: RunGraph, arcs: tuple[int, ...], lows: list[LongLow]) -> int:
    """How many of the descents on a way need the large drain, read off the way itself."""
    due, trapped = 0, False
    for n, k in enumerate(arcs):
        arc = graph.arcs[k]
        low = next((low for low in lows if low.arc == k), None)
        if low is not None and not (graph.traps and trapped):
            for j in arcs[n + 1 :]:
                later = graph.arcs[j]
                if later.ends:
                    due += later.b >= low.until
                    break
                if (later.lb > later.la or (low.any_change and later.lb < later.la)) and later.a < low.until:
                    break
            else:
                raise AssertionError("a way ends")
        if arc.la != arc.lb:
            trapped = arc.lb < arc.la
    return due


def test_the_model_charges_large_drains_as_a_way_shows_them() -> None:
    compared = charged = 0
    prices = replace(PRICES, style=0.0, drain=0.0, large_drain=150.0, drain_price=0.0, large_drain_price=5.0)
    for seed in range(400):
        graph = replace(graph_at_random(seed), wet=False)
        rng = np.random.default_rng(seed)
        lows = [
            LongLow(k, int(rng.choice(graph.positions)) + 1, bool(rng.integers(2)))
            for k, arc in enumerate(graph.arcs)
            if arc.lb < arc.la
        ]
        oracle = Enumeration(graph, prices)
        each = prices.due_large()
        best = float(oracle.unserved_cost(0))
        for level in range(graph.levels):
            for way in oracle.every(level):
                more = large_due(graph, way.arcs, lows)
                if way.cost + more * each < best:
                    best, charged_here = way.cost + more * each, more
                    compared += 1
        costs = np.array([arc_cost(arc, prices) for arc in graph.arcs], dtype=np.int64)
        answer = Choice(
            {0: graph}, {0: list(range(len(graph.arcs)))}, {0: None}, {0: list(range(len(graph.items)))},
            {0: costs}, prices, long_lows={0: lows},
        ).solve()  # fmt: skip
        assert answer.value == pytest.approx(best, abs=CLOSE)
        charged += best < oracle.unserved_cost(0) and charged_here > 0
    assert compared > 400
    assert charged
