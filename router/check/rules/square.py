"""Fittings turn as they are made to; outlets leave square to the run; arms are level or upright."""

from __future__ import annotations

from math import atan, degrees, dist
from typing import TYPE_CHECKING

from router.check.arms import letter, letters
from router.check.findings import PRACTICE, TOLERANCE_MM
from router.check.joints import straight_pairs, turns
from router.check.network import Leg
from router.check.rule import Judge
from router.check.vectors import Xyz, angle, unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Fitting, Takeoff

_J = Judge("square", *PRACTICE)
_UP: Xyz = (0.0, 0.0, 1.0)
_DOWN: Xyz = (0.0, 0.0, -1.0)
_NOWHERE: Xyz = (0.0, 0.0, 0.0)
_OPENINGS: dict[str, tuple[int, ...]] = {
    "tee": (3,),
    "cross": (4,),
    "elbow_90": (2,),
    "elbow_45": (2,),
    "elbow_odd": (2,),
    "outlet": (1, 3),
    "reducer": (1, 2),
    "reducing_coupling": (2,),
    "plug": (1,),
    "cap": (1,),
}
"""How many openings a fitting may be written with (an outlet with or without the uncut run's)."""

_UNIT = 1e-3
"""Slack on the length of a direction."""
_STOCK_DEG = 3.0
"""So near to 45 or 90 degrees an elbow is a stock one (common practice, no source)."""
_SLACK_DEG = 0.1
_HOSE_DEG = 45.0
"""A hose further off than this leaves to another side."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "outlets leave square to the run, to the side that is given, where the run is level; arms are level "
        "or upright; the arms of two heads on one fitting are opposite; fittings have the angles that "
        "they are named for",
        f"{survey.rules.square_tolerance_deg:g} degrees and the run's own pitch; "
        f"{survey.rules.alignment:g} mm out of line",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield fittings and takeoffs that are out of square."""
    for fitting in survey.fittings.values():
        yield from _fitting(survey, fitting)
    for takeoff in survey.takeoffs.values():
        yield from _takeoff(survey, net, takeoff)


def _allowed(survey: Survey, run: str, others: Iterable[str] = ()) -> float:
    """Return how far from square something at a run may be, degrees.

    Fittings are made square, and a pitched line is put together of them with what
    hangs from it upright: its pitch comes on top (common practice, no source).
    ``others``: runs that it feeds.
    """
    lines = [line for key in (run, *others) if (line := survey.lines.get(key)) is not None]
    return survey.rules.square_tolerance_deg + sum(degrees(atan(abs(line.pitch) / 1000.0)) for line in lines)


def _fitting(survey: Survey, fitting: Fitting) -> Iterator[Finding]:
    takeoff = survey.takeoffs.get(fitting.owner)
    if takeoff is None:
        tolerance = _allowed(survey, fitting.owner)
    else:
        tolerance = _allowed(survey, takeoff.run, takeoff.child_runs)
    ways = fitting.directions
    wanted = _OPENINGS[fitting.kind]
    if len(ways) not in wanted:
        text = f"{fitting.id}: a {fitting.kind} with {len(ways)} openings"
        yield _J.breaks(
            fitting.id, text, measured=len(ways), limit=wanted[0], unit="openings", place=fitting.at
        )
        return
    lengths = [dist(way, _NOWHERE) for way in ways]
    if any(abs(length - 1.0) > _UNIT for length in lengths):
        wrong = max(lengths, key=lambda length: abs(length - 1.0))
        text = f"{fitting.id}: the direction of an opening is {wrong:g} long, a unit vector expected"
        yield _J.breaks(fitting.id, text, measured=wrong, limit=1.0, unit="", place=fitting.at)
        if any(unit(way) is None for way in ways):
            return
    if fitting.kind == "elbow_odd":
        turn = 180.0 - angle(ways[0], ways[1])
        stock = next((a for a in (45, 90) if abs(turn - a) < min(tolerance, _STOCK_DEG) - _SLACK_DEG), None)
        if stock is not None:
            text = f"{fitting.id}: turns {turn:.2f} degrees, an elbow_{stock} and no odd one"
            yield _J.breaks(fitting.id, text, measured=turn, limit=stock, unit="degrees", place=fitting.at)
    off = _off(survey, fitting)
    if off is not None and off > tolerance + 1e-6:
        text = f"{fitting.id}: {off:.2f} degrees from the angles of a {fitting.kind}"
        yield _J.breaks(fitting.id, text, measured=off, limit=tolerance, unit="degrees", place=fitting.at)


def _off(survey: Survey, fitting: Fitting) -> float | None:
    """Degrees by which a fitting's openings miss the angles that it is made with."""
    ways = fitting.directions
    if fitting.kind in ("elbow_90", "elbow_45"):
        return abs(angle(ways[0], ways[1]) - (90.0 if fitting.kind == "elbow_90" else 135.0))
    if fitting.kind in ("reducer", "reducing_coupling") and len(ways) == 2:
        return 180.0 - angle(ways[0], ways[1])
    if fitting.kind in ("tee", "cross"):
        turn = turns(survey, fitting)
        inline = max(straight_pairs(survey, fitting, 45.0), key=lambda pair: turn[pair], default=None)
        if inline is None:
            return 90.0
        rest = [k for k in range(len(ways)) if k not in inline]
        off = [180.0 - turn[inline]]
        off += [abs(turn[min(k, i), max(k, i)] - 90.0) for k in rest for i in inline]
        if fitting.kind == "cross":
            off.append(180.0 - turn[rest[0], rest[1]])
        return max(off)
    if fitting.kind == "outlet" and fitting.id in survey.seats:
        forward = survey.ends(survey.seats[fitting.id].piece)[0].into
        if forward is not None:
            return min(abs(angle(way, forward) - 90.0) for way in ways)
    return None


def _takeoff(survey: Survey, net: Network, takeoff: Takeoff) -> Iterator[Finding]:
    for piece in survey.takeoff_pieces.get(takeoff.id, []):
        if piece.kind in ("hose", "run"):
            continue
        if letter(survey, Leg(piece, piece.start, piece.end)) == "X":
            text = f"{piece.id}: neither level nor upright"
            yield _J.breaks(piece.id, text, place=piece.start)
    line = survey.lines.get(takeoff.run)
    if line is None:
        return
    for (sa, la), (sb, lb) in zip(line.profile, line.profile[1:], strict=False):
        if abs(la - lb) > TOLERANCE_MM and sa - TOLERANCE_MM <= takeoff.station <= sb + TOLERANCE_MM:
            text = f"{takeoff.id}: its outlet at station {takeoff.station:.0f} mm is on an offset"
            yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff), against=takeoff.run)
    for element, way in _first_ways(survey, net, takeoff):
        yield from _side(survey, takeoff, element, way, line.directions(takeoff.station))
    yield from _opposite(survey, net, takeoff)


def _first_ways(survey: Survey, net: Network, takeoff: Takeoff) -> list[tuple[str, Xyz]]:
    """Return the first leg of the way to each head, or the first pipe to each child run."""
    found: list[tuple[str, Xyz]] = []
    for name in takeoff.heads:
        legs = net.way_to(name)
        way = legs[0].direction if legs else None
        if legs and way is not None:
            found.append((name, way))
    for name in takeoff.child_runs:
        child = survey.lines.get(name)
        ways = child.directions(0.0) if child is not None else []
        own = survey.takeoff_pieces.get(takeoff.id, [])
        at = survey.place_of(takeoff)
        if own and at is not None:
            # A nipple: from its end nearer to the run, to the other.
            piece = own[0]
            near = min((piece.start, piece.end), key=lambda p: abs(p[2] - at[2]))
            far = piece.end if near == piece.start else piece.start
            way = unit((far[0] - near[0], far[1] - near[1], far[2] - near[2]))
            ways = [way] if way is not None else []
        found += [(name, way) for way in ways[:1]]
    return found


def _side(survey: Survey, takeoff: Takeoff, element: str, way: Xyz, along: list[Xyz]) -> Iterator[Finding]:
    wanted: list[Xyz] = []
    for x, y, _ in along:
        left, right = (-y, x, 0.0), (y, -x, 0.0)
        by_side = {"left": [left], "right": [right], "top": [_UP], "bottom": [_DOWN], "end": [(x, y, 0.0)]}
        both = takeoff.style == "level_cross" or len(takeoff.child_runs) == 2
        if both and takeoff.side in ("left", "right"):
            wanted += [left, right]
        else:
            wanted += by_side[takeoff.side]
    off = min((angle(way, goal) for goal in wanted), default=0.0)
    # a hose bends as it likes: only the side of its outlet is judged
    tolerance = _allowed(survey, takeoff.run, takeoff.child_runs)
    if takeoff.style == "flexible_drop":
        tolerance = _HOSE_DEG
    if off > tolerance + 1e-6:
        text = (
            f"{takeoff.id}: towards {element} it leaves {takeoff.run} {off:.2f} degrees off its side "
            f"({takeoff.side}), {tolerance:.4g} allowed"
        )
        yield _J.breaks(
            takeoff.id,
            text,
            measured=off,
            limit=tolerance,
            unit="degrees",
            place=survey.place_of(takeoff),
            against=element,
        )


def _opposite(survey: Survey, net: Network, takeoff: Takeoff) -> Iterator[Finding]:
    """Check that the arms of two heads on one nipple or cross leave in opposite directions."""
    ways: list[Xyz] = []
    for name in takeoff.heads:
        legs = net.way_to(name) or []
        first = letters(survey, legs).find("H")
        way = legs[first].direction if first >= 0 else None
        if way is not None:
            ways.append(way)
    for name in takeoff.child_runs:
        child = survey.lines.get(name)
        ways += child.directions(0.0)[:1] if child is not None else []
    if len(ways) != 2:
        return
    off = 180.0 - angle(ways[0], ways[1])
    tolerance = _allowed(survey, takeoff.run, takeoff.child_runs)
    if off > tolerance + 1e-6:
        text = f"{takeoff.id}: its two arms are {off:.2f} degrees from opposite"
        yield _J.breaks(
            takeoff.id,
            text,
            measured=off,
            limit=tolerance,
            unit="degrees",
            place=survey.place_of(takeoff),
        )
