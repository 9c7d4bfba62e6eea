"""Where a thing is, in a fitter's words: its line, station, head, and what it lies over or under."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.report.html import Html, el, join, name
from router.deliver.report.lengths import mm
from router.deliver.report.wording import PIECE, listed

if TYPE_CHECKING:
    from router.check import Finding
    from router.deliver.report.prepare import Contents, Shown
    from router.route.model import Piece, Takeoff

SHORT = {**PIECE, "run": "pipe", "barrel": "barrel"}


def link(thing: str, kind: str = "any") -> Html:
    """Write an id that shows its thing in 3D and in the tables when it is clicked."""
    return el(
        "button",
        name(thing),
        type="button",
        class_="go",
        data_go=f"{kind}:{thing}",
        title=f"{thing}: show in 3D",
    )


def feeds(takeoff: Takeoff) -> str:
    """Name what a takeoff leads to."""
    return listed(takeoff.heads or takeoff.child_runs) or takeoff.id


def stretch(shown: Shown, piece: Piece) -> str:
    """Say between what a piece goes: ``H08 to H09`` along a line, else ``arm to H03``."""
    takeoff = shown.takeoffs.get(piece.owner)
    if takeoff is not None:
        own = [
            head
            for head in (takeoff.heads if len(takeoff.heads) > 1 else [])
            if any(leg.piece.id == piece.id for leg in shown.ways.way_to(head) or [])
        ]
        return f"{SHORT.get(piece.kind, piece.kind)} to {listed(own) or feeds(takeoff)}"
    ends = [_end(shown, piece, fitting) for fitting in piece.fittings]
    return f"{ends[0] or 'supply'} to {ends[1] or 'open end'}"


def _end(shown: Shown, piece: Piece, fitting: str | None) -> str:
    if fitting is None:
        return ""
    takeoff = shown.takeoff_of.get(fitting)
    if takeoff is not None:
        return feeds(takeoff) if takeoff.run == piece.run else takeoff.run
    if fitting in shown.change_of:
        return "offset"
    found = shown.fittings.get(fitting)
    return found.kind.replace("_", " ") if found is not None else fitting


def whereabouts(contents: Contents, shown: Shown, thing: str, place: tuple[float, ...] | None) -> Html | None:
    """Say line, station and head of a piece, fitting, takeoff or head; nothing of what is not known."""
    piece = shown.pieces.get(thing)
    takeoff = shown.takeoffs.get(thing) or shown.takeoff_of.get(thing)
    if takeoff is None and piece is not None:
        takeoff = shown.takeoffs.get(piece.owner)
    if takeoff is None and piece is None:
        head = next((h for h in shown.route.heads if h.id == thing), None)
        takeoff = shown.takeoffs.get(head.takeoff or "") if head is not None else None
    if takeoff is not None:
        what = stretch(shown, piece) if piece is not None else f"takeoff to {feeds(takeoff)}"
        return join([name(takeoff.run), ", station ", mm(takeoff.station, bare=True), ", ", what])
    if piece is None or piece.run not in contents.lines:
        return None
    at = place or tuple((a + b) / 2 for a, b in zip(piece.start, piece.end, strict=True))
    station = contents.lines[piece.run].nearest((at[0], at[1]))[0]
    return join(
        [name(piece.run), ", station ", mm(station, bare=True), ", between ",
         stretch(shown, piece).replace(" to ", " and ")]
    )  # fmt: skip


def finding_where(contents: Contents, shown: Shown, found: Finding) -> Html | None:
    """Say where a finding is, and over, under or beside what."""
    where = whereabouts(contents, shown, found.element, found.place)
    thing = next((o for o in contents.scenario.obstructions if o.id == found.against), None)
    if where is None or thing is None or found.place is None:
        return where
    low, high = thing.elevations
    z = found.place[2]
    word = "over" if z >= high else "under" if z <= low else "beside"
    return join([where, f", {word} ", name(thing.id)])
