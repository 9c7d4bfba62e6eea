"""Sentences of reasons: lengths, points, terms and takeoffs as a fitter says them."""

from __future__ import annotations

from collections import Counter
from math import dist
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from router.route.model import Piece, ProfilePoint, Route, Takeoff

NEAR = 1.0
"""mm. A piece ends at a head whose inlet is this near."""
FEW = 3
"""So many changes of neighbours are told one by one."""

TERM_WORDS = {
    "fitting": ("fitting", "fittings"),
    "level_change": ("level change", "level changes"),
    "drain": ("drain", "drains"),
    "large_drain": ("large drain", "large drains"),
    "wet_drain": ("drain", "drains"),
    "hanger": ("arm hanger", "arm hangers"),
    "style": ("style more on a line", "styles more on a line"),
    "reducer": ("reducer", "reducers"),
    "hose": ("hose", "hoses"),
}
FITTINGS = {
    "elbow_90": "90 degree elbow",
    "elbow_45": "45 degree elbow",
    "elbow_odd": "elbow of another angle",
    "outlet": "outlet",
    "reducing_coupling": "reducing coupling",
    "cross": "cross",
}
SIDES = {
    "left": "on the left",
    "right": "on the right",
    "top": "on top",
    "bottom": "underneath",
    "end": "at the end of the line",
}


def style_words(style: str) -> str:
    """Give a style's name as the trade says it."""
    return style.replace("_", " ")


def a(noun: str) -> str:
    """Put the right article before a noun."""
    return f"{'an' if noun[:1].lower() in 'aeiou' else 'a'} {noun}"


def mm(value: float) -> str:
    """Write a length in mm: whole where it is, else to a tenth."""
    rounded = round(value, 1)
    return f"{rounded:,.0f}" if abs(rounded - round(rounded)) < 0.05 else f"{rounded:,.1f}"


def at(station: float) -> str:
    """Write a station in whole mm: nobody sets a pipe more exactly."""
    return f"{station:,.0f}"


def points(value: float) -> str:
    """Write points: whole numbers are enough above ten."""
    if abs(value) >= 10 or abs(value - round(value)) < 0.05:
        return f"{value:,.0f} {'point' if round(value) == 1 else 'points'}"
    return f"{value:,.1f} points"


def listed(names: Iterable[str], word: str = "and") -> str:
    """Join names as in a sentence."""
    every = list(names)
    if len(every) < 2:
        return "".join(every)
    return f"{', '.join(every[:-1])} {word} {every[-1]}"


def sentence(text: str) -> str:
    """Begin with a capital letter and end with a full stop."""
    if not text:
        return text
    return text[0].upper() + text[1:] + ("" if text.endswith(".") else ".")


def costs_more(value: float) -> str:
    """Say a difference of points to the route that is explained."""
    if abs(value) < 0.05:
        return "costs the same"
    return f"costs {points(abs(value))} {'more' if value > 0 else 'less'}"


def term_changes(before: Mapping[str, float], after: Mapping[str, float]) -> list[str]:
    """Say what makes the difference between two routes: by term, ``+1 fitting``, ``-0.4 m pipe``.

    Amounts by term, as a route's objective has them; terms without a weight are not to be in them.
    """
    out = []
    for name in [*after, *(n for n in before if n not in after)]:
        change = after.get(name, 0.0) - before.get(name, 0.0)
        sign = "+" if change > 0 else "-"
        size = abs(change)
        if name in TERM_WORDS:
            count = round(size)
            if count:
                one, many = TERM_WORDS[name]
                if name == "style" and change < 0:
                    one, many = "style fewer on a line", "styles fewer on a line"
                    sign = ""
                elif name == "style":
                    sign = ""
                out.append(f"{sign}{count} {one if count == 1 else many}")
        elif name == "pipe" and size >= 0.005:
            out.append(f"{sign}{size:.2f} m pipe" if size < 1 else f"{sign}{size:.1f} m pipe")
        elif name == "moved" and size >= 0.5:
            way = "farther from" if change > 0 else "nearer to"
            out.append(f"line starts {mm(size)} mm {way} its nominal level")
        elif name == "price" and size >= 0.005:
            out.append(f"{sign}{size:,.2f} in price")
    return out


class Parts:
    """A route's pieces, fittings, inlets and pitches by id: looked up for every head."""

    def __init__(self, route: Route) -> None:
        self.pieces = {p.id: p for p in route.pieces}
        self.kinds = {f.id: f.kind for f in route.fittings}
        self.inlets = {h.id: h.inlet for h in route.heads}
        self.pitches = {r.id: r.pitch for r in route.runs}


def fittings_of(parts: Parts, takeoff: Takeoff) -> str:
    """List a takeoff's fittings: ``1 tee, 2 90 degree elbows, 1 reducer``."""
    kinds = Counter(parts.kinds[f] for f in takeoff.fittings if f in parts.kinds)
    out = []
    for kind, count in kinds.items():
        word = FITTINGS.get(kind, kind.replace("_", " "))
        plural = "crosses" if kind == "cross" else word.replace("elbow of", "elbows of")
        if plural == word:
            plural = f"{word}s"
        out.append(f"{count} {word if count == 1 else plural}")
    return ", ".join(out)


def way_to(parts: Parts, takeoff: Takeoff, head: str) -> list[Piece]:
    """Give the pieces from the outlet to a head, in the order in which water takes them."""
    inlet = parts.inlets[head]
    mine = [parts.pieces[p] for p in takeoff.pieces if p in parts.pieces]
    chain: list[Piece] = []
    piece = next((p for p in mine if dist(p.end, inlet) <= NEAR), None)
    while piece is not None and piece not in chain:
        chain.append(piece)
        start = piece.fittings[0]
        piece = next((p for p in mine if start is not None and p.fittings[1] == start), None)
    return chain[::-1]


def pieces_words(chain: Iterable[Piece]) -> str:
    """Say lengths of a way to a head, centre to centre: ``nipple 120 mm, arm 1,050 mm, drop 480 mm``."""
    return ", ".join(f"{p.kind} {mm(p.length)} mm" for p in chain)


def outlet_words(takeoff: Takeoff) -> str:
    """Say where a takeoff leaves its run."""
    side = SIDES.get(takeoff.side, takeoff.side)
    if takeoff.style == "level_cross":
        side = "on both sides"
    where = f"station {at(takeoff.station)}, outlet {side}, line at level {mm(takeoff.level)}"
    if takeoff.ends_run:
        where += ", the last on the line"
    return where


def takeoff_words(parts: Parts, takeoff: Takeoff, head: str) -> str:
    """Say all of a head's takeoff: where it leaves, how its pipe goes."""
    text = f"{takeoff.run} at {outlet_words(takeoff)}"
    if takeoff.arm_level is not None and abs(takeoff.arm_level - _outlet_z(parts, takeoff)) > 0.5:
        text += f", arm at elevation {mm(takeoff.arm_level)}"
    pieces = pieces_words(way_to(parts, takeoff, head))
    if pieces:
        text += f"; {pieces}"
    if takeoff.dogleg:
        text += " (a dogleg: outlet and head do not line up)"
    return text


def _outlet_z(parts: Parts, takeoff: Takeoff) -> float:
    """Elevation of a takeoff's outlet, mm."""
    return takeoff.level + parts.pitches.get(takeoff.run, 0.0) / 1000.0 * takeoff.station


def neighbours_words(before: Route, after: Route, head: str) -> list[str]:
    """Say which other heads are served otherwise in the second route than in the first."""
    was = {h: t for t in before.takeoffs for h in t.heads}
    now = {h: t for t in after.takeoffs for h in t.heads}
    out = []
    for h, one in was.items():
        other = now.get(h)
        if h == head or (head in one.heads and other is not None and other.heads == [h]):
            continue
        if other is None:
            out.append(f"{h} would go without water")
        elif other.style != one.style:
            out.append(f"{h} would be {a(style_words(other.style))} instead of {a(style_words(one.style))}")
        elif abs(other.station - one.station) > 0.5:
            out.append(f"the outlet of {h} would move from station {at(one.station)} to {at(other.station)}")
        elif other.side != one.side:
            out.append(f"the outlet of {h} would be {SIDES[other.side]}")
    if len(out) > FEW:
        more = len(out) - FEW + 1
        out = [*out[: FEW - 1], f"{more} other heads would be served otherwise"]
    levels = {r.id: _levels(r.profile) for r in before.runs}
    for r in after.runs:
        if r.id in levels and levels[r.id] != _levels(r.profile):
            out.append(f"the levels of {r.id} would change")
    return out


def _levels(profile: Iterable[ProfilePoint]) -> list[float]:
    out: list[float] = []
    for p in profile:
        level = round(p.level, 0)
        if not out or out[-1] != level:
            out.append(level)
    return out
