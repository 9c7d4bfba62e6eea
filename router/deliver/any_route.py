"""A route from either kind of file: ours, or a person's plain drawing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.deliver.drawing_unit import other_unit
from router.deliver.route_faults import unsaid_joinings
from router.deliver.route_json import RouteError, belongs_to, loose_ends, older_note, read_route
from router.infer import infer_route
from router.readers.segments import read_segments
from router.scenario.errors import Fault, ScenarioError
from router.trade.tables import Tables

if TYPE_CHECKING:
    from pathlib import Path

    from router.infer import Inferred, Remark
    from router.readers.segments import Segment
    from router.route.model import Route
    from router.scenario.model import Scenario

DRAWING = ".csv"


@dataclass(frozen=True)
class AnyRoute:
    """A route, where it came from, and what there is to say of the reading."""

    route: Route
    drawn: bool
    remarks: list[Remark] = field(default_factory=list)
    warning: str = ""


def read_any_route(scenario: Scenario, path: Path, *, whole: bool = True) -> AnyRoute:
    """Read ``route.json``, or a CSV drawing of straight pipes whose fittings are inferred.

    Parameters
    ----------
    scenario
        The one that the route answers.
    path
        ``.csv`` is a drawing, anything else a route file.
    whole
        Refuse a route that names what nobody has; the referee can judge one.

    Raises
    ------
    ScenarioError
        With every fault of the drawing by row and column; or it is in another unit.
    RouteError
        If the route file cannot be used, names things that the scenario has not, or leaves open
        how a run is joined.
    """
    if path.suffix.lower() == DRAWING:
        segments = read_segments(path)
        in_another = other_unit(scenario, segments, path.name)
        if in_another:
            raise ScenarioError(in_another, str(path))
        found = _inferred(scenario, segments, path)
        return AnyRoute(found.route, True, found.remarks)
    route = read_route(path)
    faults = unsaid_joinings(scenario, route) + (loose_ends(scenario, route) if whole else [])
    if faults:
        raise RouteError(faults, str(path))
    warning = ""
    if not belongs_to(scenario, route):
        warning = f"{path} was made for another scenario, or for an older state of it"
    older = older_note(route)
    if older:
        warning = "; ".join(part for part in (warning, f"{path} {older}") if part)
    return AnyRoute(route, False, [], warning)


def _inferred(scenario: Scenario, segments: list[Segment], path: Path) -> Inferred:
    """Infer the route; sizes in which no pipe is made are named where it cannot be done with them."""
    try:
        return infer_route(scenario, segments)
    except ValueError as error:
        made = Tables(scenario.system.standard, scenario.rules.tables).sizes
        message = f"no {scenario.system.standard} pipe is made in it; DN {', '.join(map(str, made))}"
        odd = [
            Fault(
                f"{path.name} row {one.row}, column size",
                f"pipe {one.id}",
                f"{one.dn}",
                "DN",
                message,
                one.row,
            )
            for one in segments
            if one.dn not in made
        ]
        if isinstance(error, ScenarioError) or not odd:
            raise
        raise ScenarioError(odd, str(path)) from error
