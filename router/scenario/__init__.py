"""What the designer gives: read, validated, in millimetres once.

Public names: :func:`read_scenario`, :func:`validate`, :func:`dump_scenario`,
:func:`notes`, :func:`scenario_schema`, :class:`ScenarioError`, :class:`Fault`.
"""

from router.scenario.errors import Fault, ScenarioError
from router.scenario.notes import notes
from router.scenario.read import parse_scenario, read_scenario, validate
from router.scenario.schema import scenario_schema, schema_text
from router.scenario.write import dump_scenario, scenario_text

__all__ = [
    "Fault",
    "ScenarioError",
    "dump_scenario",
    "notes",
    "parse_scenario",
    "read_scenario",
    "scenario_schema",
    "scenario_text",
    "schema_text",
    "validate",
]
