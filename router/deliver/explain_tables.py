"""Reasons for the terminal: one head or run in full, or a line for each of a route."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from router.deliver.tables import plain

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.explain import Explained, HeadReasons, OtherWay, Relaxation, RunReasons


def head_reasons_table(reasons: HeadReasons) -> RenderableType:
    """Lay out all that is known of one head.

    Returns
    -------
    RenderableType
        For a rich console.
    """
    parts: list[RenderableType] = [Text(reasons.head, style="bold"), Text(reasons.chosen)]
    if reasons.others:
        parts += [Text("\nother ways", style="bold"), _ways_table(reasons.others)]
    parts += _what_would_help(reasons.conflict, reasons.relaxations)
    return Group(*parts)


def run_reasons_table(reasons: RunReasons) -> RenderableType:
    """Lay out all that is known of one run.

    Returns
    -------
    RenderableType
        For a rich console.
    """
    parts: list[RenderableType] = [Text(reasons.run, style="bold"), Text(reasons.text)]
    if reasons.bindings:
        table = Table(box=box.SIMPLE_HEAD, header_style="bold")
        table.add_column("station", no_wrap=True)
        table.add_column("level", no_wrap=True)
        table.add_column("why", overflow="fold")
        for binding in reasons.bindings:
            table.add_row(_range(binding.stations), _range(binding.levels), Text(binding.text))
        parts.append(table)
    parts += _what_would_help(reasons.conflict, reasons.relaxations)
    return Group(*parts)


def explained_table(explained: Explained) -> RenderableType:
    """Lay out a whole route: a line for every head, then for every run.

    Returns
    -------
    RenderableType
        For a rich console.
    """
    heads = Table(box=box.SIMPLE_HEAD, header_style="bold")
    for name in ("head", "style", "next best", "why not the others"):
        heads.add_column(name, overflow="fold", no_wrap=name in ("head", "style"))
    for head in explained.heads:
        style = plain(head.style) if head.style else "not served"
        priced = [way for way in head.others if way.costs_more is not None]
        best = _short(priced[0]) if priced else "none"
        stopped = [w for w in head.others if w.costs_more is None]
        heads.add_row(head.head, Text(style, style="" if head.served else "red"), best, _stops(stopped))
    runs = Table(box=box.SIMPLE_HEAD, header_style="bold")
    runs.add_column("run", no_wrap=True)
    runs.add_column("why it goes as it goes", overflow="fold")
    for run in explained.runs:
        runs.add_row(run.run, Text(run.text))
    return Group(heads, runs)


def _range(values: tuple[float, float]) -> str:
    low, high = (f"{v:,.0f}" for v in values)
    return low if low == high else f"{low} to {high}"


def _short(way: OtherWay) -> str:
    assert way.costs_more is not None
    size = f"{abs(way.costs_more):,.0f}"
    if abs(way.costs_more) < 0.5:
        return f"{plain(way.style)}: {'' if way.exact else 'perhaps '}the same"
    if way.costs_more < -0.05:
        return f"{plain(way.style)}: {'about ' if way.about else ''}{size} less"
    if way.about:
        return f"{plain(way.style)}: about {size} more"
    return f"{plain(way.style)}: {'' if way.exact else 'at least '}{size} more"


_LACKS = {
    "make_up": "short of make-up",
    "clearance": "short of clearance",
    "ceiling": "short of clearance above the ceiling",
    "piece_clearance": "short of clearance",
    "outlet_spacing": "short of outlet spacing",
    "alignment": "off the line",
    "reach": "beyond the reach",
    "rise": "more than an arm may rise",
    "band": "off its level",
}
_OTHERWISE = {
    "room": "no place",
    "neighbours": "not beside the other heads",
    "piece_clearance": "not beside its neighbours",
    "stopped": "not tried",
    "not_used": "has a place that the route does not use",
    "pins": "pinned otherwise",
}


def _stops(ways: Iterable[OtherWay]) -> str:
    """Gather styles that the same thing stops: one line is enough for them."""
    by_reason: dict[str, list[str]] = {}
    for way in ways:
        by_reason.setdefault(_stop(way), []).append(plain(way.style))
    return "; ".join(f"{', '.join(styles)}: {text}" for text, styles in by_reason.items())


def _stop(way: OtherWay) -> str:
    stop = way.stopped_by
    if stop is None:
        return "not tried"
    if stop.short is not None:
        whom = f" to {stop.against}" if stop.against else ""
        return f"{stop.short:,.0f} mm {_LACKS.get(stop.rule, plain(stop.rule))}{whom}"
    if stop.rule == "room" and way.style in ("shared_nipple", "level_cross"):
        return "nobody to share with"
    return _OTHERWISE.get(stop.rule, "not allowed")


def _ways_table(ways: Iterable[OtherWay]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, header_style="bold")
    table.add_column("style", overflow="fold", min_width=12)
    table.add_column("points more", justify="right", no_wrap=True)
    table.add_column("why", overflow="fold")
    rows: dict[str, tuple[list[str], OtherWay]] = {}
    for way in ways:
        name = plain(way.style)
        said = way.text
        if said.lower().startswith(name):
            said = said[len(name) :].lstrip(":").strip()
        # one row for styles that the same rule forbids
        key = said if way.costs_more is None else way.text
        if key in rows:
            rows[key][0].append(name)
        else:
            rows[key] = ([name], way)
    for said, (names, way) in rows.items():
        sign = "" if way.exact or way.about else ">= "
        more = "-" if way.costs_more is None else f"{sign}{way.costs_more:+,.0f}"
        table.add_row(", ".join(names), more, Text(said))
    return table


def _what_would_help(conflict: list[str], relaxations: list[Relaxation]) -> list[RenderableType]:
    parts: list[RenderableType] = []
    if conflict:
        parts.append(Text("\nthese cannot all hold", style="bold"))
        parts += [Padding(Text(f"- {text}"), (0, 0, 0, 2)) for text in conflict]
    if relaxations:
        parts.append(Text("\none of these would do (each tried by solving)", style="bold"))
        table = Table(box=box.SIMPLE_HEAD, header_style="bold")
        table.add_column("change", overflow="fold")
        table.add_column("in the scenario", overflow="fold")
        table.add_column("serves", overflow="fold")
        table.add_column("points of its lines", justify="right", no_wrap=True)
        for r in relaxations:
            change = "; ".join(f"{path}: {_value(value)}" for path, value in r.change.items())
            table.add_row(Text(r.text), Text(change), ", ".join(r.serves), f"{r.costs:,.0f}")
        parts.append(table)
    return parts


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "null"
    if isinstance(value, float) and value == int(value):
        return f"{int(value)}"
    return str(value)
