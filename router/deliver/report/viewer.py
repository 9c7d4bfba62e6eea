"""Parts 3 and 4: the plan and the room for the 3D view with its controls; the bar above the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.report.html import Html, el, join
from router.deliver.report.lengths import mm
from router.deliver.report.storeys import storeys
from router.deliver.report.views import plan_of
from router.deliver.report.wording import PIECE, style_name

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.deliver.report.prepare import Contents, Shown
    from router.deliver.report.storeys import Storey

Option = tuple[str, str]


def bar(contents: Contents) -> Html:
    """Make what is chosen for the whole page: units, and the route shown."""
    units = _select("units", "Lengths in", [("mm", "mm"), ("m", "m"), ("ft", "ft-in")])
    routes = None
    if len(contents.shown) > 1:
        routes = _select("route", "Route shown", [(str(k), s.name) for k, s in enumerate(contents.shown)])
    return el("div", routes, units, class_="bar script-only")


def plan(contents: Contents, shown: Shown) -> Html:
    """Draw a plan of each storey with the buttons that make it larger."""
    floors = storeys(contents.scenario, shown.route)
    parts = []
    for k, floor in enumerate(floors):
        if len(floors) > 1:
            low, high = floor.elevations
            title = [f"Storey {k + 1} of {len(floors)}: lines at ", mm(low), " to ", mm(high)]
            parts.append(el("h3", join(title), class_="sub"))
        parts.append(_plan(floor, first=k == 0))
    return join(parts)


def _plan(floor: Storey, *, first: bool) -> Html:
    note = "Point at anything for its name; click it to find it everywhere. Drawings stay in mm."
    buttons = el(
        "div",
        el("button", "\N{MINUS SIGN}", type="button", data_zoom="out", aria_label="Smaller"),
        el("button", "+", type="button", data_zoom="in", aria_label="Larger"),
        el("button", "Fit", type="button", data_zoom="fit"),
        el("span", note, class_="small") if first else None,
        class_="tools script-only",
    )
    drawing = el(
        "div",
        plan_of(floor),
        class_="drawing plan",
        tabindex="0",
        role="group",
        aria_label="Plan to scale, with scale bar and legend",
    )
    return join([buttons, drawing])


def space(contents: Contents) -> Html:
    """Lay out the 3D view: what is chosen at its side, views above it, a word where it cannot be shown."""
    runs: list[Option] = [("", "all lines"), *((run.id, run.id) for run in contents.scenario.runs)]
    number = len(storeys(contents.scenario, contents.shown[0].route))
    floors: list[Option] = [("", "all storeys"), *((str(k), f"storey {k + 1}") for k in range(number))]
    styles = dict.fromkeys(t.style for s in contents.shown for t in s.route.takeoffs)
    style_options: list[Option] = [
        ("", "all styles"),
        *((s, "line to line" if s == "run_takeoff" else style_name(s)) for s in styles),
    ]
    kinds = dict.fromkeys(p.kind for s in contents.shown for p in s.route.pieces)
    side = el(
        "form",
        el(
            "fieldset",
            el("legend", "Show only"),
            _select("f-storey", "storey", floors) if len(floors) > 2 else None,
            _select("f-run", "line", runs),
            _select("f-style", "style", style_options),
            _check("f-findings", "what has findings", on=False),
        ),
        el(
            "fieldset",
            el("legend", "Pieces"),
            *(_check(f"k-{k}", PIECE.get(k, k), value=k) for k in kinds),
            _check("f-ghost", "the rest, faintly"),
        ),
        el(
            "fieldset",
            el("legend", "Around it"),
            _select(
                "f-obstructions",
                "obstructions",
                [("glass", "see-through"), ("solid", "solid"), ("off", "off")],
            ),
            _check("f-ceilings", "ceilings"),
            _check("f-hangers", "hangers"),
            _check("f-fittings", "fittings"),
        ),
        el(
            "fieldset",
            el("legend", "Colour by"),
            _select(
                "f-colour",
                "colour",
                [("kind", "kind of piece"), ("style", "style"), ("size", "size"), ("run", "line")],
            ),
            el("ul", id="colours", class_="colours"),
        ),
        el("p", "", id="shown-count", role="status", class_="small"),
        class_="side",
        id="filters",
    )
    views = [("fit", "Fit"), ("top", "Top"), ("front", "Front"), ("side", "Side"), ("iso", "Oblique")]
    tools = el(
        "div",
        *(el("button", words, type="button", data_view=key) for key, words in views),
        el("button", "Let go", type="button", id="unpin", hidden=True),
        el(
            "span",
            "Drag turns, right drag or Shift moves, wheel zooms; arrow keys turn, + and \N{MINUS SIGN} zoom.",
            class_="small",
        ),
        class_="tools",
    )
    canvas = el("div", tools, Html('<div id="stage"></div>'), class_="stage-box")
    return join(
        [
            el("div", side, canvas, class_="space script-only", id="view3d"),
            el(
                "p",
                "The 3D view needs a script and WebGL. Plan, sections and tables say the same.",
                class_="note",
                id="no3d",
            ),
        ]
    )


def _select(key: str, words: str, options: Iterable[Option]) -> Html:
    made = (el("option", text, value=value) for value, text in options)
    return el("label", el("span", words), el("select", *made, id=key, autocomplete="off"))


def _check(key: str, words: str, *, on: bool = True, value: str | None = None) -> Html:
    box = el("input", type="checkbox", id=key, checked=on, data_kind=value, autocomplete="off")
    return el("label", box, " ", words, class_="check")
