"""Part 6: what to check on site before and while it is built."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

from router.deliver.report.html import Html, bullets, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import mm, place, prose, unit
from router.deliver.report.table import Column, Row, table
from router.deliver.report.where import finding_where, link
from router.deliver.report.wording import count, listed

if TYPE_CHECKING:
    from router.check import Finding
    from router.deliver.report.prepare import Contents, Shown

SEVERITY = {
    "breaks": ("Breaks", "Rules that are broken: settle these first"),
    "near": ("Near", "Near a limit: measure these places on site"),
    "note": ("Note", "Remarks"),
}
"""Word of a severity, and the title of its table."""
MOVED_MM = 0.5
MOST_NEAR = 8
"""So many places near a limit are told one by one above the table."""
MOST_THINGS = 60


def checking(contents: Contents, shown: Shown) -> Html:
    """List what a person must look at, the most serious first."""
    parts: list[Html | None] = [_sentence(contents, shown)]
    for severity in SEVERITY:
        found = [f for f in shown.verdict.findings if f.severity == severity]
        if found or severity == "breaks":
            parts.append(_findings(contents, shown, found, severity))
    parts += [_lows(shown), _unhung(shown), _moved(contents, shown), _doubtful(contents, shown)]
    return join(parts)


def _sentence(contents: Contents, shown: Shown) -> Html:
    v = shown.verdict
    items: list[str | Html] = []
    if v.breaks:
        items.append(el("strong", f"{count(len(v.breaks), 'finding')} that break a rule: listed first."))
    items += [join([text, " Settle this before anything is bought."]) for text in remarks_told(shown)]
    near = [f for f in v.findings if f.severity == "near"]
    if near:
        items.append(
            f"{count(len(near), 'place')} within 3 mm of a limit: about what one joint may be off. "
            f"Measure before cutting{':' if len(near) <= MOST_NEAR else ', listed below.'}"
        )
    if 0 < len(near) <= MOST_NEAR:
        items.append(bullets(near_told(contents, shown)))
    things = contents.scenario.obstructions
    if things:
        items.append(_things(contents))
    structure = sum(1 for hanger in shown.route.hangers if hanger.structure is None)
    if structure:
        items.append(
            f"What {count(structure, 'hanger')} can hang from: the scenario gives no structure above them."
        )
    barrels = sum(1 for piece in shown.route.pieces if piece.kind == "barrel")
    if barrels:
        items.append(
            f"The {count(barrels, 'barrel')} of dry heads: they are ordered to length and cannot be cut. "
            "Measure from the finished tee to the ceiling first."
        )
    lows = [low for low in shown.route.low_sections if low.counts_as is not None]
    if lows:
        items.append(
            f"That {count(len(lows), 'drain')} can be reached, and {'is' if len(lows) == 1 else 'are'} shown "
            "to whoever keeps the system."
        )
    supply = [run.id for run in contents.scenario.runs if run.supply is None]
    items.append(f"Where and at which elevation the pipe that feeds {listed(supply, 5)} really ends.")
    made: list[Html] = []
    for item in items:
        if isinstance(item, Html) and item.startswith("<ul"):
            made[-1] = join([made[-1], item])
        else:
            made.append(item if isinstance(item, Html) else prose(item))
    return bullets(made, class_="todo")


def remarks_told(shown: Shown) -> list[Html]:
    """Say every remark of the referee once, with all that it is about."""
    about: dict[str, list[str]] = {}
    for found in shown.verdict.findings:
        if found.severity == "note":
            text = found.text.removeprefix(f"{found.element}: ").removesuffix(".")
            about.setdefault(text, []).append(found.element)
    told = []
    for text, found_on in list(about.items())[:8]:
        ones = sorted(found_on)
        names = join((link(one) for one in ones[:8]), ", ")
        more = f" and {len(ones) - 8:,} more" if len(ones) > 8 else None
        told.append(join([names, more, ": ", prose(text), "."]))
    return told


def near_told(contents: Contents, shown: Shown) -> list[Html]:
    """Say where every place near a limit is."""
    return [_near(contents, shown, f) for f in shown.verdict.findings if f.severity == "near"]


def _near(contents: Contents, shown: Shown, found: Finding) -> Html:
    where = finding_where(contents, shown, found)
    said = prose(found.text.removeprefix(f"{found.element}: ").removesuffix("."))
    return (
        join([where, " (", link(found.element), "): ", said, "."])
        if where
        else join([link(found.element), ": ", said, "."])
    )


def _things(contents: Contents) -> Html:
    things = contents.scenario.obstructions
    each = []
    for t in things[:MOST_THINGS]:
        low, high = (mm(z, bare=True) for z in t.elevations)
        each.append(join([name(t.id), " (", low, " to ", high, ")"]))
    more = f" and {len(things) - MOST_THINGS:,} more" if len(things) > MOST_THINGS else ""
    return join(
        [
            "That what is in the way is where the scenario has it; every clearance was measured to these "
            "(underside to top, ",
            unit(),
            "): ",
            join(each, ", "),
            f"{more}.",
        ]
    )


def _findings(contents: Contents, shown: Shown, found: list[Finding], severity: str) -> Html:
    columns = [
        Column(""),
        Column("rule"),
        Column("about"),
        Column("where", "wide"),
        Column("what was found", "wide"),
        Column(with_unit("measured"), "number"),
        Column(with_unit("limit"), "number"),
        Column(join(["place x, y, z, ", el("span", "mm", class_="unit")])),
        Column("source and grade", "wide"),
    ]
    word, title = SEVERITY[severity]
    rows = [
        Row(
            [
                el("span", word, class_=f"tag {severity}"),
                f.rule.replace("_", " "),
                link(f.element),
                finding_where(contents, shown, f),
                prose(f.text),
                _amount(f.measured, f.unit),
                _amount(f.limit, f.unit),
                place(f.place),
                f"{f.source} ({f.grade})",
            ],
            f"any:{f.element}",
            values=[None, None, None, None, None, f.measured, f.limit],
        )
        for f in found
    ]
    return table(columns, rows, title)


def _amount(value: float | None, unit: str) -> Html | str:
    if value is None:
        return ""
    return mm(value, 1, bare=True) if unit == "mm" else f"{value:,.6g} {unit}"


def _lows(shown: Shown) -> Html | None:
    lows = [low for low in shown.route.low_sections if low.counts_as is not None]
    if not lows:
        return None
    items = [
        join(
            [
                name(low.run),
                ": lowest at ",
                place(low.lowest),
                " ",
                el("span", "mm", class_="unit"),
                f", holds {low.volume_l:.1f} l: ",
                prose(low.text),
            ]
        )
        for low in lows
    ]
    return join([el("h3", "Low sections and their drains", class_="sub"), bullets(items)])


def _unhung(shown: Shown) -> Html | None:
    nowhere = [f for f in shown.verdict.findings if f.rule == "hangers" and f.severity == "breaks"]
    if not nowhere:
        return None
    return join(
        [
            el("h3", "Hangers without a place: someone must decide on site", class_="sub"),
            bullets([prose(f.text) for f in nowhere]),
        ]
    )


def _moved(contents: Contents, shown: Shown) -> Html | None:
    given = {head.id: head for head in contents.scenario.heads}
    rows = []
    for head in shown.route.heads:
        wanted = given.get(head.id)
        if wanted is None or not head.served or dist(wanted.at, head.inlet) < MOVED_MM:
            continue
        rows.append(
            Row(
                [
                    name(head.id),
                    mm(dist(wanted.at, head.inlet), bare=True),
                    place(wanted.at),
                    place(head.inlet),
                    mm(wanted.shift, bare=True),
                ],
                f"head:{head.id}",
            )
        )
    if not rows:
        return None
    columns = [
        Column("head"),
        Column(with_unit("moved"), "number"),
        Column("given at"),
        Column("now at"),
        Column(with_unit("may move"), "number"),
    ]
    return table(columns, rows, "Heads that moved: tell whoever draws the ceiling")


def _doubtful(contents: Contents, shown: Shown) -> Html | None:
    tables, items = contents.tables, []
    for table_name in tables.names():
        source, grade = tables.source(table_name)
        if grade in ("C", "D") and _concerns(contents, shown, table_name):
            items.append((grade, table_name, source))
    items.sort(key=lambda i: (i[0] != "D", i[1]))
    own = [
        join([el("strong", grade), f" {name_.replace('_', ' ')}: ", prose(source)])
        for grade, name_, source in items
    ]
    if not own:
        return None
    text = (
        "Take-outs, spacings and other values that are from memory (C) or doubtful (D). Where a product is "
        "chosen, give its own value under rules.tables in the scenario and route again."
    )
    return el(
        "details",
        el(
            "summary", f"{count(len(own), 'table')} of values graded C or D: compare with the products bought"
        ),
        el("p", text, class_="small"),
        bullets(own),
    )


def _concerns(contents: Contents, shown: Shown, table_name: str) -> bool:
    """Whether values of a table can be in this route: joints of a kind that it has, hoses, drains."""
    system = contents.scenario.system
    joined = {run.joining for run in contents.scenario.runs} | {run.joining for run in shown.route.runs}
    joined |= (
        {system.joining} if isinstance(system.joining, str) else {part.joining for part in system.joining}
    )
    made_of = {
        "threaded": "threaded",
        "grooved": "grooved",
        "butt_weld": "butt_weld",
        "welded": "welded",
        "mechanical": "welded",
    }
    for word, joining in made_of.items():
        if table_name.startswith(word):
            return joining in joined or (word == "threaded" and "welded" in joined)
    if "hose" in table_name:
        return shown.verdict.counts.hoses > 0
    if "sprig" in table_name:
        return any(piece.kind == "sprig" for piece in shown.route.pieces)
    if "drain" in table_name:
        return bool(shown.route.low_sections)
    return True
