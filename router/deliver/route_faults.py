"""What makes a route file unusable though each of its values is one: doubled ids, places off any site."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.scenario.errors import Fault, place_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from router.route.model import Route
    from router.scenario.errors import Path
    from router.scenario.model import Scenario

FARTHEST_MM = 1e7
"""As for scenarios: 10 km from the origin."""

ITEM = {"heads": "head", "takeoffs": "takeoff", "runs": "run", "pieces": "piece", "fittings": "fitting"}
"""Lists of a route and what one entry is called in a message."""

_PLACES = {
    "heads": ("inlet",),
    "takeoffs": ("station", "level", "arm_level", "occupies"),
    "runs": ("supply_level", "built_to"),
    "pieces": ("start", "end", "length"),
    "fittings": ("at",),
    "hangers": ("at",),
}
_SIZES = {"pieces": ("dn",), "fittings": ("sizes",)}
LARGEST_DN = 1000


def route_faults(route: Route, line: Callable[[Path], int | None]) -> list[Fault]:
    """Find ids that stand twice, lengths beyond any site and sizes that no pipe has.

    Everything that is asked of a route goes by ids: of two entries with the same
    one, only one would be looked at.

    Returns
    -------
    list of Fault
    """
    return [*_doubled(route, line), *_far(route, line)]


def _doubled(route: Route, line: Callable[[Path], int | None]) -> Iterator[Fault]:
    for name, noun in ITEM.items():
        seen: dict[str, int] = {}
        for i, record in enumerate(getattr(route, name)):
            if record.id in seen:
                message = f"duplicate id, already used by {name}[{seen[record.id]}]; each {noun} its own"
                yield _fault((name, i, "id"), f"{noun} {record.id}", f'"{record.id}"', "", message, line)
            seen.setdefault(record.id, i)
    changes: dict[str, str] = {}
    for i, run in enumerate(route.runs):
        for k, change in enumerate(run.level_changes):
            path: Path = ("runs", i, "level_changes", k, "id")
            if change.id in changes:
                message = f"duplicate id, already used by {changes[change.id]}; each level change its own"
                yield _fault(path, f"run {run.id}", f'"{change.id}"', "", message, line)
            changes.setdefault(change.id, place_text(path[:-1]))


def _far(route: Route, line: Callable[[Path], int | None]) -> Iterator[Fault]:
    for name, fields in _PLACES.items():
        for i, record in enumerate(getattr(route, name)):
            item = f"{ITEM.get(name, 'hanger')} {record.id}"
            for field in fields:
                for path, value in _numbers(getattr(record, field), (name, i, field)):
                    if abs(value) > FARTHEST_MM:
                        message = "more than 10 km; no route lies that far from its origin"
                        yield _fault(path, item, f"{value:.10g}", "mm", message, line)
    for name, fields in _SIZES.items():
        for i, record in enumerate(getattr(route, name)):
            for field in fields:
                for path, value in _numbers(getattr(record, field), (name, i, field)):
                    if not 0 < value <= LARGEST_DN:
                        item = f"{ITEM[name]} {record.id}"
                        message = f"no nominal size; 1 to {LARGEST_DN} expected"
                        yield _fault(path, item, f"{value:.10g}", "DN", message, line)


def _numbers(value: float | Iterable[float] | None, path: Path) -> Iterator[tuple[Path, float]]:
    if isinstance(value, (int, float)):
        yield path, float(value)
    elif value is not None:
        for k, part in enumerate(value):
            yield (*path, k), float(part)


def _fault(
    path: Path, item: str, value: str, unit: str, message: str, line: Callable[[Path], int | None]
) -> Fault:
    return Fault(place_text(path), item, value, unit, message, line(path))


def unsaid_joinings(scenario: Scenario, route: Route) -> list[Fault]:
    """Find runs that do not say how they are joined, though the scenario leaves it to their size.

    Returns
    -------
    list of Fault
    """
    if isinstance(scenario.system.joining, str):
        return []
    own = {run.id for run in scenario.runs if run.joining is not None}
    message = "joining is missing; the scenario gives it by size, so the route must say which holds"
    return [
        Fault(f"runs[{i}].joining", f"run {run.id}", "null", "", message)
        for i, run in enumerate(route.runs)
        if run.joining is None and run.id not in own
    ]
