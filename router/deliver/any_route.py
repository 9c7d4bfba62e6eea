"""A route from either kind of file: ours, or a person's plain drawing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.deliver.route_json import RouteError, belongs_to, loose_ends, older_note, read_route
from router.infer import infer_route
from router.readers.segments import read_segments

if TYPE_CHECKING:
    from pathlib import Path

    from router.infer import Remark
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
        With every fault of the drawing by row and column.
    RouteError
        If the route file cannot be used, or names things that the scenario has not.
    """
    if path.suffix.lower() == DRAWING:
        found = infer_route(scenario, read_segments(path))
        return AnyRoute(found.route, True, found.remarks)
    route = read_route(path)
    faults = loose_ends(scenario, route)
    if faults and whole:
        raise RouteError(faults, str(path))
    warning = ""
    if not belongs_to(scenario, route):
        warning = f"{path} was made for another scenario, or for an older state of it"
    older = older_note(route)
    if older:
        warning = "; ".join(part for part in (warning, f"{path} {older}") if part)
    return AnyRoute(route, False, [], warning)
