"""The reader: a file becomes a checked scenario in millimetres, or a list of all its faults."""

from __future__ import annotations

import difflib
import json
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from router.scenario.cross_checks import cross_checks
from router.scenario.errors import Fault, Path, ScenarioError, place_text, value_text
from router.scenario.formats import SCENARIO, format_faults
from router.scenario.load import load
from router.scenario.model import Scenario
from router.scenario.notes import notes
from router.scenario.plain import Document, clean
from router.scenario.units import TO_MM, convert, field_at, record_at, unit_of
from router.scenario.view import ITEM, View

MOST_DESCRIBED = 2_000
"""A file with more faults is wrong in one way; to look for all of them would take minutes."""


def read_scenario(path: str | FilePath) -> Scenario:
    """Read a scenario file.

    Parameters
    ----------
    path
        JSON or YAML, told by its suffix or else by its content.

    Returns
    -------
    Scenario
        Checked, all lengths in mm (``units`` is ``mm``).

    Raises
    ------
    ScenarioError
        With every fault of the file.
    """
    file = FilePath(path)
    return _scenario(load(file), str(file))


def parse_scenario(data: Any, source: str = "") -> Scenario:
    """Check plain data (as ``json.load`` gives it) like a file.

    Returns
    -------
    Scenario
        In mm.

    Raises
    ------
    ScenarioError
        With every fault.
    """
    document = Document(data)
    clean(document, source, True)
    return _scenario(document, source)


def validate(path: str | FilePath) -> tuple[Scenario | None, list[Fault], list[str]]:
    """Read a scenario file and never raise on a faulty one.

    Returns
    -------
    scenario : Scenario or None
        In mm; ``None`` if there are faults.
    faults : list of Fault
    notes : list of str
    """
    try:
        scenario = read_scenario(path)
    except ScenarioError as error:
        return None, error.faults, []
    return scenario, [], notes(scenario)


def _scenario(document: Document, source: str) -> Scenario:
    data = document.data
    if not isinstance(data, dict):
        message = "a scenario is one object with name, runs and heads"
        raise ScenarioError([Fault("(file)", "", value_text(data), "", message, 1)], source)
    wrong = format_faults(data, SCENARIO, document.line)
    if wrong:
        raise ScenarioError(wrong, source)
    unit = data.get("units", "mm")
    known_unit = isinstance(unit, str) and unit in TO_MM
    in_mm = convert(Scenario, data, unit if known_unit else "mm")
    if known_unit:
        in_mm["units"] = "mm"
    faults = [replace(fault, item=_item(data, path)) for path, fault in document.faults]
    scenario, broken = _validated(in_mm)
    view: View | None = None
    if len(broken) > MOST_DESCRIBED:
        message = f"faults in all; the first {MOST_DESCRIBED} are told"
        faults.append(Fault("(file)", "", str(len(broken)), "", message))
        broken = broken[:MOST_DESCRIBED]
        faults += _described(broken, document, unit if known_unit else "mm", set())
        raise ScenarioError(faults, source)
    faults += _described(broken, document, unit if known_unit else "mm", {fault.place for fault in faults})
    if broken:
        view = _what_is_left(in_mm, broken, document, unit if known_unit else "mm")
    elif scenario is not None:
        view = View(scenario, unit=unit if known_unit else "mm", line=document.line)
    if view is not None:
        places = {fault.place for fault in faults}
        faults += [fault for fault in cross_checks(view) if fault.place not in places]
    if faults or scenario is None:
        faults.sort(key=lambda fault: fault.line or 0)
        raise ScenarioError(faults, source)
    return scenario


def _validated(data: Any) -> tuple[Scenario | None, list[Any]]:
    try:
        # By way of JSON text: strict there means no guessing ("yes" is not true,
        # "12" no length), yet a list may fill a tuple.
        return Scenario.model_validate_json(json.dumps(data), strict=True), []
    except ValidationError as error:
        return None, list(error.errors(include_url=False))


def _path(location: tuple[str | int, ...], data: Any) -> Path:
    """Keep of a validation error's location what is a path in the file.

    The location also names branches of unions; those are in no file.
    """
    path: list[str | int] = []
    here = data
    for k, part in enumerate(location):
        if isinstance(part, str) and "[" in part and not (isinstance(here, dict) and part in here):
            continue  # a branch of a union, such as list[...]
        if isinstance(here, dict) and isinstance(part, str):
            if part not in here and k < len(location) - 1:
                break
            here = here.get(part)
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here = here[part]
        elif isinstance(here, list) and isinstance(part, int):
            path.append(part)
            break
        else:
            break
        path.append(part)
    return tuple(path)


def _at(data: Any, path: Path) -> Any:
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _item(data: Any, path: Path) -> str:
    """Name the thing that a path lies in: ``head H4``."""
    if not path:
        return ""
    top = str(path[0])
    if top == "pins" and len(path) > 2:
        return f"{str(path[1]).removesuffix('s')} {path[2]}"
    if top not in ITEM:
        return top if top in {"system", "rules", "weights", "prices", "pins"} else ""
    if len(path) < 2:
        return ""
    item = _at(data, path[:2])
    name = item.get("id") if isinstance(item, dict) else None
    return f"{ITEM[top]} {name}" if name is not None else f"{ITEM[top]} without id"


def _described(broken: list[Any], document: Document, unit: str, known: set[str]) -> list[Fault]:
    """Spell validation errors as faults, one per place, values and units as in the file."""
    result: dict[Path, Fault] = {}
    data = document.data
    paths = [_path(tuple(error["loc"]), data) for error in broken]
    lists = {path for error, path in zip(broken, paths, strict=True) if error["type"] == "list_type"}
    for error, path in zip(broken, paths, strict=True):
        missing = error["type"] == "missing"
        if path in result or place_text(path) in known:
            continue
        if (
            error["type"] == "literal_error"
            and isinstance(_at(data, path), list)
            and sum(other[: len(path)] == path for other in paths) > 1
        ):
            continue  # one word or a list may stand here: what is wrong within the list is said
        found = field_at(Scenario, path)
        of_field = unit_of(found[2], found[1], unit) if found else ""
        value = "" if missing else value_text(_at(data, path))
        result[path] = Fault(
            place_text(path),
            _item(data, path),
            value,
            "" if missing else of_field,
            _message(error, path, of_field, path in lists),
            document.line(path),
        )
    return list(result.values())


_EXPECTED = {
    "string_type": "text in quotes expected",
    "bool_type": "true or false expected",
    "int_type": "a whole number expected",
    "int_from_float": "a whole number expected",
    "list_type": "a list expected",
    "dict_type": "an object expected",
    "model_type": "an object expected",
    "model_attributes_type": "an object expected",
    "tuple_type": "a list of numbers expected",
    "finite_number": "a finite number expected",
}

_LONG = {"at": "[x, y, z]", "plan": "[x, y]", "polygon": "[x, y]", "band": "[lowest, highest]"}


def _message(error: Any, path: Path, unit: str, or_list: bool) -> str:
    """Say what is wrong and what would be accepted; ``or_list``: a list of records would be, too."""
    kind = str(error["type"])
    last = str(path[-1]) if path else ""
    if kind == "extra_forbidden":
        owner = record_at(Scenario, path[:-1])
        fields = list(owner.model_fields) if owner else []
        near = difflib.get_close_matches(last[:40], fields, 1)  # its time grows with the square
        hint = f"; did you mean {near[0]}?" if near else f"; known here: {', '.join(fields)}"
        return f"unknown field{hint}"
    if kind == "missing" and isinstance(path[-1], int):
        return f"too few numbers; {_shape(path)} expected"
    if kind == "missing":
        return f"{last} is missing; it is required"
    if kind == "float_type":
        return f"a number{f' in {unit}' if unit else ''} expected"
    if kind == "too_long":
        return f"too many numbers; {_shape(path)} expected"
    if kind == "too_short":
        return f"at least {error['ctx']['min_length']} expected"
    if kind == "literal_error" and last != "size":
        more = f", or a list of {_few_fields(path)}" if or_list and _few_fields(path) else ""
        return f"not accepted; {error['ctx']['expected']} expected{more}"
    if last == "size":
        return 'not a size; a nominal size such as 25, "DN25" or "1 in.", or "schedule" expected'
    if kind == "model_type" and _few_fields(path):
        return f"an object with {_few_fields(path)} expected"
    if kind == "value_error":
        return str(error["msg"]).removeprefix("Value error, ")
    text = str(error["msg"])
    return _EXPECTED.get(kind, text[0].lower() + text[1:])


def _few_fields(path: Path) -> str:
    """Spell the fields of the record at a path where they are few: ``up_to and joining``."""
    owner = record_at(Scenario, path)
    names = list(owner.model_fields) if owner else []
    return f"{', '.join(names[:-1])} and {names[-1]}" if 1 < len(names) <= 3 else ""


def _shape(path: Path) -> str:
    names = [str(part) for part in path if isinstance(part, str)]
    return _LONG.get(names[-1] if names else "", "two numbers")


def _what_is_left(data: dict[str, Any], broken: list[Any], document: Document, unit: str) -> View | None:
    """Take out what is faulty by itself, so that the cross checks still see the rest."""
    bad_items: dict[str, set[int]] = {name: set() for name in ITEM}
    bad_keys: set[str] = set()
    for error in broken:
        path = _path(tuple(error["loc"]), data)
        top = str(path[0]) if path else ""
        if top in ITEM and len(path) > 1 and isinstance(path[1], int):
            bad_items[top].add(path[1])
        elif top:
            bad_keys.add(top)
    rest = {key: value for key, value in data.items() if key not in bad_keys}
    rest["name"] = rest.get("name", "unnamed")
    index: dict[str, list[int]] = {}
    dropped: dict[str, set[str]] = {}
    for name, bad in bad_items.items():
        items = rest.get(name)
        if not isinstance(items, list):
            continue
        index[name] = [i for i in range(len(items)) if i not in bad]
        dropped[name] = {str(_at(items, (i, "id"))) for i in bad}
        rest[name] = [items[i] for i in index[name]]
    scenario, still = _validated(rest)
    return None if still or scenario is None else View(scenario, index, dropped, unit, document.line)
