"""What of a scenario has no geometry, as short texts that other formats can carry.

A drawing or a model holds places; all else of a record (its kind, size, band
...) and of the scenario (system, rules, prices, pins ...) goes beside as JSON.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

from router.scenario.formats import SCENARIO, format_faults
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from router.scenario.model import Scenario

GEOMETRY: Final[Mapping[str, tuple[str, ...]]] = {
    "runs": ("plan", "elevation"),
    "heads": ("at",),
    "obstructions": ("polygon", "elevations"),
    "ceilings": ("polygon", "elevation"),
    "keep_out": ("polygon", "elevations"),
}
"""Lists of a scenario, and the fields of their items that a model or drawing shows as places."""

SETTINGS: Final = ("version", "name", "story", "system", "rules", "weights", "prices", "pins")


def carried(scenario: Scenario) -> Iterator[tuple[str, dict[str, Any], dict[str, Any]]]:
    """Yield every item of the scenario's lists, divided.

    Yields
    ------
    which : str
        Name of the list, as ``heads``.
    record : dict
        The whole record in mm, defaults left out.
    beside : dict
        Its fields but the geometry. A ``keep_out`` without elevations holds ``"elevations": None``.
    """
    data = scenario_data(scenario)
    for which, places in GEOMETRY.items():
        for record in data.get(which, []):
            beside = {key: value for key, value in record.items() if key not in places}
            if which == "keep_out" and "elevations" not in record:
                beside["elevations"] = None
            yield which, record, beside


def settings_text(scenario: Scenario) -> str:
    """Give what belongs to the scenario as a whole, as one line of JSON, lengths in mm.

    Returns
    -------
    str
    """
    data = scenario_data(scenario)
    return packed({key: data[key] for key in SETTINGS if key in data})


def settings_of(text: str) -> dict[str, Any]:
    """Read what :func:`settings_text` wrote; older files of ours say no version.

    Raises
    ------
    ValueError
        If it is not one JSON object, or of a scenario's version that is not read.
    """
    data = unpacked(text)
    faults = format_faults(data, SCENARIO, lambda _: None)
    if faults:
        raise ValueError(str(faults[0]))
    return data


def packed(data: Mapping[str, Any]) -> str:
    """Give a record as one line of JSON.

    Returns
    -------
    str
        ASCII only: any format can carry it.
    """
    return json.dumps(data, separators=(",", ":"))


def unpacked(text: str) -> dict[str, Any]:
    """Read what :func:`packed` wrote.

    Raises
    ------
    ValueError
        If it is not one JSON object.
    """
    try:
        data = json.loads(text)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error
    if not isinstance(data, dict):
        raise ValueError("a JSON object expected")
    return data
