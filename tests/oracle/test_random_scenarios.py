"""Random scenarios across everything a scenario can say: 300 here, 10,000 in ``benchmarks/``.

Whatever is drawn: no exception, a route that the referee finds clean, a cost that an
oracle gives too where one applies, a true reason for whoever is not served, a true bound
wherever the search is stopped. The generator is the benchmark's own.
"""

from __future__ import annotations

import importlib
import sys
from collections import Counter
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import random_reasons
from hypothesis import HealthCheck, Phase, given, settings
from random_judge import (
    WrongError,
    by_enumeration,
    by_model,
    compare,
    fewer_heads,
    judge,
    other_ways,
    routed,
    same_again,
    stopped,
)

from router.scenario import parse_scenario

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.scenario.model import Scenario

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
made_random: Any = importlib.import_module("made_random")
random_mix: Any = importlib.import_module("random_mix")
sys.path.pop(0)

FIRST = 500_000
"""Seeds from here on; the campaign in ``benchmarks/`` takes others."""
FIXED, DRAWN, EACH = 240, 60, 12
"""Scenarios from seeds, those that hypothesis draws, and how many a test has."""

OPEN: frozenset[str] = frozenset()
"""Kinds of faults that are known and wait to be mended; nothing else is let through."""


def examined(scenario: Scenario, seed: int) -> Counter[str]:
    """Ask everything of one scenario; what applied."""
    judged = routed(scenario)
    judge(judged)
    found = Counter(compare(judged, ("enumeration", "whole model")[seed % 2]))
    found[judged.route.status] += 1
    if judged.route.counts.served < judged.route.counts.heads:
        found["unserved"] += 1
    if seed % 3 == 0:
        with known(found):
            found.update(random_reasons.verify(judged, 1))
        with known(found):
            found[f"stop: {stopped(judged, seed // 3 % judged.questions)}"] += 1
    if seed % 10 == 2:
        same_again(judged)
    if seed % 10 == 3:
        other_ways(judged)
    if seed % 10 == 4:
        fewer_heads(judged)
    return found


@contextmanager
def known(found: Counter[str]) -> Iterator[None]:
    """Let kinds of faults through that wait to be mended, counted."""
    try:
        yield
    except WrongError as error:
        if error.kind not in OPEN:
            raise
        found[f"stop: {error.kind}" if "stopped" in error.kind else error.kind] += 1


@pytest.mark.parametrize("first", range(FIRST, FIRST + FIXED, EACH))
def test_of_random_scenarios_everything_holds(first: int) -> None:
    found: Counter[str] = Counter()
    for seed in range(first, first + EACH):
        try:
            found += examined(made_random.valid(seed).scenario, seed)
        except WrongError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
    assert found["optimal"] > EACH // 4
    assert found["enumeration"] + found["whole model"] > EACH // 2
    assert sum(count for name, count in found.items() if name.startswith("stop: ")) == EACH // 3


@settings(
    max_examples=DRAWN,
    derandomize=True,
    deadline=None,
    database=None,
    report_multiple_bugs=False,
    phases=(Phase.explicit, Phase.generate),  # what fails is a seed of its own: shrinking takes minutes
    suppress_health_check=list(HealthCheck),
)
@given(made_random.strategy(range(600_000, 600_150)))
def test_what_hypothesis_draws_holds_too(scenario: Scenario) -> None:
    examined(scenario, len(scenario.heads))


def test_the_scenarios_are_of_all_kinds() -> None:
    seen: Counter[str] = Counter()
    for seed in range(FIRST, FIRST + FIXED):
        drawn = made_random.valid(seed)
        seen.update(random_mix.mix(drawn.scenario, drawn.data.get("units", "mm")))
    for group, words in {
        "system": ("wet", "dry", "preaction"),
        "joining": ("threaded", "welded", "grooved", "butt_weld", "by size"),
        "shape": made_random.SHAPES,
        "units": made_random.UNITS,
        "head": ("pendent", "upright", "sidewall", "dry pendent", "dry sidewall", "shift"),
        "angle to its main": ("30", "45", "60", "90", "120", "135", "another"),
        "angle in plan": ("45", "90", "another"),
        "keep-out": ("all", "outlets", "level_changes"),
        "also": ("ceiling", "prices"),
        "size": ("schedule", "given"),
    }.items():
        assert [word for word in words if not seen[f"{group}: {word}"]] == [], group


@pytest.mark.parametrize("seed", range(FIRST, FIRST + 30))
def test_units_of_a_file_do_not_matter(seed: int) -> None:
    """The same scenario drawn once more in each unit reads as the same, to a thousandth of a mm."""
    data = made_random.valid(seed).data
    if "units" in data:
        return
    want = parse_scenario(data, "made").model_dump()
    for unit in ("m", "in", "ft"):
        near(parse_scenario(made_random.in_unit(data, unit), "made").model_dump(), want)


def near(got: Any, want: Any) -> None:
    """Compare two nests of records and numbers."""
    if isinstance(want, dict):
        assert set(got) == set(want)
        for key in want:
            near(got[key], want[key])
    elif isinstance(want, (list, tuple)):
        assert len(got) == len(want)
        for one, other in zip(got, want, strict=True):
            near(one, other)
    elif isinstance(want, float):
        assert got == pytest.approx(want, abs=1e-3)
    else:
        assert got == want


# what the judge must see


def one_line() -> Scenario:
    """A line whose second head cannot be served: a wall stands before it at the only level."""
    return parse_scenario(
        {
            "name": "one line",
            "runs": [{"id": "A", "plan": [[0, 0], [3000, 0]], "elevation": 3000, "size": 32,
                      "band": [3000, 3000]}],
            "heads": [{"id": "near", "at": [600, 300, 2500]}, {"id": "far", "at": [2500, 300, 2500]}],
            "obstructions": [
                {"id": "wall", "polygon": [[1500, -500], [1600, -500], [1600, 500], [1500, 500]],
                 "elevations": [2900, 3100]}
            ],
            "rules": {"slide": 60.0},
        },
        "made",
    )  # fmt: skip


def test_both_oracles_see_a_cost_that_is_too_high_or_too_low() -> None:
    for oracle in (by_enumeration, by_model):
        assert oracle(routed(one_line()))
        for more in (-20, 20):
            judged = routed(one_line())
            judged.solution.bound += more
            with pytest.raises(WrongError, match=r"enumeration|whole model"):
                oracle(judged)


def test_a_reason_that_is_not_the_reason_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where taking away what is named changes nothing, the judge must say so."""
    scenario = one_line()
    far = next(h for h in routed(scenario).route.heads if h.id == "far")
    assert far.stopped_by[0].against == "wall"
    assert random_reasons.one(scenario, far) == "clearance: served without it"
    monkeypatch.setattr(random_reasons, "without", lambda scenario, head, attempt: scenario)
    with pytest.raises(WrongError, match="reason stays: clearance"):
        random_reasons.one(scenario, far)


def test_a_head_without_a_reason_and_a_bound_that_is_not_true_are_seen() -> None:
    judged = routed(one_line())
    heads = [h.model_copy(update={"stopped_by": []}) for h in judged.route.heads]
    objective = judged.route.objective
    low = objective.model_copy(update={"bound": objective.value - 50.0, "gap": 50.0})
    for update, kind in (({"heads": heads}, "no reason"), ({"objective": low}, "referee: objective")):
        judged.route = routed(one_line()).route.model_copy(update=update)
        with pytest.raises(WrongError, match=kind):
            judge(judged)
