"""The route's figures are those of its pieces and fittings, and its records agree with each other."""

from __future__ import annotations

from collections import Counter
from math import dist
from typing import TYPE_CHECKING

from router.check.arms import hangers_needed, letter
from router.check.figures import recount
from router.check.findings import TOLERANCE_MM
from router.check.network import Leg
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey
    from router.route.model import Fitting, Piece, Takeoff

_J = Judge("counts")
METRES = 0.001
RELATIVE = 1e-6


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    return _J.in_force(
        "every figure in the counts is recomputed; records name each other, and stand where they say",
        f"lengths within 0.001 m, places within {TOLERANCE_MM:g} mm",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield figures that differ and records that contradict each other."""
    for kind, name in survey.doubles:
        yield _J.breaks(name, f"{name}: two records of kind {kind} have this id")
    yield from _figures(survey, net)
    yield from _owners(survey)
    for takeoff in survey.takeoffs.values():
        yield from _takeoff(survey, net, takeoff)
    yield from _runs(survey)


def _figures(survey: Survey, net: Network) -> Iterator[Finding]:
    own = recount(survey, net).model_dump()
    for name, written in survey.route.counts.model_dump().items():
        have = own[name]
        if isinstance(have, dict):
            for key in sorted({*have, *written}):
                yield from _same(f"counts.{name}.{key}", written.get(key, 0), have.get(key, 0))
        else:
            yield from _same(f"counts.{name}", written, have)


def _same(element: str, written: float, have: float) -> Iterator[Finding]:
    if abs(written - have) > METRES + RELATIVE * abs(have):
        text = f"{element}: written {written:g}, {have:g} by pieces and fittings"
        yield _J.breaks(element, text, measured=written, limit=have, unit="")


def _owners(survey: Survey) -> Iterator[Finding]:
    """Pieces and fittings belong to a takeoff that lists them, or to their run."""
    for piece in survey.pieces.values():
        takeoff = survey.takeoffs.get(piece.owner)
        if piece.kind == "run":
            if piece.owner != piece.run:
                yield _J.breaks(piece.id, f"{piece.id}: run pipe of {piece.run} owned by {piece.owner}")
        elif not (takeoff is not None and piece.id in takeoff.pieces and piece.run == takeoff.run):
            text = f"{piece.id}: owner {piece.owner} on {piece.run} does not list it"
            yield _J.breaks(piece.id, text, place=piece.start, against=piece.owner)
    for fitting in survey.fittings.values():
        takeoff = survey.takeoffs.get(fitting.owner)
        if takeoff is None:
            if fitting.owner not in survey.built:
                text = f"{fitting.id}: its owner {fitting.owner} is no takeoff and no run"
                yield _J.breaks(fitting.id, text, place=fitting.at)
        elif fitting.id not in takeoff.fittings:
            text = f"{fitting.id}: owner {fitting.owner} does not list it"
            yield _J.breaks(fitting.id, text, place=fitting.at, against=fitting.owner)
        run = takeoff.run if takeoff is not None else fitting.owner
        if fitting.run != run:
            text = f"{fitting.id}: said to be of run {fitting.run}, its owner is of {run}"
            yield _J.breaks(fitting.id, text, place=fitting.at, against=fitting.owner)
        counted = "reducer" if fitting.kind == "reducer" else "fitting"
        if fitting.counts_as != counted:
            text = f"{fitting.id}: a {fitting.kind} counts as {counted}, not as {fitting.counts_as}"
            yield _J.breaks(fitting.id, text, place=fitting.at)


def _owner(records: Mapping[str, Piece | Fitting], name: str) -> str | None:
    record = records.get(name)
    return None if record is None else record.owner


def _takeoff(survey: Survey, net: Network, takeoff: Takeoff) -> Iterator[Finding]:
    place = survey.place_of(takeoff)
    strange = [name for name in takeoff.pieces if _owner(survey.pieces, name) != takeoff.id]
    strange += [name for name in takeoff.fittings if _owner(survey.fittings, name) != takeoff.id]
    for name in strange:
        text = f"{takeoff.id}: lists {name}, which is not its own"
        yield _J.breaks(takeoff.id, text, place=place, against=name)
    built = survey.built.get(takeoff.run)
    if built is None or takeoff.id not in built.takeoffs:
        yield _J.breaks(takeoff.id, f"{takeoff.id}: run {takeoff.run} does not list it", place=place)
    fitting = survey.run_fitting(takeoff)
    if fitting is None:
        if takeoff.side != "end":
            text = f"{takeoff.id}: none of its fittings stands on {takeoff.run}"
            yield _J.breaks(takeoff.id, text, place=place)
    elif place is not None:
        off = dist(place, fitting.at)
        if off > TOLERANCE_MM:
            text = f"{takeoff.id}: its outlet {fitting.id} is {off:.1f} mm from its station and level"
            yield _J.breaks(takeoff.id, text, measured=off, limit=0.0, place=fitting.at, against=fitting.id)
    line = survey.lines.get(takeoff.run)
    if line is not None:
        least, most = line.levels(takeoff.station)
        off = max(least - takeoff.level, takeoff.level - most)
        if off > TOLERANCE_MM:
            text = f"{takeoff.id}: level {takeoff.level:.1f} mm, {takeoff.run} is {off:.1f} mm from it there"
            yield _J.breaks(takeoff.id, text, measured=takeoff.level, limit=least, place=place)
    low, high = takeoff.occupies
    if not low - TOLERANCE_MM <= takeoff.station <= high + TOLERANCE_MM:
        text = (
            f"{takeoff.id}: station {takeoff.station:.1f} mm is not in its stretch, {low:.1f} to {high:.1f}"
        )
        yield _J.breaks(takeoff.id, text, measured=takeoff.station, limit=low, place=place)
    last = built is not None and abs(takeoff.station - built.built_to) <= TOLERANCE_MM
    if takeoff.ends_run and not last and built is not None:
        text = f"{takeoff.id}: said to end {takeoff.run}, which goes on to station {built.built_to:.0f} mm"
        yield _J.breaks(takeoff.id, text, measured=takeoff.station, limit=built.built_to, place=place)
    if takeoff.side == "end" and not takeoff.ends_run:
        text = f"{takeoff.id}: goes on from the end of {takeoff.run}, yet is said not to end it"
        yield _J.breaks(takeoff.id, text, place=place)
    needed = hangers_needed(survey, net, takeoff)
    if takeoff.hangers != needed:
        text = f"{takeoff.id}: {takeoff.hangers} hangers written, its arms need {needed}"
        yield _J.breaks(takeoff.id, text, measured=takeoff.hangers, limit=needed, unit="hangers", place=place)
    if takeoff.arm_level is not None and takeoff.style != "sidewall":
        # a sidewall's lead may lie at another level than its arm
        yield from _arm_level(survey, takeoff, takeoff.arm_level)


def _arm_level(survey: Survey, takeoff: Takeoff, level: float) -> Iterator[Finding]:
    own = survey.takeoff_pieces.get(takeoff.id, [])
    arms = [p for p in own if p.kind in ("arm", "hose") and letter(survey, Leg(p, p.start, p.end)) == "H"]
    if not arms:
        yield from _no_arm(survey, takeoff, level)
    for piece in arms:
        off = max(abs(piece.start[2] - level), abs(piece.end[2] - level))
        if off > TOLERANCE_MM + survey.rules.alignment:
            text = f"{piece.id}: {off:.1f} mm off the arm level of {takeoff.id}, {level:.1f} mm"
            yield _J.breaks(piece.id, text, measured=off, limit=0.0, place=piece.start, against=takeoff.id)


def _no_arm(survey: Survey, takeoff: Takeoff, level: float) -> Iterator[Finding]:
    """Check the level of what has no arm: its outlet's, or that of the run it feeds."""
    place = survey.place_of(takeoff)
    wanted = None if place is None else place[2]
    for name in takeoff.child_runs[:1]:
        child = survey.built.get(name)
        wanted = child.supply_level if child is not None else None
    if wanted is not None and abs(wanted - level) > TOLERANCE_MM + survey.rules.alignment:
        text = f"{takeoff.id}: arm level {level:.1f} mm, what it feeds is at {wanted:.1f} mm"
        yield _J.breaks(takeoff.id, text, measured=level, limit=wanted, place=place)


def _runs(survey: Survey) -> Iterator[Finding]:
    """Check that runs list their takeoffs, changes of level their elbows, child runs their takeoff."""
    capped = {fitting.owner for fitting in survey.fittings.values() if fitting.kind == "cap"}
    for built in survey.built.values():
        for name in built.takeoffs:
            takeoff = survey.takeoffs.get(name)
            if takeoff is None or takeoff.run != built.id:
                text = f"{built.id}: lists takeoff {name}, which is not its own"
                yield _J.breaks(built.id, text, against=name)
        stations = [survey.takeoffs[name].station for name in built.takeoffs if name in survey.takeoffs]
        last = max(stations, default=built.built_to)
        # a person may draw a line on beyond its last outlet and cap it
        goes_on = built.built_to > last and built.id in capped
        if abs(last - built.built_to) > TOLERANCE_MM and not goes_on:
            text = f"{built.id}: built to station {built.built_to:.1f} mm, its last takeoff is at {last:.1f}"
            yield _J.breaks(built.id, text, measured=built.built_to, limit=last)
        joining = survey.joining(built.id)
        if built.joining is not None and built.joining != joining:
            text = f"{built.id}: said to be joined {built.joining}; by the scenario it is {joining}"
            yield _J.breaks(built.id, text)
        for change in built.level_changes:
            missing = [name for name in change.fittings if name not in survey.fittings]
            missing += [name for name in change.pieces if name not in survey.pieces]
            for name in missing:
                yield _J.breaks(
                    change.id, f"{change.id}: names {name}, which the route has not", against=name
                )
            between = {
                piece.id
                for piece in survey.run_pieces.get(built.id, [])
                if set(piece.fittings) <= set(change.fittings)
            }
            if not missing and set(change.pieces) != between:
                text = f"{change.id}: names {', '.join(change.pieces) or 'no pipe'} as the pipe of its offset"
                yield _J.breaks(change.id, f"{text}, {', '.join(sorted(between)) or 'none'} lies between")
    fed = Counter(name for takeoff in survey.takeoffs.values() for name in takeoff.child_runs)
    for key in survey.built:
        run = survey.runs.get(key)
        wanted = 1 if run is not None and run.supply is not None and survey.run_pieces.get(key) else 0
        if fed[key] < wanted or fed[key] > 1:
            text = f"{key}: fed by {fed[key]} takeoffs, {wanted} expected"
            yield _J.breaks(key, text, measured=fed[key], limit=wanted, unit="takeoffs")
    for takeoff in survey.takeoffs.values():
        for name in takeoff.child_runs:
            run = survey.runs.get(name)
            if run is None or run.supply != takeoff.run:
                text = f"{takeoff.id}: feeds {name} from {takeoff.run}, which is not its supply"
                yield _J.breaks(takeoff.id, text, against=name)
