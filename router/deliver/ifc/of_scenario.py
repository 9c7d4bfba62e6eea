"""A scenario as a model: what the designer gives, nothing that was found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.deliver.ifc.given import Given
from router.deliver.ifc.lines import Lines
from router.route.model import CAUTION
from router.scenario.carried import carried, settings_text
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.scenario.model import Scenario


def scenario_ifc(scenario: Scenario) -> str:
    """Write a scenario as IFC4.

    Parameters
    ----------
    scenario
        Any, in mm.

    Returns
    -------
    str
        The file's text, the same for the same scenario. Places are its geometry; the rest of each
        record is carried in property sets named ``BranchRouter_...``.

    Raises
    ------
    OutputError
        If the library is not installed.
    """
    lines = Lines(scenario.name, scenario.name, "scenario of branch-drop-router")
    given = Given(lines, scenario, Tables(scenario.system.standard, scenario.rules.tables))
    wrote: dict[str, list[Any]] = {
        "runs": scenario.runs,
        "heads": scenario.heads,
        "obstructions": scenario.obstructions,
        "ceilings": scenario.ceilings,
        "keep_out": scenario.keep_out,
    }
    waiting = {which: iter(items) for which, items in wrote.items()}
    members = []
    for which, _, beside in carried(scenario):
        item = next(waiting[which])
        if which == "runs":
            members += given.run(item, beside)
        elif which == "heads":
            at = (float(item.at[0]), float(item.at[1]), float(item.at[2]))
            members.append(given.head(item, beside, at, "head", {}))
        elif which == "obstructions":
            given.obstruction(item, beside)
        elif which == "ceilings":
            given.ceiling(item, beside)
        else:
            given.zone(item, beside)
    given.head_types()
    settings = {"Settings": ("IfcText", settings_text(scenario))}
    given.sets.properties(lines.project, "BranchRouter_Scenario", settings)
    system = lines.system(f"{scenario.system.kind} sprinkler system", members)
    for owner in (lines.project, system):
        given.sets.properties(owner, "BranchRouter_Notice", {"Caution": ("IfcText", CAUTION)})
    return lines.text()
