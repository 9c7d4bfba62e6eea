"""Part 8: several routes side by side, and head by head."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.draw_style import FITTING_WORDS
from router.deliver.report.html import Html, bullets, el, join, name
from router.deliver.report.lengths import long, mm, prose
from router.deliver.report.table import Column, Row, table
from router.deliver.report.wording import TERM, count, size, style_name

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.compare import Comparison, HeadInRoute, RouteFigures
    from router.deliver.report.prepare import Contents

JUDGED = {
    "better": "better",
    "worse": "worse",
    "equal": "other, same cost",
    "neither": "neither",
    "same": "same",
}


def differences(contents: Contents) -> Html | None:
    """Set the routes side by side; nothing where there is one."""
    found = contents.comparison
    if found is None:
        return None
    return join([_verdict(found), _figures(contents, found), _heads(found), _sources(found)])


def _verdict(found: Comparison) -> Html:
    ranking = found.ranking
    best = (
        join(["Better: ", el("strong", name(ranking.best)), "."])
        if ranking.best
        else "None is called better than all others."
    )
    pairs = [
        join(
            [
                name(p.first),
                " and ",
                name(p.second),
                ": ",
                name(p.better) if p.better else "neither",
                "; ",
                prose(p.why),
            ]
        )
        for p in ranking.pairs
    ]
    return join([el("p", best, class_="lead"), bullets(pairs)])


def _figures(contents: Contents, found: Comparison) -> Html:
    standard = contents.scenario.system.standard
    routes = found.routes
    rows: list[Row] = []

    def line(title: str, of: Callable[[RouteFigures], str | Html], class_: str | None = None) -> None:
        cells = [of(route) for route in routes]
        same = len({str(cell) for cell in cells}) == 1
        rows.append(Row([title, *cells], class_=class_ or (None if same else "differs")))

    line("rules", lambda r: f"{sum(r.breaks.values())} broken" if r.breaks else "none broken")
    line("near a limit", lambda r: f"{r.near:,}")
    line("heads served", lambda r: f"{r.served:,} of {r.heads:,}")
    line("fittings", lambda r: f"{r.fittings_counted:,}")
    for kind in sorted({key for r in routes for key in r.fittings}):
        line(f"\N{EN DASH} {FITTING_WORDS.get(kind, kind)}", lambda r, k=kind: f"{r.fittings.get(k, 0):,}")  # type: ignore[misc]
    line("fittings per head", lambda r: f"{r.fittings_per_head:.2f}")
    line("reducers", lambda r: f"{r.reducers:,}")
    line("level changes", lambda r: f"{r.level_changes:,}")
    line("drains", lambda r: f"{r.drains:,}")
    line("arms that need a hanger", lambda r: f"{r.arm_hangers:,}")
    if any(r.hoses for r in routes):
        line("hoses", lambda r: f"{r.hoses:,}")
    for style in sorted({key for r in routes for key in r.styles}):
        line(f"takeoffs: {style_name(style)}", lambda r, s=style: f"{r.styles.get(s, 0):,}")  # type: ignore[misc]
    line("pipe", lambda r: long(r.pipe_total_m))
    for dn in sorted({key for r in routes for key in r.pipe_m}, key=int):
        line(f"\N{EN DASH} {size(int(dn), standard)}", lambda r, d=dn: long(r.pipe_m.get(d, 0.0)))  # type: ignore[misc]
    line("pipe, kg", lambda r: f"{r.steel_kg:,.1f}")
    line("water in it, l", lambda r: f"{r.water_l:,.1f}")
    for k, term in enumerate(routes[0].terms):
        if any(r.terms[k].cost for r in routes):
            line(f"points for {TERM.get(term.name, term.name)}", lambda r, n=k: f"{r.terms[n].cost:,.0f}")  # type: ignore[misc]
    line("points in all", lambda r: f"{r.value:,.0f}", "sum")
    columns = [Column(""), *(Column(name(r.name), "number") for r in routes)]
    return join(
        [
            table(columns, rows, "Side by side", plain=True),
            el("p", "Rows in which the routes differ are marked with a bar at their start.", class_="small"),
        ]
    )


def _heads(found: Comparison) -> Html:
    changed = [row for row in found.heads if row.changed]
    alike = len(found.heads) - len(changed)
    names = [route.name for route in found.routes]
    rows = []
    for row in changed:
        cells: list[str | Html | None] = [name(row.id), *(_way(row.routes[n]) for n in names)]
        judged = [
            join([name(d.route), ": " if len(names) > 2 else None, JUDGED[d.judgement]])
            if len(names) > 2
            else JUDGED[d.judgement]
            for d in row.differences
            if d.judgement != "same"
        ]
        why = [
            join([name(d.route), ": ", prose(d.why)]) if len(names) > 2 else prose(d.why)
            for d in row.differences
            if d.judgement != "same"
        ]
        cells += [join(judged, Html("<br>")), join(why, Html("<br>"))]
        rows.append(Row(cells, f"head:{row.id}"))
    title = f"Heads that are served otherwise than in {names[0]} ({count(alike, 'head')} alike)"
    columns = [
        Column("head"),
        *(Column(name(n), "wide") for n in names),
        Column("than the first"),
        Column("why", "wide"),
    ]
    return table(columns, rows, title)


def _way(way: HeadInRoute) -> Html:
    if not way.served:
        return el("strong", "not served")
    return join(
        [
            style_name(way.style),
            " on ",
            name(way.run or ""),
            " at ",
            mm(way.station),
            f", {count(way.fittings, 'fitting')}",
        ]
    )


def _sources(found: Comparison) -> Html:
    return el(
        "details",
        el("summary", "Where weight and water come from"),
        bullets([prose(s) for s in found.sources]),
    )
