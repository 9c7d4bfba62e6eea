"""Part 2: at which level every line runs, where it changes level and why, with its section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.report.crossings import Crossing, crossings
from router.deliver.report.html import Html, bullets, el, join, name
from router.deliver.report.lengths import head as with_unit
from router.deliver.report.lengths import long, mm, prose, signed
from router.deliver.report.table import Column, Row, table
from router.deliver.report.views import sections_of
from router.deliver.report.wording import count, size

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown
    from router.explain.records import RunReasons
    from router.route.model import RunResult, Takeoff
    from router.scenario.model import Run

MANY_LINES = 12
"""More sections than that are laid out only when they come into view."""


def levels(contents: Contents, shown: Shown) -> Html:
    """Give the answer in a sentence, the table of lines, the changes and every line's section."""
    passed = crossings(contents, shown)
    return join(
        [
            el("p", _sentence(shown), class_="lead"),
            _lines(contents, shown),
            _changes(shown),
            _sections(contents, shown, passed),
        ]
    )


def _sentence(shown: Shown) -> str:
    number = sum(len(run.level_changes) for run in shown.route.runs)
    risers = sum(1 for t in shown.route.takeoffs if t.child_runs and t.side in ("top", "bottom"))
    says = (
        "Every line keeps one level from its supply end to its last outlet; there is no offset in any line."
        if not number
        else f"{count(number, 'change')} of level along the lines (offsets), listed below with their reasons."
    )
    if risers:
        verb = "leaves" if risers == 1 else "leave"
        says += f" {count(risers, 'line')} {verb} the supplying line by a riser nipple."
    return says


def _lines(contents: Contents, shown: Shown) -> Html:
    built = {run.id: run for run in shown.route.runs}
    starts = {child: t for t in shown.route.takeoffs for child in t.child_runs}
    standard = contents.scenario.system.standard
    dns: dict[str, list[int]] = {}
    for piece in shown.route.pieces:
        if piece.kind == "run":
            sizes = dns.setdefault(piece.run, [])
            if piece.dn not in sizes:
                sizes.append(piece.dn)
    heads: dict[str, int] = {}
    for takeoff in shown.route.takeoffs:
        heads[takeoff.run] = heads.get(takeoff.run, 0) + len(takeoff.heads)
    columns = [
        Column("line"),
        Column(with_unit("wanted level"), "number"),
        Column(with_unit("built level at supply end"), "number"),
        Column(with_unit("difference"), "number"),
        Column(join(["pitch, ", el("span", "mm per m", class_="slope-unit")]), "number"),
        Column("changes", "number"),
        Column("length", "number"),
        Column("heads", "number"),
        Column("sizes"),
        Column("how it starts", "wide"),
    ]
    rows = []
    for run in contents.scenario.runs:
        result = built.get(run.id)
        if result is None:
            cells: list[str | Html | None] = [
                name(run.id),
                mm(run.elevation, bare=True),
                "not built",
                *[None] * 7,
            ]
        else:
            cells = [
                name(run.id),
                mm(run.elevation, bare=True),
                mm(result.supply_level, bare=True),
                signed(result.supply_level - run.elevation),
                el("span", f"{result.pitch:g}", class_="slope", data_v=f"{result.pitch:g}", data_bare=True),
                str(len(result.level_changes)),
                long(result.built_to / 1000),
                str(heads.get(run.id, 0)),
                ", ".join(size(dn, standard) for dn in dns.get(run.id, [])),
                _start(run, starts.get(run.id)),
            ]
        rows.append(Row(cells, f"run:{run.id}"))
    return table(columns, rows, "Lines")


def _start(run: Run, takeoff: Takeoff | None) -> Html | str:
    if takeoff is None:
        return "at the supply" if run.supply is None else ""
    if takeoff.side in ("top", "bottom"):
        word = "up" if takeoff.side == "top" else "down"
        return join([f"riser nipple {word} from ", name(takeoff.run), " at station ", mm(takeoff.station)])
    return join([f"{takeoff.side} of ", name(takeoff.run), " at station ", mm(takeoff.station)])


def _changes(shown: Shown) -> Html | None:
    bindings = _bindings(shown)
    rows = []
    for run in shown.route.runs:
        for change in run.level_changes:
            a, b = change.levels
            how = f"two {change.angle} degree elbows" if not change.at_bend else "one elbow at a plan bend"
            why = bindings.get(change.id) or change.reason or "no reason recorded"
            rows.append(
                Row(
                    [
                        name(run.id),
                        change.id,
                        "up" if b > a else "down",
                        mm(abs(b - a), bare=True),
                        mm(change.stations[0], bare=True),
                        mm(change.stations[1], bare=True),
                        mm(a, bare=True),
                        mm(b, bare=True),
                        how,
                        prose(why),
                    ],
                    f"change:{change.id}",
                )
            )
    if not rows:
        return None
    columns = [
        Column("line"),
        Column("change"),
        Column("goes"),
        Column(with_unit("by"), "number"),
        Column(with_unit("from station"), "number"),
        Column(with_unit("to station"), "number"),
        Column(with_unit("from level"), "number"),
        Column(with_unit("to level"), "number"),
        Column("made of"),
        Column("what for", "wide"),
    ]
    return table(columns, rows, "Level changes")


def _bindings(shown: Shown) -> dict[str, str]:
    if shown.explained is None:
        return {}
    return {b.item: b.text for run in shown.explained.runs for b in run.bindings if b.item is not None}


def _sections(contents: Contents, shown: Shown, passed: dict[str, list[Crossing]]) -> Html:
    reasons = {} if shown.explained is None else {item.run: item for item in shown.explained.runs}
    parts = []
    drawings = sections_of(contents, shown)
    for run in contents.scenario.runs:
        result = next((item for item in shown.route.runs if item.id == run.id), None)
        drawing = drawings.get(run.id)
        if drawing is None and result is None and run.id not in reasons:
            continue
        body = [
            el(
                "div",
                drawing,
                class_="drawing",
                tabindex="0",
                role="group",
                aria_label=f"Section along {run.id}",
            )
            if drawing
            else None,
            _why(reasons.get(run.id)),
            _passes(passed.get(run.id, [])),
        ]
        title = _title(run, result)
        parts.append(el("section", el("h3", title), *body, class_="line", data_thing=f"run:{run.id}"))
    note = (
        "Stations run to the right from the supply end, elevations upwards; heights are drawn larger than "
        "lengths where the drawing says so. Drawings stay in mm."
    )
    start = [el("h3", "Section along every line", class_="sub"), el("p", note, class_="small")]
    return join([*start, el("div", *parts, class_="many" if len(parts) > MANY_LINES else None)])


def _title(run: Run, result: RunResult | None) -> Html:
    if result is None:
        return join([name(run.id), ": not built"])
    return join(
        [
            name(run.id),
            ": level ",
            mm(result.supply_level),
            " at its supply end",
            f", {count(len(result.level_changes), 'level change')}",
        ]
    )


def _why(reasons: RunReasons | None) -> Html | None:
    if reasons is None:
        return None
    items = [prose(b.text) for b in reasons.bindings if b.text]
    items += [join(["Cannot all hold: ", prose("; ".join(reasons.conflict))])] if reasons.conflict else []
    items += [join(["Would work: ", prose(r.text)]) for r in reasons.relaxations]
    return el(
        "div",
        el("h4", "Why here"),
        el("p", prose(reasons.text)),
        bullets(items) if items else None,
        class_="why",
    )


def _passes(passed: list[Crossing]) -> Html | None:
    if not passed:
        return None
    columns = [
        Column("passes"),
        Column("what"),
        Column("kind"),
        Column(with_unit("from station"), "number"),
        Column(with_unit("to station"), "number"),
        Column(with_unit("its underside"), "number"),
        Column(with_unit("its top"), "number"),
        Column(with_unit("room"), "number"),
        Column(with_unit("needs"), "number"),
    ]
    rows = [
        Row(
            [
                c.way,
                name(c.obstruction),
                c.kind,
                mm(c.stations[0], bare=True),
                mm(c.stations[1], bare=True),
                mm(c.elevations[0], bare=True),
                mm(c.elevations[1], bare=True),
                mm(c.room, 1, bare=True),
                mm(c.needs, bare=True),
            ],
            f"obstruction:{c.obstruction}",
            "bad" if c.room < c.needs - 0.1 else None,
        )
        for c in passed
    ]
    return table(columns, rows, "What this line's pipe passes over and under", plain=True)
