"""``route.json``: written the same for the same route, and read back with every fault named."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from router.deliver.files import save
from router.deliver.route_faults import ITEM, route_faults
from router.route.model import Route
from router.scenario.errors import Fault, Path, ScenarioError, place_text, value_text
from router.scenario.formats import ROUTE, format_faults
from router.scenario.load import Document, load
from router.scenario.write import scenario_text
from router.trade.styles import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.scenario.model import Scenario

MOST_DESCRIBED = 2_000
MOST_FAULTS = 20
"""A route has thousands of values; a message names so many faults and counts the rest."""

TERMS_SINCE = ("large_drain", "wet_drain", "price")
"""Terms of the objective that routes of 0.1.0 have not; their format is version 1 as well."""

MAX_BYTES = 128 * 1024 * 1024
"""A route takes about 2 MB for 1,000 heads, more than its scenario."""

_MM = frozenset(
    [
        "arm_level",
        "at",
        "built_to",
        "end",
        "has",
        "inlet",
        "length",
        "level",
        "levels",
        "make_up",
        "needs",
        "occupies",
        "short",
        "start",
        "station",
        "stations",
        "supply_level",
        "trapped",
    ]
)
_UNITS = {"pitch": "mm/m", "pipe_m": "m", "pipe_total_m": "m", "angle": "deg"}
_EXPECTED = {
    "extra_forbidden": "unknown field",
    "finite_number": "a finite number expected",
    "float_type": "a number expected",
    "int_type": "a whole number expected",
    "bool_type": "true or false expected",
    "string_type": "text expected",
    "list_type": "a list expected",
    "dict_type": "an object expected",
    "model_type": "an object expected",
    "tuple_type": "a list expected",
    "too_long": "too many values",
}


class RouteError(ScenarioError):
    """A route file that cannot be used; holds all its faults, its message the first of them."""

    def __init__(self, faults: Iterable[Fault], source: str = "") -> None:
        super().__init__(faults, source)
        lines = str(self).splitlines()
        if len(self.faults) > MOST_FAULTS:
            more = f"  and {len(self.faults) - MOST_FAULTS} more"
            self.args = ("\n".join([*lines[: MOST_FAULTS + 1], more]),)


def route_text(route: Route) -> str:
    """Give a route as JSON text, the same text for the same route.

    Returns
    -------
    str
        Lists of items have one item a line. Lengths in mm.
    """
    parts = []
    encode = json.JSONEncoder(ensure_ascii=False).encode
    for key, value in route.model_dump(mode="json").items():
        if key == "kept" and value is None:
            continue
        if isinstance(value, list) and value:
            rows = ",\n".join("    " + encode(item) for item in value)
            text = f"[\n{rows}\n  ]"
        else:
            text = encode(value)
        parts.append(f"  {json.dumps(key)}: {text}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def write_route(route: Route, path: str | FilePath) -> None:
    """Write ``route.json``, whole or not at all.

    Raises
    ------
    OutputError
        If the place cannot be written; an older file is then untouched.
    """
    save(FilePath(path), route_text(route))


def read_route(path: str | FilePath) -> Route:
    """Read a route file. Whether it keeps any rule is the referee's matter.

    Parameters
    ----------
    path
        JSON (or YAML with the same fields).

    Returns
    -------
    Route
        Lengths in mm.

    Raises
    ------
    RouteError
        With its faults: place, item, value and unit.
    """
    file = FilePath(path)
    try:
        document = load(file, MAX_BYTES)
    except ScenarioError as error:
        faults = [_of_a_route(fault) for fault in error.faults]
        raise RouteError(faults, str(file)) from error
    data = document.data
    faults = [replace(fault, item=_item(data, path)) for path, fault in document.faults]
    if not isinstance(data, dict):
        faults.append(Fault("(file)", "", value_text(data), "", "a route is one object", 1))
    else:
        faults = format_faults(data, ROUTE, document.line) or faults
    if faults:
        raise RouteError(faults, str(file))
    try:
        route = Route.model_validate_json(json.dumps(data), strict=True)
    except ValidationError as error:
        found = error.errors(include_url=False)
        broken = [_fault(dict(e), document) for e in found[:MOST_DESCRIBED]]
        if len(found) > MOST_DESCRIBED:
            message = f"faults in all; the first {MOST_DESCRIBED} are looked at"
            broken.insert(0, Fault("(file)", "", str(len(found)), "", message))
        raise RouteError(broken, str(file)) from error
    faults = route_faults(route, document.line)
    if faults:
        raise RouteError(faults, str(file))
    return route


def belongs_to(scenario: Scenario, route: Route) -> bool:
    """Whether the route says that it was made for exactly this scenario.

    Returns
    -------
    bool
        Compares the checksums of the scenario's text in mm.
    """
    return route.scenario_sha256 == hashlib.sha256(scenario_text(scenario).encode()).hexdigest()


def older_note(route: Route) -> str:
    """Say what a route of an older version does not hold; the referee misses it.

    Returns
    -------
    str
        Empty where nothing is missing.
    """
    written = {term.name for term in route.objective.terms}
    missing = [name for name in TERMS_SINCE if name not in written]
    if not missing:
        return ""
    by = route.versions.get("branch-drop-router", "an unknown version")
    return (
        f"was written by an older branch-router ({by}), which knew no {', '.join(missing)} and placed no "
        "hangers; the referee misses these terms. Route again: branch-router route SCENARIO -o ROUTE"
    )


def loose_ends(scenario: Scenario, route: Route) -> list[Fault]:
    """Find what a route refers to and nobody has; such a route can be judged but not drawn.

    Returns
    -------
    list of Fault
        Empty if everything that is named exists.
    """
    runs = {run.id for run in scenario.runs}
    heads = {head.id for head in scenario.heads}
    takeoffs = {takeoff.id for takeoff in route.takeoffs}
    pieces = {piece.id for piece in route.pieces}
    fittings = {fitting.id for fitting in route.fittings}
    faults: list[Fault] = []

    def named(place: str, item: str, names: list[str], known: set[str], what: str) -> None:
        faults.extend(
            Fault(place, item, name, "", f"there is no such {what}") for name in names if name not in known
        )

    for i, head in enumerate(route.heads):
        item = f"head {head.id}"
        named(f"heads[{i}].id", item, [head.id], heads, "head in the scenario")
        named(f"heads[{i}].takeoff", item, [head.takeoff] if head.takeoff else [], takeoffs, "takeoff")
        named(f"heads[{i}].run", item, [head.run] if head.run else [], runs, "run in the scenario")
        named(f"heads[{i}].style", item, [head.style] if head.style else [], {*STYLES}, "style")
    for i, takeoff in enumerate(route.takeoffs):
        place, item = f"takeoffs[{i}]", f"takeoff {takeoff.id}"
        named(f"{place}.run", item, [takeoff.run], runs, "run in the scenario")
        named(f"{place}.heads", item, takeoff.heads, heads, "head in the scenario")
        named(f"{place}.child_runs", item, takeoff.child_runs, runs, "run in the scenario")
        named(f"{place}.pieces", item, takeoff.pieces, pieces, "piece")
        named(f"{place}.fittings", item, takeoff.fittings, fittings, "fitting")
    for i, run in enumerate(route.runs):
        place, item = f"runs[{i}]", f"run {run.id}"
        named(f"{place}.id", item, [run.id], runs, "run in the scenario")
        named(f"{place}.takeoffs", item, run.takeoffs, takeoffs, "takeoff")
        for k, change in enumerate(run.level_changes):
            named(f"{place}.level_changes[{k}].fittings", item, change.fittings, fittings, "fitting")
            named(f"{place}.level_changes[{k}].pieces", item, change.pieces, pieces, "piece")
    for i, piece in enumerate(route.pieces):
        place, item = f"pieces[{i}]", f"piece {piece.id}"
        named(f"{place}.run", item, [piece.run], runs, "run in the scenario")
        ends = [name for name in piece.fittings if name is not None]
        named(f"{place}.fittings", item, ends, fittings, "fitting")
    for i, fitting in enumerate(route.fittings):
        place, item = f"fittings[{i}].run", f"fitting {fitting.id}"
        named(place, item, [fitting.run], runs, "run in the scenario")
    return faults


def _of_a_route(fault: Fault) -> Fault:
    message = fault.message.replace("a scenario in JSON or YAML", "a route in JSON")
    return Fault(fault.place, fault.item, fault.value, fault.unit, message, fault.line)


def _item(data: Any, path: Path) -> str:
    """Name the thing that a path lies in."""
    noun = ITEM.get(str(path[0])) if path else None
    if noun is None or len(path) < 2:
        return ""
    try:
        record = data[path[0]][path[1]]
    except (LookupError, TypeError):
        return ""
    name = record.get("id") if isinstance(record, dict) else None
    return f"{noun} {name}" if name is not None else f"{noun} without id"


def _fault(error: dict[str, Any], document: Document) -> Fault:
    path: Path = tuple(part for part in error["loc"] if part != "[key]")
    item = _item(document.data, path)
    kind, last = str(error["type"]), next((part for part in reversed(path) if isinstance(part, str)), "")
    if kind == "missing":
        message = f"{path[-1]} is missing" if isinstance(path[-1], str) else "too few values"
        return Fault(place_text(path), item, "", "", message, document.line(path))
    unit = "mm" if last in _MM else _UNITS.get(last, "")
    text = str(error["msg"])
    message = _EXPECTED.get(kind, text[0].lower() + text[1:])
    if kind == "literal_error":
        message = f"not accepted; {error['ctx']['expected']} expected"
    return Fault(place_text(path), item, value_text(error["input"]), unit, message, document.line(path))
