"""A comparison for the terminal: which is better and why, figures side by side, heads that differ."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from router.deliver.draw_style import FITTING_WORDS
from router.deliver.tables import plain
from router.trade.sizes import label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from router.compare import Comparison, HeadInRoute, RouteFigures
    from router.trade.sizes import Standard

_COLOUR = {"better": "green", "worse": "red", "neither": "yellow"}


def comparison_table(
    comparison: Comparison, standard: Standard, *, all_heads: bool = False
) -> RenderableType:
    """Lay out a whole comparison.

    Parameters
    ----------
    comparison
        Of two or more routes.
    standard
        Of the scenario's pipe: how sizes are written.
    all_heads
        List heads that are made alike in every route as well.

    Returns
    -------
    RenderableType
        For a rich console.
    """
    parts: list[RenderableType] = [
        Text(comparison.scenario, style="bold"),
        verdict_text(comparison),
        figures_table(comparison.routes, standard),
        terms_table(comparison.routes),
        heads_table(comparison, all_heads=all_heads),
        Text("\n".join(["weight and water:", *(f"  {line}" for line in comparison.sources)])),
        Text(comparison.caution, style="italic"),
    ]
    return Group(*parts)


def verdict_text(comparison: Comparison) -> Text:
    """Say which route is better, or that none is called so, and why.

    Returns
    -------
    Text
        One line, then one for each pair where there are more than two routes.
    """
    ranking = comparison.ranking
    head = f"better: {ranking.best}" if ranking.best is not None else "better: none is called so"
    lines = [f"{head}; {ranking.why}" if len(ranking.pairs) == 1 else head]
    if len(ranking.pairs) > 1:
        lines += [f"  {p.first} / {p.second}: {p.better or 'neither'}; {p.why}" for p in ranking.pairs]
    return Text("\n".join(lines), style="green" if ranking.best is not None else "yellow")


def figures_table(routes: Iterable[RouteFigures], standard: Standard) -> Table:
    """Set the routes' figures side by side; with two routes a last column has the difference.

    Returns
    -------
    Table
    """
    routes = list(routes)
    table = Table(box=box.SIMPLE_HEAD, header_style="bold")
    table.add_column("")
    for route in routes:
        table.add_column(Text(route.name), justify="right", overflow="fold")
    if len(routes) == 2:
        table.add_column("difference", justify="right", no_wrap=True)

    def words(name: str, of: Callable[[RouteFigures], str]) -> None:
        cells = [Text(of(route)) for route in routes]
        table.add_row(Text(name), *cells, *([Text("")] if len(routes) == 2 else []))

    def numbers(name: str, of: Callable[[RouteFigures], float], digits: int = 0) -> None:
        values = [of(route) for route in routes]
        cells = [Text(f"{value:,.{digits}f}") for value in values]
        if len(routes) == 2:
            more = round(values[1] - values[0], digits)
            cells.append(Text(f"{more:+,.{digits}f}" if more else "0"))
        table.add_row(Text(name), *cells)

    words("rules", _rules)
    numbers("heads served", lambda r: r.served)
    words("not served", lambda r: ", ".join(r.unserved) or "none")
    numbers("fittings", lambda r: r.fittings_counted)
    for kind in _keys(r.fittings for r in routes):
        numbers(f"  {FITTING_WORDS.get(kind, plain(kind))}", lambda r, k=kind: r.fittings.get(k, 0))  # type: ignore[misc]
    numbers("fittings per head", lambda r: r.fittings_per_head, 2)
    numbers("reducers", lambda r: r.reducers)
    numbers("level changes", lambda r: r.level_changes)
    numbers("drains", lambda r: r.drains)
    numbers("arm hangers", lambda r: r.arm_hangers)
    numbers("hoses", lambda r: r.hoses)
    for style in _keys(r.styles for r in routes):
        numbers(f"takeoffs: {plain(style)}", lambda r, s=style: r.styles.get(s, 0))  # type: ignore[misc]
    numbers("pipe, m", lambda r: r.pipe_total_m, 1)
    for dn in sorted(_keys(r.pipe_m for r in routes), key=int):
        numbers(f"  {_size(dn, standard)}, m", lambda r, d=dn: r.pipe_m.get(d, 0.0), 1)  # type: ignore[misc]
    numbers("pipe, kg", lambda r: r.steel_kg, 1)
    numbers("water in it, l", lambda r: r.water_l, 1)
    numbers("objective, points", lambda r: r.value)
    return table


def _rules(route: RouteFigures) -> str:
    broken = ", ".join(f"{rule} {n}" for rule, n in route.breaks.items())
    return f"breaks: {broken}" if broken else f"none broken, {route.near} near"


def _size(dn: str, standard: Standard) -> str:
    try:
        return label(int(dn), standard)
    except (KeyError, ValueError):
        return f"DN{dn}, which is not made"


def _keys(tables: Iterable[dict[str, float]] | Iterable[dict[str, int]]) -> list[str]:
    return sorted({key for table in tables for key in table})


def terms_table(routes: Iterable[RouteFigures]) -> Table:
    """List the objective by term: amount and points in each route.

    Returns
    -------
    Table
        Terms that are nought in every route are left out.
    """
    routes = list(routes)
    table = Table(box=box.SIMPLE_HEAD, header_style="bold")
    table.add_column("term")
    for route in routes:
        table.add_column(Text(f"{route.name}: amount"), justify="right")
        table.add_column("points", justify="right")
    for k, term in enumerate(routes[0].terms):
        own = [route.terms[k] for route in routes]
        if any(t.amount for t in own):
            cells = [cell for t in own for cell in (f"{t.amount:,.6g}{_unit(t.unit)}", f"{t.cost:,.0f}")]
            table.add_row(Text(plain(term.name)), *(Text(cell) for cell in cells))
    return table


def _unit(unit: str) -> str:
    """Return a unit of measure with a blank before it; things that are counted have none."""
    return f" {unit}" if unit in ("m", "mm") else ""


def heads_table(comparison: Comparison, *, all_heads: bool = False) -> RenderableType:
    """List the heads that some route serves otherwise than the first one.

    Returns
    -------
    RenderableType
        A table, or a line where no head differs.
    """
    rows = [row for row in comparison.heads if row.changed or all_heads]
    alike = len(comparison.heads) - sum(row.changed for row in comparison.heads)
    if not rows:
        return Text(f"all {alike} heads are served alike")
    names = [route.name for route in comparison.routes]
    table = Table(box=box.SIMPLE_HEAD, header_style="bold", title=f"heads ({alike} served alike)")
    table.title_justify = "left"
    table.add_column("head", no_wrap=True)
    for name in names:
        table.add_column(Text(name), overflow="fold")
    table.add_column("than the first", no_wrap=True)
    table.add_column("why", overflow="fold", ratio=1)
    for row in rows:
        cells = [Text(_way(row.routes[name])) for name in names]
        many = len(names) > 2
        judged, why = Text(), Text()
        for k, d in enumerate(row.differences):
            before = f"{d.route}: " if many else ""
            end = "\n" if k < len(row.differences) - 1 else ""
            judged.append(f"{before}{d.judgement}{end}", style=_COLOUR.get(d.judgement, ""))
            why.append(f"{before}{d.why}{end}")
        table.add_row(Text(row.id), *cells, judged, why)
    return table


def _way(head: HeadInRoute) -> str:
    if not head.served:
        return "not served"
    shared = f" with {', '.join(head.shared_with)}" if head.shared_with else ""
    return (
        f"{plain(head.style or '')}{shared} on {head.run} at {head.station or 0.0:,.0f}, "
        f"{head.fittings} fitting{'' if head.fittings == 1 else 's'}, {head.pipe_m:.2f} m"
    )
