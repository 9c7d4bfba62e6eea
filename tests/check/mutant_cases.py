"""The clean routes that are mutated: every scenario of ours solved, some in other ways, and those by hand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import build
import build_more
from mutant_work import Case

from router.building.route import route_scenario
from router.scenario import read_scenario

if TYPE_CHECKING:
    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
NAMES = tuple(sorted(path.stem for path in SCENARIOS.glob("*.json")))
BY_HAND = (
    build.line,
    build.dry_line,
    build.shared,
    build.tree,
    build.welded,
    build_more.priced,
    build_more.cheapest,
    build_more.stepped,
    build_more.sunk,
)

VARIANTS: dict[str, tuple[str, dict[str, Any], dict[str, Any]]] = {
    "reading_room, welded": ("reading_room", {"joining": "welded"}, {}),
    "minimal, butt weld": ("minimal", {"joining": "butt_weld"}, {}),
    "minimal, hoses": ("minimal", {}, {"allow_flexible": True, "styles": ["flexible_drop"]}),
    "clinic_corridor, crosses": (
        "clinic_corridor",
        {"water": "clean"},
        {"allow_cross": True, "styles": ["level_cross", "lowered_arm", "side_arm"]},
    ),
}
"""Name -> scenario, changes of its system, changes of its rules: what our scenarios leave out."""


def given(name: str) -> Scenario:
    """Return a scenario of ours, or a variant of one."""
    base, system, rules = VARIANTS.get(name, (name, {}, {}))
    scenario = read_scenario(SCENARIOS / f"{base}.json")
    return scenario.model_copy(
        update={
            "system": scenario.system.model_copy(update=system),
            "rules": scenario.rules.model_copy(update=rules),
        }
    )


def solved(name: str) -> Case:
    """Solve a scenario of ours, or a variant of one."""
    scenario = given(name)
    return Case(name, scenario, route_scenario(scenario)[0])


def by_hand() -> list[Case]:
    """Return the small routes that are made by hand."""
    return [Case(make.__name__, made.scenario(), made.route()) for make in BY_HAND for made in [make()]]
