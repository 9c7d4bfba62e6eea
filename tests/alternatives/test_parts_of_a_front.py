"""What a front is made of: amounts, sums of fronts, a handful of points; and fronts of harder scenarios."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fronts_made import ducted, ground_of

from router.alternatives.choose import handful
from router.alternatives.component import Component, Reached
from router.alternatives.find import find_front, find_sweep
from router.alternatives.front import merged, trade_off
from router.alternatives.ground import lay_ground
from router.alternatives.ranked import amounts_of, rest_of
from router.alternatives.terms import BY_NAME, two_terms
from router.building.progress import quiet
from router.building.route import make_route, solve
from router.building.stop import NothingDecidedError, Stop
from router.readers import read_csv_folder
from router.scenario import parse_scenario, read_scenario

ROOT = Path(__file__).parents[2]
SCENARIOS = sorted((ROOT / "scenarios").glob("*.json"))
HOSPITAL = Path("/work/shared/open-data/hospital_level1")
PRICES: dict[str, Any] = {
    "minute": 0.9,
    "pipe": {"1": {"price": 9.0, "minutes": 6}, "1-1/2": {"price": 16.0, "minutes": 9}},
    "fittings": {
        kind: {"other": {"price": 8.0, "minutes": 12}} for kind in ("tee", "elbow_90", "elbow_45", "plug")
    },
    "drain": {"price": 40.0},
}


# with sizes by schedule the prices of sizes are the route's own, in the order in which heads leave
CASES = [(path, False) for path in SCENARIOS]
CASES += [(path, True) for path in SCENARIOS if path.stem in ("minimal", "plant_corridor")]


@pytest.mark.parametrize(("path", "priced"), CASES, ids=lambda v: getattr(v, "stem", "priced" if v else ""))
def test_amounts_of_a_choice_are_those_of_its_route(path: Path, priced: bool) -> None:
    scenario = read_scenario(path)
    if priced:
        data = json.loads(path.read_text(encoding="utf-8")) | {"prices": PRICES, "weights": {"price": 10}}
        data["runs"] = [run | {"size": "1-1/2"} for run in data["runs"]]
        scenario = parse_scenario(data, "made")
    solution = solve(scenario)
    amounts = amounts_of(solution.prepared, solution.trees, solution.plans, solution.prices)
    route = make_route(solution, scenario)
    for term in route.objective.terms:
        got = amounts[term.name] / (1000 if term.name == "pipe" else 1)
        assert got == pytest.approx(term.amount, abs=0.01), term.name
    cost = rest_of(amounts, solution.prices) / 1000 + amounts["unserved"] * solution.prices.unserved
    assert cost == pytest.approx(route.objective.value, abs=0.5)


def reached(*points: tuple[int, int, int]) -> list[Reached]:
    return [Reached(0, other, limited, rest) for limited, other, rest in points]


def test_sums_of_fronts_by_hand() -> None:
    a = reached((0, 9, 50), (1, 7, 40), (3, 6, 10))
    b = reached((0, 5, 1), (2, 4, 1))
    found = merged([a, b])
    # (2, 13) is beaten by (1, 12); (3, 11) is had twice, at 41 and at 11: the cheaper one stays
    assert [(p.limited, p.other, p.rest) for p in found] == [
        (0, 14, 51),
        (1, 12, 41),
        (3, 11, 11),
        (5, 10, 11),
    ]
    assert merged([a]) == a
    assert merged([]) == [Reached(0, 0, 0, 0)]


def test_a_handful() -> None:
    line = [(float(x), float(10 - x)) for x in range(11)]
    assert handful(line, 20) == list(range(11))
    assert handful(line, 3) == [0, 5, 10]
    assert handful(line, 5) == [0, 2, 5, 7, 10]
    assert handful(line, 4, [3]) == [0, 3, 6, 10]
    assert handful(line, 2, [3]) == [0, 10]
    assert len(handful(line, 1)) == 1
    knee = [(0.0, 100.0), (1.0, 40.0), (2.0, 5.0), (50.0, 4.0), (100.0, 0.0)]
    assert handful(knee, 3) == [0, 2, 4]
    assert handful([(3.0, 4.0)], 6) == [0]


def two_lines_apart() -> dict[str, Any]:
    """Two ducted lines far from each other."""
    a, b = ducted((3, 4)), ducted((4,))
    far = 20_000.0
    for head in b["heads"]:
        head |= {
            "id": f"far {head['id']}",
            "run": "C",
            "at": [head["at"][0], head["at"][1] + far, head["at"][2]],
        }
    for thing in b["obstructions"]:
        thing |= {"id": f"far {thing['id']}", "polygon": [[x, y + far] for x, y in thing["polygon"]]}
    line = b["runs"][0] | {"id": "C", "plan": [[x, y + far] for x, y in b["runs"][0]["plan"]]}
    return a | {
        "name": "two lines",
        "runs": [*a["runs"], line],
        "heads": [*a["heads"], *b["heads"]],
        "obstructions": [*a["obstructions"], *b["obstructions"]],
    }


def test_trees_apart_as_one_and_one_by_one() -> None:
    ground = ground_of(parse_scenario(two_lines_apart(), "made"))
    front = trade_off(ground, BY_NAME["fittings"], BY_NAME["level_changes"], quiet)
    assert front.proven
    assert not front.together
    both = Component(ground, (0, 1), front.axis, front.other)
    assert both.whole
    assert [(p.limited, p.other, p.rest) for p in both.points] == [
        (p.limited, p.other, p.rest) for p in front.points
    ]
    assert len(front.points) == 3


def test_heads_that_nothing_can_serve_do_not_count() -> None:
    data = ducted((3, 4))
    plain = ground_of(parse_scenario(data, "made"))
    data["heads"].append({"id": "far", "at": [3000, 9000, 2500], "run": "B"})
    lonely = ground_of(parse_scenario(data, "made"))
    fronts = [trade_off(g, BY_NAME["fittings"], BY_NAME["level_changes"], quiet) for g in (plain, lonely)]
    amounts = [[(p.limited, p.other) for p in front.points] for front in fronts]
    assert amounts[0] == amounts[1]
    assert {p.unserved for p in fronts[1].points} == {1}
    assert len(amounts[0]) > 1


def test_serving_heads_comes_before_all_even_where_it_is_cheap_not_to() -> None:
    scenario = parse_scenario(ducted((3,)) | {"weights": {"unserved": 1.0}}, "made")
    found = find_front(scenario, two_terms("fittings,level_changes"), 6, Stop(), quiet)
    assert {p.served for p in found.record.points} == {3}
    assert found.record.own.served == 0
    assert found.record.own.route == "route_own.json"


def test_a_term_that_has_no_weight_is_looked_for_all_the_same() -> None:
    data = json.loads((ROOT / "scenarios" / "clinic_corridor.json").read_text(encoding="utf-8"))
    data["heads"] = [head | {"kind": "upright", "at": [*head["at"][:2], 3500]} for head in data["heads"]]
    free = parse_scenario(data | {"weights": {"wet_drain": 0.0}, "obstructions": []}, "made")
    paid = parse_scenario(data | {"obstructions": []}, "made")
    grounds = [lay_ground(s, Stop(), quiet, ["wet_drain"]) for s in (free, paid)]
    fronts = [trade_off(g, BY_NAME["wet_drains"], BY_NAME["fittings"], quiet) for g in grounds]
    assert [(p.limited, p.other) for p in fronts[0].points] == [
        (p.limited, p.other) for p in fronts[1].points
    ]


def test_a_price_table_is_part_of_the_rest() -> None:
    prices = json.loads(json.dumps(PRICES)) | {"as_objective": True}
    scenario = parse_scenario(ducted((3,)) | {"prices": prices}, "made")
    found = find_front(scenario, two_terms("fittings,level_changes"), 6, Stop(), quiet)
    plain = find_front(
        parse_scenario(ducted((3,)), "made"), two_terms("fittings,level_changes"), 6, Stop(), quiet
    )
    assert [(p.first, p.second) for p in found.record.points] == [
        (p.first, p.second) for p in plain.record.points
    ]
    assert found.record.proven
    assert all(verdict.clean for verdict in found.verdicts.values())
    swept = find_sweep(scenario, two_terms("fittings,level_changes"), {"price": [1.0, 50.0]}, Stop(), quiet)
    assert [row.point for row in swept.record.sweep] == [0, 0]


class At(Stop):
    """Stops once it was asked so often."""

    def __init__(self, questions: int) -> None:
        super().__init__()
        self.questions = questions

    def asked(self) -> bool:
        self.questions -= 1
        if self.questions < 0:
            self.set()
        return super().asked()


def test_what_a_stop_leaves_is_not_called_proven() -> None:
    scenario = read_scenario(Path("scenarios/plant_corridor.json"))
    terms = two_terms("fittings,level_changes")
    whole = find_front(scenario, terms, 6, Stop(), quiet).record
    assert whole.proven
    assert len(whole.points) > 1
    stopped = 0
    for questions in (1, 4, 8, 16, 32, 10_000):
        try:
            found = find_front(scenario, terms, 6, At(questions), quiet).record
        except NothingDecidedError:
            continue
        if found.proven:
            continue
        stopped += 1
        # no point that it shows is better than the whole front
        for p in found.points:
            better = [q for q in whole.points if q.first <= p.first and q.second <= p.second]
            assert better or p.served < whole.points[0].served
        assert found.claim.startswith("Not proven, interrupted")
    assert found.proven
    assert stopped > 1


@pytest.mark.skipif(not HOSPITAL.exists(), reason="the hospital's tables are not here")
def test_a_level_of_a_real_building() -> None:
    scenario = read_csv_folder(HOSPITAL).scenario
    found = find_front(scenario, two_terms("fittings,level_changes"), 6, Stop(), quiet)
    assert found.record.proven
    assert all(verdict.clean for verdict in found.verdicts.values())
    points = [(p.first, p.second) for p in found.record.points]
    assert points == sorted(points, reverse=True)
    assert all(p.served == len(scenario.heads) for p in found.record.points)
