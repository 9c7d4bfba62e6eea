"""The whole corpus."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bad_input import model_cases, route_cases, scenario_cases, table_cases, text_cases

if TYPE_CHECKING:
    from bad_input.case import Case

CASES: list[Case] = [
    *scenario_cases.CASES,
    *text_cases.CASES,
    *route_cases.CASES,
    *table_cases.CASES,
    *model_cases.CASES,
]
