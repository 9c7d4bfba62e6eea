"""Whether two scenarios are the same within a tolerance; used where a file goes out and comes in again."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING, Any

from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from router.scenario.model import Scenario

WITHIN_MM = 1.0


def differences(one: Scenario, two: Scenario, within: float = WITHIN_MM) -> list[str]:
    """Give one line for each place where they differ; items are matched by id, in any order.

    Lengths may differ by ``within`` mm; a polygon may begin at another corner, and turn the other way.
    """
    return list(_differ("", _by_id(scenario_data(one)), _by_id(scenario_data(two)), within))


def _by_id(data: dict[str, Any]) -> dict[str, Any]:
    for key, value in data.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            data[key] = {item["id"]: item for item in value}
    return data


def _differ(place: str, one: Any, two: Any, within: float) -> list[str]:
    if isinstance(one, dict) and isinstance(two, dict):
        found = []
        for key in sorted({*one, *two}):
            here = f"{place}/{key}"
            if key not in one or key not in two:
                found.append(f"{here}: {one.get(key, 'nothing')} and {two.get(key, 'nothing')}")
            elif key == "polygon":
                found += (
                    [] if _same_polygon(one[key], two[key], within) else [f"{here}: {one[key]} {two[key]}"]
                )
            else:
                found += _differ(here, one[key], two[key], within)
        return found
    if isinstance(one, list) and isinstance(two, list) and len(one) == len(two):
        return [
            text
            for k, pair in enumerate(zip(one, two, strict=True))
            for text in _differ(f"{place}[{k}]", *pair, within)
        ]
    numbers = isinstance(one, int | float) and isinstance(two, int | float) and not isinstance(one, bool)
    if one == two or (numbers and abs(one - two) <= within):
        return []
    return [f"{place}: {one!r} and {two!r}"]


def _same_polygon(one: list[list[float]], two: list[list[float]], within: float) -> bool:
    if len(one) != len(two):
        return False
    turned = [two[k:] + two[:k] for k in range(len(two))]
    return any(
        all(dist(p, q) <= within for p, q in zip(one, way, strict=True))
        for each in turned
        for way in (each, each[::-1])
    )
