"""A scenario in metres, inches or feet is the same scenario: to the last digit, so nothing need be routed."""

from __future__ import annotations

import json
from typing import Any, get_args

import pytest

from metamorphic.fields import LENGTHS, PLAIN, kind_of, records
from metamorphic.quick import CASES, case
from metamorphic.transforms import MM, in_unit
from router.scenario import parse_scenario
from router.scenario.model import Scenario
from router.scenario.write import scenario_text

FULL: dict[str, Any] = {
    "name": "every length there is",
    "system": {"pressure": 5.0, "pitch_branch": 4.0, "pitch_main": 2.0, "kind": "dry"},
    "runs": [
        {"id": "A", "plan": [[0.0, 0.0], [9144.0, 0.0]], "elevation": 3048.0, "band": [2900.0, 3300.0],
         "supply_elevation": 3048.0},
        {"id": "B", "plan": [[0.0, 5000.0], [9000.0, 5000.0]], "elevation": 3000.0},
    ],
    "heads": [
        {"id": "H", "at": [1016.0, 254.0, 2700.0], "dry": True, "shift": 50.8, "exposed": 101.6},
        {"id": "S", "at": [3000.0, 300.0, 3000.0], "kind": "sidewall", "facing": 90.0, "k_factor": 8.0},
    ],
    "obstructions": [
        {"id": "O", "polygon": [[5000.0, 0.0], [5200.0, 0.0], [5200.0, 300.0]], "clearance": 12.7,
         "elevations": [3100.0, 3400.0]}
    ],
    "ceilings": [{"id": "C", "polygon": [[0.0, 0.0], [9000.0, 0.0], [9000.0, 9000.0]], "elevation": 2750.0}],
    "keep_out": [
        {"id": "K", "polygon": [[700.0, 0.0], [720.0, 0.0], [720.0, 300.0]], "elevations": [2500.0, 2600.0]}
    ],
    "rules": {
        "clearance": 30.0, "piece_clearance": 31.0, "ceiling_clearance": 32.0, "working_allowance": 12.0,
        "alignment": 4.0, "reach": 4000.0, "slide": 500.0, "station_step": 50.0, "rise": 1200.0,
        "arm_unsupported": 700.0, "hanger_spacing": 3500.0, "hanger_to_end": 900.0,
        "stock_lengths": [6000.0, 6400.0], "saw_cut": 3.175, "outlet_spacing": 150.0,
        "hose_lengths": [700.0, 1000.0], "hose_bend_radius": 180.0, "hose_max_bends": 3,
        "square_tolerance_deg": 2.0, "tables": {},
    },
    "prices": {"minute": 1.0, "pipe": {"25": {"price": 5.0, "minutes": 2.0}}},
    "weights": {"moved": 0.6, "pipe": 22.0},
    "pins": {
        "heads": {"H": {"stations": [900.0, 1100.0]}},
        "runs": {
            "A": {"levels": [{"stations": [0.0, 100.0], "level": 3048.0}], "no_offset": [[200.0, 400.0]]},
            "B": {"level": 3000.0},
        },
    },
}  # fmt: skip
"""Lengths that are whole in mm; ``test_the_full_one_is_full`` keeps it so that every length stands in it."""


def test_the_full_one_is_full() -> None:
    """Every field that is a length has a value here that is not its default."""
    scenario = parse_scenario(FULL, "full")

    def given(record: Any) -> set[tuple[str, str]]:
        found = {(type(record).__name__, name) for name in record.model_fields_set}
        for name in type(record).model_fields:
            value = getattr(record, name)
            parts = (
                value.values() if isinstance(value, dict) else value if isinstance(value, list) else [value]
            )
            for part in parts:
                if hasattr(part, "model_fields_set"):
                    found |= given(part)
        return found

    stand = given(scenario)
    for record in records():
        for name in record.model_fields:
            if kind_of(record.__name__, name) in LENGTHS:
                assert (record.__name__, name) in stand, f"{record.__name__}.{name} is missing in FULL"


@pytest.mark.parametrize("unit", [unit for unit in MM if unit != "mm"])
@pytest.mark.parametrize("name", ["full", *CASES])
def test_the_unit_changes_nothing(name: int | str, unit: str) -> None:
    data = FULL if name == "full" else case(name)
    other = in_unit(data, unit)
    assert json.dumps(other) != json.dumps(data)
    assert scenario_text(parse_scenario(other, "other")) == scenario_text(parse_scenario(data, "mm"))


def test_there_are_no_other_units() -> None:
    assert set(get_args(Scenario.model_fields["units"].annotation)) == set(MM)


def test_values_of_tables_are_in_the_unit_of_the_table() -> None:
    """``rules.tables`` says so: the file's unit does not touch them."""
    assert kind_of("Rules", "tables") == PLAIN
    tables = {"nipple_shouldered": {"25": 2.75}}
    data = {**FULL, "rules": {**FULL["rules"], "tables": tables}}
    assert parse_scenario(in_unit(data, "in"), "in").rules.tables == tables
