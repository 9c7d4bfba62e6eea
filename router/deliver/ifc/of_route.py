"""A route as a model: its system of pipes, fittings and heads, connected."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.cutlist.ends import Ends
from router.deliver.ifc.bodies import Bodies
from router.deliver.ifc.given import Given
from router.deliver.ifc.hanging import hanger
from router.deliver.ifc.lines import Lines
from router.deliver.ifc.meets import Meets, Part
from router.deliver.ifc.parts import Parts
from router.deliver.ifc.ports import connect
from router.deliver.ifc.sets import identifier, word
from router.deliver.segments_csv import roles
from router.scenario.carried import carried
from router.trade.tables import Tables

if TYPE_CHECKING:
    from router.deliver.ifc.lines import Entity, Xyz
    from router.deliver.ifc.sets import Value
    from router.route.model import HeadResult, Route
    from router.scenario.model import Head, Scenario


def route_ifc(scenario: Scenario, route: Route) -> str:
    """Write a route as IFC4.

    Parameters
    ----------
    scenario
        The one that the route answers, in mm.
    route
        Computed or read from a drawing.

    Returns
    -------
    str
        The file's text, the same for the same route. One ``IfcPipeSegment`` for each piece (a dry
        head's barrel is one, and no part of its terminal), one ``IfcPipeFitting`` for each fitting,
        one ``IfcFireSuppressionTerminal`` for each head of the scenario, served or not.

    Raises
    ------
    OutputError
        If the library is not installed.
    """
    lines = Lines(route.scenario, scenario.name, "route of branch-drop-router")
    tables = Tables(scenario.system.standard, scenario.rules.tables)
    given, ends = Given(lines, scenario, tables), Ends(scenario, route, tables)
    meets = Meets(ends, Bodies(ends))
    parts = Parts(given, ends, meets, roles(route))
    made: dict[Part, Entity] = {}
    origins: dict[Part, Xyz] = {}
    for piece in route.pieces:
        part = Part("piece", piece.id)
        made[part], origins[part] = parts.piece(piece), piece.start
    for fitting in route.fittings:
        part = Part("fitting", fitting.id)
        made[part], origins[part] = parts.fitting(fitting), fitting.at
    _heads(given, route, made, origins)
    parts.types()
    given.head_types()
    connect(lines, meets, made, origins)
    hangers = [hanger(given, tables, item, meets.pieces.get(item.piece)) for item in route.hangers]
    system = lines.system(f"{scenario.system.kind} sprinkler system", [*made.values(), *hangers])
    about: dict[str, Value | None] = {
        "Caution": ("IfcText", route.caution),
        "Scenario": ("IfcText", route.scenario),
        "ScenarioSha256": word(route.scenario_sha256),
        "Status": word(route.status),
    }
    for owner in (lines.project, system):
        given.sets.properties(owner, "BranchRouter_Notice", about)
    return lines.text()


def _heads(given: Given, route: Route, made: dict[Part, Entity], origins: dict[Part, Xyz]) -> None:
    results = {result.id: result for result in route.heads}
    besides = [beside for which, _, beside in carried(given.scenario) if which == "heads"]
    for head, beside in zip(given.scenario.heads, besides, strict=True):
        result, part = results.get(head.id), Part("head", head.id)
        origins[part] = result.inlet if result is not None else head.at
        served = result is not None and result.served
        role = "head" if served else "head without supply"
        made[part] = given.head(head, beside, origins[part], role, _said(head, result))


def _said(head: Head, result: HeadResult | None) -> dict[str, Value | None]:
    """Say what became of a head; of one without supply, what stopped its nearest attempts."""
    if result is None or not result.served:
        why = "; ".join(attempt.text for attempt in result.stopped_by) if result is not None else ""
        return {"Served": ("IfcBoolean", False), "StoppedBy": ("IfcText", why) if why else None}
    return {
        "Served": ("IfcBoolean", True),
        "Takeoff": identifier(result.takeoff) if result.takeoff is not None else None,
        "Run": identifier(result.run) if result.run is not None else None,
        "Style": word(result.style) if result.style is not None else None,
    }
