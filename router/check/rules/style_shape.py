"""The fittings and legs of a takeoff are what its style says."""

from __future__ import annotations

import re
from collections import Counter
from functools import lru_cache
from math import cos, dist, pi, radians, sin
from typing import TYPE_CHECKING

from router.check.arms import letter, letters
from router.check.findings import PRACTICE, TOLERANCE_MM
from router.check.network import Leg
from router.check.rule import Judge
from router.check.vectors import angle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Takeoff
    from router.scenario.model import Head

_J = Judge("style_shape", *PRACTICE)

LEGS: dict[str, str] = {
    "straight_drop": "D",
    "side_arm": "h[DU]",
    "return_bend": "UhD",
    "raised_arm": "Uh[DU]",
    "lowered_arm": "Dh[DU]",
    "shared_nipple": "Uh[DU]",
    "level_cross": "h[DU]",
    "sprig": "U",
    "sidewall": "[UD]?H([UDH]*H)?",
}
"""Way to each head, outlet first: up, down, level; ``h`` is one level leg, or two with a dogleg."""

SIDES: dict[str, tuple[str, ...]] = {
    "straight_drop": ("bottom",),
    "side_arm": ("left", "right"),
    "return_bend": ("top",),
    "raised_arm": ("top",),
    "lowered_arm": ("bottom",),
    "shared_nipple": ("top",),
    "level_cross": ("left", "right"),
    "sprig": ("top",),
    "sidewall": ("left", "right", "top", "bottom"),
    "flexible_drop": ("left", "right", "top", "bottom"),
    "run_takeoff": ("left", "right", "top", "bottom", "end"),
}
"""Where the outlet of a style may point."""

ELBOWS: dict[str, int] = {
    "straight_drop": 0,
    "side_arm": 1,
    "return_bend": 2,
    "raised_arm": 2,
    "lowered_arm": 2,
    "shared_nipple": 2,
    "level_cross": 2,
    "sprig": 0,
    "flexible_drop": 0,
}
"""Elbows beyond the outlet, without doglegs; both heads' together where there are two."""

TWO_HEADS = ("shared_nipple", "level_cross")
_LAST = {"pendent": "D", "upright": "U", "sidewall": "H"}


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "each takeoff has the fittings and the ups and downs of its style; a dry head stands in a tee with a "
        "plugged end, or in the outlet on the run, never in an elbow; a sidewall is fed from behind",
        f"{len(SIDES)} styles",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield takeoffs that are not what they are called."""
    for takeoff in survey.takeoffs.values():
        sides = SIDES.get(takeoff.style)
        if sides is None or bool(takeoff.heads) == bool(takeoff.child_runs):
            heads, runs = len(takeoff.heads), len(takeoff.child_runs)
            text = f"{takeoff.id}: {takeoff.style} with {heads} heads and {runs} runs"
            yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff))
            continue
        if takeoff.side not in sides:
            text = f"{takeoff.id}: {takeoff.style} from the {takeoff.side}, {' or '.join(sides)} expected"
            yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff))
        yield from _fittings(survey, net, takeoff)
        yield from _names(survey, net, takeoff)
        yield from _hose(survey, takeoff)
        for name in takeoff.heads:
            head = survey.heads.get(name)
            legs = net.way_to(name)
            if head is not None and legs:
                yield from _legs(survey, takeoff, head, legs)
        yield from _doglegs(survey, net, takeoff)


def _fittings(survey: Survey, net: Network, takeoff: Takeoff) -> Iterator[Finding]:
    have: Counter[str] = Counter()
    for fitting in survey.takeoff_fittings.get(takeoff.id, []):
        if fitting.kind != "reducer":
            have["elbow" if fitting.kind.startswith("elbow") else fitting.kind] += 1
    if have["outlet"] and survey.joining(takeoff.run) in ("welded", "grooved"):
        have["tee"] += have.pop("outlet")  # on an uncut run an outlet is what a tee is on a cut one
    want = _wanted(survey, net, takeoff)
    if want is None:
        text = f"{takeoff.id}: {len(takeoff.heads or takeoff.child_runs)} on one {takeoff.style}"
        yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff))
    elif have != want and have != +want:  # a dry head's tee may stand for an elbow that is not there
        text = f"{takeoff.id}: {_listing(have)}; a {takeoff.style} here has {_listing(want)}"
        yield _J.breaks(
            takeoff.id,
            text,
            measured=sum(have.values()),
            limit=sum(want.values()),
            unit="fittings",
            place=survey.place_of(takeoff),
        )


def _names(survey: Survey, net: Network, takeoff: Takeoff) -> Iterator[Finding]:
    """Check that pipes are called by how they go: arm, nipple, and at a head drop or sprig."""
    at_head = {legs[-1].piece.id: legs[-1] for name in takeoff.heads if (legs := net.way_to(name))}
    for piece in survey.takeoff_pieces.get(takeoff.id, []):
        if piece.kind in ("barrel", "hose"):
            continue  # the rules on dry heads and hoses
        leg = at_head.get(piece.id)
        way = letter(survey, leg or Leg(piece, piece.start, piece.end))
        upright = {"D": "drop", "U": "sprig"} if leg is not None else {"D": "nipple", "U": "nipple"}
        wanted = ({"H": "arm"} | upright).get(way)
        if wanted is not None and piece.kind != wanted:
            text = f"{piece.id}: called {piece.kind}, it is {'an arm' if wanted == 'arm' else f'a {wanted}'}"
            yield _J.breaks(piece.id, text, place=piece.start, against=takeoff.id)


def _size_changes(survey: Survey, takeoff: Takeoff) -> bool:
    """Whether a run that goes straight on from another's end has another size."""
    before = survey.run_pieces.get(takeoff.run, [])
    after = survey.run_pieces.get(takeoff.child_runs[0], [])
    return bool(before and after) and before[-1].dn != after[0].dn


def _listing(kinds: Counter[str]) -> str:
    return ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items()) if n) or "no fittings"


def _wanted(survey: Survey, net: Network, takeoff: Takeoff) -> Counter[str] | None:
    """Fittings of the style here, reducers left out; ``None`` for a wrong number of heads or runs."""
    want: Counter[str] = Counter()
    if takeoff.child_runs:
        two = len(takeoff.child_runs) == 2
        if len(takeoff.child_runs) > 2 or (two and takeoff.side == "end"):
            return None
        if takeoff.side == "end":
            want["reducing_coupling"] += int(_size_changes(survey, takeoff))
            return want
        level = takeoff.side in ("left", "right")
        if takeoff.ends_run:
            want["tee" if two and level else "elbow"] += 1
        else:
            want["cross" if two and level else "tee"] += 1
        if not level:
            want["tee" if two else "elbow"] += 1
        return want
    if len(takeoff.heads) != (2 if takeoff.style in TWO_HEADS else 1):
        return None
    if takeoff.style == "level_cross":
        want["tee" if takeoff.ends_run else "cross"] += 1
    else:
        want["elbow" if takeoff.ends_run else "tee"] += 1
    if takeoff.style == "shared_nipple":
        want["tee"] += 1
    if takeoff.style == "sidewall":
        want["elbow"] += max(len(net.way_to(takeoff.heads[0]) or []) - 1, 0)
    else:
        bent = takeoff.dogleg and takeoff.style != "flexible_drop"  # a hose bends by itself
        want["elbow"] += ELBOWS[takeoff.style] + (1 if bent else 0)
    for name in takeoff.heads:
        head = survey.heads.get(name)
        straight = len(net.way_to(name) or []) == 1
        if head is not None and head.dry and (takeoff.ends_run or not straight):
            want["elbow"] -= 1
            want["tee"] += 1
            want["plug"] += 1
    return want


def _pattern(style: str, dogleg: bool) -> str:
    return LEGS[style].replace("h", "HH?" if dogleg else "H")


@lru_cache(4096)
def _goes(style: str, dogleg: bool, way: str) -> bool:
    """Whether a way goes as a style does; there are few different ones."""
    return re.fullmatch(_pattern(style, dogleg), way) is not None


def _legs(survey: Survey, takeoff: Takeoff, head: Head, legs: list[Leg]) -> Iterator[Finding]:
    last = legs[-1]
    if head.dry != (last.piece.kind == "barrel"):
        text = f"{head.id}: {'a dry head' if head.dry else 'not a dry head'} on a {last.piece.kind}"
        yield _J.breaks(head.id, text, place=last.end, against=last.piece.id)
    if any(leg.piece.kind == "barrel" for leg in legs[:-1]):
        yield _J.breaks(head.id, f"{head.id}: a barrel that does not end at the head", place=last.end)
    if head.dry:
        index = 0 if last.start == last.piece.start else 1
        fitting = survey.fittings.get(last.piece.fittings[index] or "")
        if fitting is not None and fitting.kind not in ("tee", "outlet", "cross"):
            text = f"{head.id}: a dry head in an {fitting.kind}, a tee expected"
            yield _J.breaks(head.id, text, place=fitting.at, against=fitting.id)
    if takeoff.style == "flexible_drop":
        return
    way = letters(survey, legs)
    if not _goes(takeoff.style, takeoff.dogleg, way):
        pattern = _pattern(takeoff.style, takeoff.dogleg)
        text = f"{takeoff.id}: the way to {head.id} goes {way}, a {takeoff.style} goes {pattern}"
        yield _J.breaks(takeoff.id, text, place=last.end, against=head.id)
    elif way[-1] != _LAST[head.kind]:
        text = f"{head.id}: the last leg goes {way[-1]}, a {head.kind} is fed {_LAST[head.kind]}"
        yield _J.breaks(head.id, text, place=last.end, against=takeoff.id)
    if head.kind == "sidewall" and head.facing is not None and last.direction is not None:
        goal = (cos(radians(head.facing)), sin(radians(head.facing)), 0.0)
        off = angle(last.direction, goal)
        if off > survey.rules.square_tolerance_deg + 1e-6:
            text = f"{head.id}: pipe arrives {off:.2f} degrees off the way that it faces"
            yield _J.breaks(
                head.id,
                text,
                measured=off,
                limit=survey.rules.square_tolerance_deg,
                unit="degrees",
                place=last.end,
            )


def _doglegs(survey: Survey, net: Network, takeoff: Takeoff) -> Iterator[Finding]:
    """Check that a dogleg is one more level leg, on one head's way."""
    if takeoff.dogleg and takeoff.style == "run_takeoff":
        text = f"{takeoff.id}: said to have a dogleg, a run takeoff has none"
        yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff))
    if takeoff.style == "flexible_drop":
        bends = any("HH" in letters(survey, net.way_to(name) or []) for name in takeoff.heads)
        if bends != takeoff.dogleg:
            said = "said" if takeoff.dogleg else "not said"
            text = f"{takeoff.id}: {said} to have a dogleg, its hose has {'one' if bends else 'none'}"
            yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff))
    if not takeoff.dogleg or "h" not in LEGS.get(takeoff.style, ""):
        return
    ways = [letters(survey, net.way_to(name) or []) for name in takeoff.heads]
    bent = sum("HH" in way for way in ways)
    if bent != 1:
        text = f"{takeoff.id}: said to have a dogleg, {bent} of its arms have one"
        yield _J.breaks(takeoff.id, text, measured=bent, limit=1, unit="arms", place=survey.place_of(takeoff))


def _hose(survey: Survey, takeoff: Takeoff) -> Iterator[Finding]:
    """Check that a flexible drop has a hose within its listed length and bends; nothing else has one."""
    hose = [piece for piece in survey.takeoff_pieces.get(takeoff.id, []) if piece.kind == "hose"]
    if (takeoff.style == "flexible_drop") != bool(hose):
        text = f"{takeoff.id}: a {takeoff.style} with {len(hose)} hose pieces"
        yield _J.breaks(takeoff.id, text, place=survey.place_of(takeoff))
        return
    if not hose:
        return
    rules = survey.rules
    # drawn with square corners; round the bends it is shorter by (2 - pi/2) radii a bend
    radius = rules.hose_bend_radius or survey.tables.hose_bend_radius()
    length = sum(dist(piece.start, piece.end) for piece in hose) - (len(hose) - 1) * (2 - pi / 2) * radius
    longest = max(rules.hose_lengths or survey.tables.hose_lengths(), default=0.0)
    source, grade = survey.tables.source("hose_lengths")
    judge = _J.of("given in the scenario", "none") if rules.hose_lengths else _J.of(source, str(grade))
    place = survey.place_of(takeoff)
    if length > longest + TOLERANCE_MM:
        text = f"{takeoff.id}: {length:.1f} mm of hose, the longest is {longest:.1f} mm"
        yield judge.breaks(takeoff.id, text, measured=length, limit=longest, place=place)
    most = rules.hose_max_bends
    if most is None:
        most = survey.tables.hose_max_bends(length)
    source, grade = survey.tables.source("hose_max_bends")
    if len(hose) - 1 > most:
        text = f"{takeoff.id}: {len(hose) - 1} bends in its hose, {most} allowed"
        yield _J.of(source, str(grade)).breaks(
            takeoff.id, text, measured=len(hose) - 1, limit=most, unit="bends", place=place
        )
