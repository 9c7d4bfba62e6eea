"""Whatever stands in the file, the answer is a scenario or a list of faults, never a crash."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from router.scenario import ScenarioError, notes, parse_scenario, read_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from pathlib import Path

ODD: list[Any] = [
    None, True, -1, 0, 1, 2.5, 1e6, -1e9, 10**400, "", "x", "B", "M", "1/2", [], [1], [1, 2], [[1, 2]],
    [[0, 0], [0, 0]], [[0, 0], [5, 0], [5, 5]], {}, {"id": "B"}, {"a": {"b": []}}, {"H1": {"run": "M"}},
    ["wet"], [{"up_to": 50, "joining": ["welded"]}], {"joining": [{"joining": "welded"}]}, {"kind": ["wet"]},
    {"fittings": {"tee": {"25": {"prise": 1}}}}, {"pipe": {"25": {"price": 1}}},
]  # fmt: skip
EXTRA = [
    "rules",
    "weights",
    "pins",
    "system",
    "units",
    "band",
    "supply",
    "tables",
    "shift",
    "clearance",
    "run",
    "kind",
    "joining",
    "prices",
]


def places(data: Any) -> list[tuple[Any, Any]]:
    """List every (container, key) of some data."""
    if isinstance(data, dict):
        items: list[tuple[Any, Any]] = list(data.items())
    elif isinstance(data, list):
        items = list(enumerate(data))
    else:
        return []
    return [(data, key) for key, _ in items] + [place for _, part in items for place in places(part)]


@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    changes=st.lists(
        st.tuples(st.integers(0, 10**6), st.sampled_from(ODD), st.none() | st.sampled_from(EXTRA)),
        min_size=1,
        max_size=4,
    )
)
def test_any_data_is_a_scenario_or_faults(
    changes: list[tuple[int, Any, str | None]], small: dict[str, Any]
) -> None:
    data = copy.deepcopy(small)
    for where, value, extra in changes:
        options = places(data)
        if not options:
            break
        container, key = options[where % len(options)]
        if extra is not None and isinstance(container, dict):
            key = extra
        container[key] = copy.deepcopy(value)
    try:
        scenario = parse_scenario(data)
    except ScenarioError as error:
        assert error.faults
        assert all(fault.place and fault.message for fault in error.faults)
        return
    notes(scenario)
    assert parse_scenario(scenario_data(scenario)) == scenario


@settings(max_examples=200, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    at=st.integers(0, 10**6),
    junk=st.text(alphabet='{}[]:,"\\0-.eN\n\t &*!#é', max_size=3),
    cut=st.integers(0, 9),
    suffix=st.sampled_from([".json", ".yaml", ""]),
)
def test_any_text_is_a_scenario_or_faults(
    at: int, junk: str, cut: int, suffix: str, small: dict[str, Any], tmp_path: Path
) -> None:
    text = json.dumps(small, indent=1)
    at %= len(text)
    file = tmp_path / f"fuzz{suffix}"
    file.write_text(text[:at] + junk + text[at + cut :])
    try:
        read_scenario(file)
    except ScenarioError as error:
        assert error.faults
