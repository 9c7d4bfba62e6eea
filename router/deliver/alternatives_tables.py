"""Alternatives in the terminal: one row a point, or one row a combination of weights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from router.alternatives import BY_NAME
from router.deliver.tables import counted, plain

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.alternatives import Alternatives, Point

MOST_ROWS = 30
"""Of a longer front the table has only the points with a route; all are in the list."""


def alternatives_table(found: Alternatives) -> RenderableType:
    """Lay out all alternatives so that one can be chosen.

    Returns
    -------
    RenderableType
        For a rich console.
    """
    parts: list[RenderableType] = [Text(found.scenario, style="bold"), _headline(found)]
    parts.append(_sweep_table(found) if found.kind == "sweep" else _front_table(found))
    note = "route N is route_N.json; points are by the scenario's weights"
    parts += [Text(note), Text(found.claim), Text(found.caution, style="italic")]
    return Group(*parts)


def _headline(found: Alternatives) -> Text:
    first, second = plain(found.first), plain(found.second)
    if found.kind == "sweep":
        combinations = counted(len(found.sweep), "combination")
        return Text(f"{combinations} of weights, {counted(len(found.points), 'different route')}")
    if len(found.points) == 1 and found.proven:
        text = f"nothing to trade: one route has the least of both, {first} and {second}"
    else:
        text = f"{first} against {second}: {counted(len(found.points), 'point')}, none of which beats another"
    if not found.proven:
        return Text(f"{text}; not proven: points may be missing", style="yellow")
    return Text(f"{text}; no other is to be had, proven", style="green")


def _empty(found: Alternatives, others: list[str], before: list[str]) -> Table:
    """Give a table with its headings and no rows: ``before``, both terms, ``others``, points, route."""
    terms = [_heading(name) for name in (found.first, found.second)]
    terms += [_term_heading(name) for name in others]
    table = Table(box=box.SIMPLE_HEAD, header_style="bold")
    for text in [*before, *(term.replace(" ", "\n") for term in terms), "points", "route"]:
        table.add_column(Text(text), justify="right", no_wrap=True)
    table.add_column("", overflow="fold")
    return table


def _front_table(found: Alternatives) -> Table:
    shown = [p for p in found.points if len(found.points) <= MOST_ROWS or p.route]
    if not any(p.chosen_by_own_weights for p in found.points):
        shown.append(found.own)
    others = _others(found, shown)
    table = _empty(found, others, [])
    for point in shown:
        table.add_row(*_cells(point, found, others), Text(short_name(point)), Text(_remark(point, found)))
    return table


def _sweep_table(found: Alternatives) -> Table:
    others = _others(found, found.points)
    table = _empty(found, others, [f"weight of\n{plain(name)}" for name in found.sweep[0].weights])
    told: set[int] = set()
    for row in found.sweep:
        point = found.points[row.point]
        remark = "the same" if row.point in told else _remark(point, found)
        if not row.proven:
            remark = f"{remark}, not proven".removeprefix(", ")
        told.add(row.point)
        weights = [Text(f"{value:g}") for value in row.weights.values()]
        table.add_row(*weights, *_cells(point, found, others), Text(short_name(point)), Text(remark))
    return table


def short_name(point: Point) -> str:
    """Give what tells a point's route from others: ``3`` for ``route_3.json``, nothing without one.

    Returns
    -------
    str
    """
    return "" if point.route is None else point.route.removeprefix("route_").removesuffix(".json")


def _others(found: Alternatives, points: Iterable[Point]) -> list[str]:
    """Terms beside the two that differ from point to point."""
    points = list(points)
    told = {BY_NAME[name].term for name in (found.first, found.second)} | {"price"}
    return [
        name
        for name in points[0].amounts
        if name not in told and len({round(p.amounts[name], 2) for p in points}) > 1
    ]


def _heading(name: str) -> str:
    unit = BY_NAME[name].unit
    return f"{plain(name)}, {unit}" if unit else plain(name)


def _term_heading(term: str) -> str:
    found = next((t for t in BY_NAME.values() if t.term == term), None)
    if found is not None:
        return _heading(found.name)
    return {"moved": "moved, mm", "large_drain": "large drains"}.get(term, plain(term))


def _cells(point: Point, found: Alternatives, others: Iterable[str]) -> list[Text]:
    two = [_amount(v, BY_NAME[n].unit) for v, n in ((point.first, found.first), (point.second, found.second))]
    more = [_amount(point.amounts[name], "m" if name == "pipe" else "") for name in others]
    return [*map(Text, two), *map(Text, more), Text(f"{point.value:,.0f}")]


def _amount(value: float, unit: str) -> str:
    return f"{value:,.2f}" if unit else f"{round(value, 1):,g}"


def _remark(point: Point, found: Alternatives) -> str:
    words = []
    if point.chosen_by_own_weights:
        on = found.kind == "sweep" or point in found.points
        words.append("the scenario's weights" + ("" if on else ", for other terms' sake"))
    if point.served < found.heads:
        words.append(f"{found.heads - point.served} of {found.heads} heads not served")
    if not point.proven:
        words.append("not proven")
    return ", ".join(words)
