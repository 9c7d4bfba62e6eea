"""A run's profile stays in its band, and its pipe lies on the profile."""

from __future__ import annotations

from itertools import pairwise
from math import dist
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.lines import Line
    from router.check.network import Network
    from router.check.survey import Survey
    from router.check.vectors import Xyz
    from router.route.model import Piece, RunResult
    from router.scenario.model import Run

_J = Judge("band", "scenario (band of the run)", "none")
BAND_MM = 300.0
"""Either way of the nominal elevation, where the scenario gives no band."""


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "levels stay in the run's band; run pipe lies on the profile at the pitch of the trade tables; "
        "every change of level is an offset that the route names",
        f"band of each run, else {BAND_MM:g} mm either way; {TOLERANCE_MM:g} mm",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield levels outside a band, pipe off its line, and changes of level without an offset."""
    for key, built in survey.built.items():
        run = survey.runs.get(key)
        if run is None:
            yield _J.breaks(key, f"{key}: the scenario has no such run")
            continue
        line = survey.lines[key]
        yield from _levels(survey, run, built, line)
        yield from _changes(survey, built)
        yield from _covers(survey, built, line)
        for piece in survey.run_pieces.get(key, []):
            yield from _on_line(line, piece)
    for key in survey.run_pieces:
        if key not in survey.built:
            text = f"{key}: the route has pipe of this run but says nothing of it"
            yield _J.breaks(key, text, place=survey.run_pieces[key][0].start)
    for key in survey.runs:
        if key not in survey.built:
            yield _J.note(key, f"{key}: the route does not build this run")


def _levels(survey: Survey, run: Run, built: RunResult, line: Line) -> Iterator[Finding]:
    low, high = run.band or (run.elevation - BAND_MM, run.elevation + BAND_MM)
    for point in built.profile:
        over, under = point.level - high, low - point.level
        if max(over, under) > TOLERANCE_MM:
            limit = high if over > under else low
            place = _place(line, point.station, point.level)
            text = f"{run.id}: level {point.level:.1f} mm at station {point.station:.0f}, limit {limit:g}"
            yield _J.breaks(run.id, text, measured=point.level, limit=limit, place=place)
    if abs(built.pitch - line.pitch) > 1e-6:
        text = f"{run.id}: pitch {built.pitch:g} mm/m, {line.pitch:g} mm/m expected"
        yield _J.breaks(run.id, text, measured=built.pitch, limit=line.pitch, unit="mm/m")
    if not built.profile:
        yield _J.breaks(run.id, f"{run.id}: no profile")
        return
    first = built.profile[0]
    if abs(first.station) > TOLERANCE_MM or abs(first.level - built.supply_level) > TOLERANCE_MM:
        text = (
            f"{run.id}: the profile starts at station {first.station:.1f}, level {first.level:.1f} mm, "
            f"the supply level is {built.supply_level:.1f} mm"
        )
        yield _J.breaks(run.id, text, measured=first.level, limit=built.supply_level)
    last = built.profile[-1].station
    if abs(last - built.built_to) > TOLERANCE_MM + 1e-6:
        text = f"{run.id}: the profile ends at station {last:.1f} mm, the run at {built.built_to:.1f} mm"
        yield _J.breaks(run.id, text, measured=last, limit=built.built_to)
    fixed = run.supply_elevation
    if fixed is not None and abs(built.supply_level - fixed) > TOLERANCE_MM:
        text = f"{run.id}: supply level {built.supply_level:.1f} mm, fixed at {fixed:.1f} mm"
        yield _J.breaks(run.id, text, measured=built.supply_level, limit=fixed)
    if not -TOLERANCE_MM <= built.built_to <= line.length + TOLERANCE_MM:
        text = f"{run.id}: built to station {built.built_to:.0f} mm, its plan ends at {line.length:.0f} mm"
        yield _J.breaks(run.id, text, measured=built.built_to, limit=line.length)


def _changes(survey: Survey, built: RunResult) -> Iterator[Finding]:
    """Each change of level in the profile is one named offset, and the other way round."""
    left = list(built.level_changes)
    for a, b in pairwise(built.profile):
        along, up = b.station - a.station, b.level - a.level
        if along < -1e-6:
            yield _J.breaks(built.id, f"{built.id}: the profile goes back at station {a.station:.0f} mm")
            continue
        if abs(up) <= TOLERANCE_MM:
            continue
        place = _place(survey.lines[built.id], a.station, a.level)
        angle = 90 if along <= TOLERANCE_MM else 45
        if angle == 45 and abs(along - abs(up)) > TOLERANCE_MM:
            text = f"{built.id}: {abs(up):.1f} mm of level over {along:.1f} mm, neither 45 nor 90 degrees"
            yield _J.breaks(built.id, text, measured=along, limit=abs(up), place=place)
        wanted = (a.station, b.station, a.level, b.level)
        named = next(
            (
                change
                for change in left
                if max(abs(x - y) for x, y in zip((*change.stations, *change.levels), wanted, strict=True))
                <= TOLERANCE_MM
            ),
            None,
        )
        if named is None:
            text = f"{built.id}: the change of level at station {a.station:.0f} mm is not named as one"
            yield _J.breaks(built.id, text, place=place)
            continue
        left.remove(named)
        yield from _elbows(survey, built, named.id, named.fittings, angle, named.at_bend)
        if named.angle != angle:
            text = f"{named.id}: said to be at {named.angle} degrees, the profile makes {angle}"
            yield _J.breaks(named.id, text, measured=named.angle, limit=angle, unit="degrees", place=place)
        bends = survey.lines[built.id].bends
        at_bend = any(abs(bend - a.station) <= TOLERANCE_MM for bend in bends) and angle == 90
        if named.at_bend != at_bend:
            said = "at" if named.at_bend else "away from"
            text = f"{named.id}: said to be {said} a bend in plan, it is not"
            yield _J.breaks(named.id, text, place=place)
    for change in left:
        text = f"{change.id}: the profile of {built.id} has no such change of level"
        yield _J.breaks(change.id, text)


def _elbows(
    survey: Survey, built: RunResult, change: str, names: list[str], angle: int, at_bend: bool
) -> Iterator[Finding]:
    found = [survey.fittings[name] for name in names if name in survey.fittings]
    kinds = sorted(fitting.kind for fitting in found)
    if len(names) != 2 or kinds != [f"elbow_{angle}"] * 2:
        have = ", ".join(kinds) or "no fittings"
        text = f"{change}: an offset on {built.id} of {have}; two elbow_{angle} expected"
        yield _J.breaks(change, text, measured=len(found), limit=2, unit="fittings")


def _covers(survey: Survey, built: RunResult, line: Line) -> Iterator[Finding]:
    """Run pipe adds up to the length of the profile up to where the run is built to."""
    stations = {0.0, built.built_to}
    corners_at = [s for s, _ in line.profile]
    # a written corner stands for the bend that it is at: stations are rounded
    bends = [b for b in line.bends if all(abs(b - s) > TOLERANCE_MM for s in (*corners_at, built.built_to))]
    stations |= {s for s in (*bends, *corners_at) if 0.0 < s < built.built_to}
    way: list[Xyz] = []
    for station in sorted(stations):
        corners = [level for s, level in line.profile if abs(s - station) <= 1e-6] or [
            line.levels(station)[0]
        ]
        way += [_place(line, station, level) for level in corners]
    want = sum(dist(a, b) for a, b in pairwise(way))
    pieces = survey.run_pieces.get(built.id, [])
    have = sum(dist(piece.start, piece.end) for piece in pieces)
    if abs(have - want) > TOLERANCE_MM * (1 + len(pieces)):
        text = f"{built.id}: {have:.1f} mm of run pipe, its profile up to there is {want:.1f} mm"
        yield _J.breaks(built.id, text, measured=have, limit=want)


def _on_line(line: Line, piece: Piece) -> Iterator[Finding]:
    pairs = [
        (a, b)
        for a in line.stations_of(piece.start[0], piece.start[1])
        for b in line.stations_of(piece.end[0], piece.end[1])
    ]
    if not pairs:
        away = max(line.nearest(p[0], p[1])[1] for p in (piece.start, piece.end))
        text = f"{piece.id}: {away:.1f} mm off the plan of {piece.run}"
        yield _J.breaks(piece.id, text, measured=away, limit=0.0, place=piece.start)
        return
    # On a plan that passes one place twice the pair of stations that fits best is meant.
    worst, place = min((_worst(line, piece, *pair) for pair in pairs), key=lambda found: found[0])
    if worst > TOLERANCE_MM:
        text = f"{piece.id}: {worst:.1f} mm off the profile of {piece.run}"
        yield _J.breaks(piece.id, text, measured=worst, limit=0.0, place=place)


def _worst(line: Line, piece: Piece, a: float, b: float) -> tuple[float, Xyz]:
    corners = [*line.vertices, *(station for station, _ in line.profile)]
    low, high = min(a, b), max(a, b)
    stations = [a, b, (a + b) / 2, *(s for s in corners if low + 1e-6 < s < high - 1e-6)]
    worst, place = 0.0, piece.start
    for station in stations:
        t = (station - a) / (b - a) if abs(b - a) > 1e-9 else 0.0
        x, y, z = (piece.start[k] + t * (piece.end[k] - piece.start[k]) for k in range(3))
        off = line.off((x, y, z), station)
        if off > worst:
            worst, place = off, (x, y, z)
    if abs(b - a) <= TOLERANCE_MM:  # upright: both ends must lie within the step
        off = line.off(piece.end, b)
        if off > worst:
            worst, place = off, piece.end
    return worst, place


def _place(line: Line, station: float, level: float) -> Xyz:
    return (*line.point(station), level + line.rise(station))
