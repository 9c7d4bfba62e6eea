"""Part 0: what was asked, the answer in plain words, the key figures, the caution."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from router.deliver.report.checking import near_told, remarks_told
from router.deliver.report.html import Html, bullets, el, join, name, paragraphs
from router.deliver.report.lengths import long, mm, prose, signed
from router.deliver.report.wording import STYLE_SAYS, count, listed, style_name

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown

STATUS = {
    "optimal": "No choice among the candidates that were built costs less: that is proven.",
    "feasible": "It keeps the rules, but a cheaper choice is not ruled out.",
    "infeasible": "No head can be served under the rules given.",
}

MOST_CHANGES_TOLD = 3
"""So many changes of level are told one by one in the answer."""


MOST_TOLD = 4
"""So many remarks and so many places near a limit stand in the answer."""


def answer(contents: Contents, shown: Shown) -> Html:
    """Say in one paragraph what the route does, with its key figures."""
    return el(
        "div",
        paragraphs([_words(contents, shown)], class_="lead"),
        key_figures(shown),
        _remarks(shown),
        _look_at(contents, shown),
    )


def _words(contents: Contents, shown: Shown) -> Html:
    counts, route = shown.verdict.counts, shown.route
    total = len(contents.scenario.heads)
    kinds = Counter(run.kind.replace("_", " ") for run in contents.scenario.runs)
    lines = listed([count(n, "branch line" if kind == "branch" else kind) for kind, n in kinds.items()])
    says: list[str | Html] = []
    if counts.served == total:
        says.append(f"All {total:,} heads are served, from {lines}.")
    else:
        missing = [head.id for head in route.heads if not head.served]
        says.append(
            join(
                [
                    el("strong", f"{counts.served:,} of {total:,} heads are served"),
                    f", from {lines}. ",
                    el("strong", "Not served: "),
                    listed(missing, 6),
                    ".",
                ]
            )
        )
    styles = Counter(head.style for head in route.heads if head.served and head.style)
    if styles:
        ways = []
        for style, n in styles.most_common():
            how = STYLE_SAYS.get(style, (style, ""))
            ways.append(f"{n:,} by {how[0]} ({how[1]})" if how[1] else f"{n:,} by {how[0]}")
        says.append(f"{ways[0]}{'; ' if len(ways) > 1 else ''}{'; '.join(ways[1:])}.")
    changed = [run for run in route.runs if run.level_changes]
    if not changed:
        says.append("No line changes level along its way.")
    else:
        says.append(_changes(contents, shown))
    fit = f"{counts.fittings_per_head:.2f} for each head at its takeoff"
    says.append(
        join(
            [
                f"It takes {count(counts.fittings_counted, 'fitting')} ({fit}), ",
                long(counts.pipe_total_m),
                " of pipe and ",
                count(counts.drains + counts.wet_drains, "drain")
                if counts.drains + counts.wet_drains
                else "no drain",
                ".",
            ]
        )
    )
    says.append(
        "It was read from a drawing; nothing is proven of it." if shown.drawn else STATUS[route.status]
    )
    broken, near = len(shown.verdict.breaks), shown.verdict.number("near")
    notes = shown.verdict.number("note")
    judged = (
        "The referee finds no rule broken"
        if not broken
        else f"The referee finds {count(broken, 'break')} of rules"
    )
    says.append(
        join(
            [
                judged if not broken else el("strong", judged),
                prose(f"; {near:,} {'place is' if near == 1 else 'places are'} within 3 mm of a limit")
                if near
                else None,
                f"; {count(notes, 'remark')} to look at" if notes else None,
                ".",
            ]
        )
    )
    return join((prose(part) if not isinstance(part, Html) else part for part in says), " ")


def _changes(contents: Contents, shown: Shown) -> str:
    """Say where lines change level: of a few each with what it is for."""
    changes = [(run.id, change) for run in shown.route.runs for change in run.level_changes]
    if len(changes) > MOST_CHANGES_TOLD:
        on = listed(list(dict.fromkeys(run for run, _ in changes)), 6)
        return f"{count(len(changes), 'change')} of level along the lines, on {on}."
    things = {thing.id for thing in contents.scenario.obstructions}
    bound = {
        binding.item: [limit.against for limit in binding.limits if limit.against in things]
        for reasons in (shown.explained.runs if shown.explained else [])
        for binding in reasons.bindings
    }
    says = []
    for run, change in changes:
        before, after = change.levels
        because = list(dict.fromkeys(name for name in bound.get(change.id, []) if name))
        says.append(
            f"{run} goes {'up' if after > before else 'down'} by {abs(after - before):,.0f} mm at station "
            f"{change.stations[0]:,.0f} mm{f' because of {because[0]}' if because else ''}"
        )
    return f"One line changes level: {says[0]}." if len(says) == 1 else f"Level changes: {'; '.join(says)}."


def key_figures(shown: Shown) -> Html:
    """Give the figures that a designer looks for first."""
    counts, route = shown.verdict.counts, shown.route
    drains = counts.drains + counts.wet_drains
    broken = len(shown.verdict.breaks)
    if shown.drawn:
        status, what = "not proven", "a drawing"
    elif route.status == "optimal":
        status, what = "optimal", "proven over its candidates"
    elif route.status == "feasible":
        value = route.objective
        share = (value.value - value.bound) / value.value if value.value else 0.0
        status, what = "feasible", f"at most {share:.1%} above the least"
    else:
        status, what = "infeasible", "no head can be served"
    figures: list[tuple[str, str | Html, str | Html]] = [
        (
            "Heads served",
            f"{counts.served:,} of {counts.heads:,}",
            "all" if counts.served == counts.heads else f"{counts.heads - counts.served:,} not served",
        ),
        ("Fittings", f"{counts.fittings_counted:,}", f"{counts.fittings_per_head:.2f} a head at its takeoff"),
        ("Level changes", f"{counts.level_changes:,}", _which_changes(shown)),
        ("Drains", f"{drains:,}", "for low sections"),
        ("Pipe", long(counts.pipe_total_m), "centre to centre"),
        (
            "Hangers",
            f"{len(route.hangers):,}" if route.hangers else "none placed",
            f"{count(counts.arm_hangers, 'arm')} too long to hang free",
        ),
        (
            "Rules",
            "none broken" if not broken else f"{broken:,} broken",
            ", ".join(
                [
                    f"{shown.verdict.number('near'):,} near a limit",
                    *([f"{notes:,} to look at"] if (notes := shown.verdict.number("note")) else []),
                ]
            ),
        ),
        ("Status", status, what),
    ]
    bad = {"Rules": broken > 0, "Heads served": counts.served < counts.heads}
    return el(
        "dl",
        *(
            el(
                "div",
                el("dt", title),
                el("dd", el("b", value), el("span", note)),
                class_="bad" if bad.get(title) else None,
            )
            for title, value, note in figures
        ),
        class_="figures",
    )


def _which_changes(shown: Shown) -> str | Html:
    """Say what changes level and by how much: offsets along lines, riser nipples to others."""
    says: list[Html] = []
    for run in shown.route.runs:
        ups = [change.levels[1] - change.levels[0] for change in run.level_changes]
        if ups:
            sizes = join((signed(up) for up in ups), ", ")
            says.append(join([f"{count(len(ups), 'offset')} on ", name(run.id), " (", sizes, ")"]))
    starts = {run.id: run.supply_level for run in shown.route.runs}
    for takeoff in shown.route.takeoffs:
        rise = sum(
            piece.end[2] - piece.start[2]
            for k in takeoff.pieces
            if (piece := shown.pieces.get(k)) is not None and piece.kind == "nipple"
        )
        for child in takeoff.child_runs if abs(rise) >= 0.5 else []:
            if child in starts:
                says.append(join(["1 riser nipple to ", name(child), " (", signed(rise), ")"]))
    if len(says) > MOST_CHANGES_TOLD:
        return join(
            [*says[: MOST_CHANGES_TOLD - 1], f"{len(says) - MOST_CHANGES_TOLD + 1:,} lines more"], ", "
        )
    return join(says, ", ") if says else "along the lines"


def _look_at(contents: Contents, shown: Shown) -> Html | None:
    """List what the referee remarks and what is near a limit, for the person who decides."""
    says = remarks_told(shown)
    near = near_told(contents, shown)
    parts = [
        join([el("p", el("strong", title)), bullets([*found[:MOST_TOLD], *more])])
        for title, found in (("To look at", says), ("Near a limit: measure", near))
        if found
        for more in [[f"and {len(found) - MOST_TOLD:,} more"] if len(found) > MOST_TOLD else []]
    ]
    if not parts:
        return None
    return el("div", *parts, el("p", el("a", "All of what to check on site", href="#site")), class_="note")


def _remarks(shown: Shown) -> Html | None:
    says = []
    if not shown.fits:
        says.append("This route was made for another scenario, or for an older state of this one.")
    says += list(shown.remarks)
    missing = [head for head in shown.route.heads if not head.served]
    if not says and not missing:
        return None
    parts: list[Html] = [el("p", prose(text)) for text in says[:20]]
    if len(says) > 20:
        parts.append(el("p", f"and {len(says) - 20:,} remarks more of the reading"))
    return el("div", *parts, class_="note") if parts else None


def heading(contents: Contents) -> Html:
    """Write the title, the scenario's story and what the system is."""
    scenario, system = contents.scenario, contents.scenario.system
    joining = system.joining if isinstance(system.joining, str) else "joined by size"
    facts = (
        f"{system.kind.capitalize()} system, {system.water} water, "
        f"{'heated' if system.heated else 'not heated'}, {system.hazard} hazard, "
        f"{joining.replace('_', ' ')} pipe by the {system.standard} standard."
    )
    low = min(head.at[2] for head in scenario.heads)
    high = max(head.at[2] for head in scenario.heads)
    where = mm(low) if low == high else join([mm(low), " to ", mm(high)])
    things = Counter(item.kind for item in scenario.obstructions)
    met = listed([count(n, kind) for kind, n in things.items()]) or "nothing"
    heads = Counter(f"{'dry ' if head.dry else ''}{head.kind}" for head in scenario.heads)
    asked = join(
        [
            facts,
            " ",
            f"Given: {listed([count(n, k + ' head') for k, n in heads.items()])} with inlets at ",
            where,
            f", {count(len(scenario.runs), 'line')}, {met} in the way.",
        ]
    )
    return el(
        "header",
        el("p", "Sprinkler branch lines: how every head is connected", class_="over"),
        el("h1", name(scenario.name)),
        el("p", prose(scenario.story), class_="story") if scenario.story else None,
        el("p", asked, class_="asked"),
    )


def route_name(contents: Contents, shown: Shown) -> Html | None:
    """Name the route above its part, where there are several."""
    if len(contents.shown) < 2:
        return None
    return el("p", "Route ", el("strong", name(shown.name)), class_="route-name")


__all__ = ["answer", "heading", "key_figures", "route_name", "style_name"]
