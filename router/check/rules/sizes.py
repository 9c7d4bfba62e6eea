"""Pipe sizes: never growing downstream, by the schedule or as given, reduced only at the heads."""

from __future__ import annotations

from math import dist
from typing import TYPE_CHECKING

from router.check.findings import TOLERANCE_MM
from router.check.joints import opening
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network, Node
    from router.check.survey import Survey
    from router.route.model import Piece
    from router.scenario.model import Run

_J = Judge("sizes", "NFPA 13 (paraphrased): sizes by the pipe schedule or as given", "C")


def _case(survey: Survey, run: Run) -> str:
    return run.schedule or survey.system.schedule


def _schedule_judge(survey: Survey, case: str, dn: int | None = None) -> Judge:
    table = survey.tables.schedule_table(survey.system.hazard, case, dn)
    source, grade = survey.tables.source(table)
    if dn is not None and survey.tables.has(table, dn):
        grade = survey.tables.grade(table, dn)
    return _J.of(source, str(grade))


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    cases = sorted({survey.system.schedule, *(_case(survey, run) for run in survey.runs.values())})
    steps = []
    for case in cases:
        rows = survey.tables.schedule(survey.system.hazard, case)
        text = "; ".join(f"DN{dn}: {most} heads" for dn, most in rows.items())
        steps.append(text if len(cases) == 1 else f"{case.replace('_', ' ')}: {text}")
    return _schedule_judge(survey, survey.system.schedule).in_force(
        "sizes never grow downstream; a run's given size is kept, else it is at least the schedule's for the "
        "heads served downstream and at least the run's least size; openings fit their pipes; a reducer "
        "stands where the head's thread differs",
        " | ".join(steps),
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield pieces and fittings of a wrong size."""
    after = _largest_after(survey, net)
    for piece in survey.pieces.values():
        if piece.kind == "hose":
            yield from _hose(survey, piece)
        if piece.kind in ("barrel", "hose"):
            continue
        if piece.dn not in survey.tables.sizes:
            text = f"{piece.id}: there is no pipe of size DN{piece.dn}"
            yield _J.breaks(piece.id, text, measured=piece.dn, unit="DN", place=piece.start)
        yield from _growth(survey, net, piece)
        if piece.kind == "run":
            yield from _run_size(survey, net, piece, after.get(piece.id, 0))
        else:
            yield from _arm_size(survey, net, piece)
    yield from _openings(survey)
    yield from _plugs(survey, net)
    yield from _reducers(survey)
    yield from _couplings(survey)


def _before(survey: Survey, net: Network, piece: Piece) -> Piece | None:
    """Return the piece that water comes from."""
    node: Node | None = net.upstream.get(("piece", piece.id))
    while node is not None and node[0] != "piece":
        node = net.upstream.get(node)
    return survey.pieces[node[1]] if node is not None else None


def _growth(survey: Survey, net: Network, piece: Piece) -> Iterator[Finding]:
    before = _before(survey, net, piece)
    if before is not None and piece.dn > before.dn and before.kind not in ("barrel", "hose"):
        text = f"{piece.id}: DN{piece.dn} downstream of DN{before.dn}"
        yield _J.breaks(
            piece.id,
            text,
            measured=piece.dn,
            limit=before.dn,
            unit="DN",
            place=piece.start,
            against=before.id,
        )


def _largest_after(survey: Survey, net: Network) -> dict[str, int]:
    """By piece id: the largest DN of run pipe that it feeds."""
    after: dict[Node, int] = {}
    for node, above in reversed(net.upstream.items()):  # nearest to the supply first: leaves first now
        own = after.get(node, 0)
        if node[0] == "piece":
            piece = survey.pieces[node[1]]
            if piece.kind == "run" and piece.dn > own:
                own = piece.dn
        if own > after.get(above, -1):
            after[above] = own
    return {node[1]: dn for node, dn in after.items() if node[0] == "piece"}


def _run_size(survey: Survey, net: Network, piece: Piece, after: int) -> Iterator[Finding]:
    run = survey.runs.get(piece.run)
    if run is None:
        return  # the rule band names it
    if run.size != "schedule":
        if piece.dn != run.size:
            text = f"{piece.id}: DN{piece.dn}, run {run.id} is given as DN{run.size}"
            yield _J.breaks(piece.id, text, measured=piece.dn, limit=run.size, unit="DN", place=piece.start)
        return
    given = run.least_size or 0
    if piece.dn < given:
        text = f"{piece.id}: DN{piece.dn}, run {run.id} is to be at least DN{given}"
        judge = _J.of("given in the scenario (least_size)", "none")
        yield judge.breaks(piece.id, text, measured=piece.dn, limit=given, unit="DN", place=piece.start)
    heads = net.heads_fed.get(("piece", piece.id), 0)
    case = _case(survey, run)
    try:
        least = survey.tables.size_for_heads(heads, survey.system.hazard, case)
    except ValueError as fault:
        judge = _schedule_judge(survey, case)
        yield judge.note(piece.id, f"{piece.id}: {fault}", measured=heads, unit="heads", place=piece.start)
        return
    if piece.dn < least:
        judge = _schedule_judge(survey, case, least)
        text = f"{piece.id}: DN{piece.dn} feeds {heads} heads, the schedule asks for DN{least}"
        yield judge.breaks(piece.id, text, measured=piece.dn, limit=least, unit="DN", place=piece.start)
    elif heads and piece.dn > max(least, given, after, survey.rules.arm_size):
        judge = _schedule_judge(survey, case, least)
        text = f"{piece.id}: DN{piece.dn} feeds {heads} heads, the schedule is content with DN{least}"
        yield judge.note(piece.id, text, measured=piece.dn, limit=least, unit="DN", place=piece.start)


def _arm_size(survey: Survey, net: Network, piece: Piece) -> Iterator[Finding]:
    takeoff = survey.takeoffs.get(piece.owner)
    if takeoff is None or not takeoff.heads:
        return
    wanted = survey.rules.arm_size
    if piece.dn < wanted:
        text = f"{piece.id}: DN{piece.dn}, arms are DN{wanted}"
        yield _J.breaks(piece.id, text, measured=piece.dn, limit=wanted, unit="DN", place=piece.start)
    elif piece.dn > wanted:
        text = f"{piece.id}: DN{piece.dn}, arms need only be DN{wanted}"
        yield _J.note(piece.id, text, measured=piece.dn, limit=wanted, unit="DN", place=piece.start)


def _hose(survey: Survey, piece: Piece) -> Iterator[Finding]:
    """Check that all of a hose has one size."""
    first = next(p for p in survey.takeoff_pieces[piece.owner] if p.kind == "hose")
    if piece.dn != first.dn:
        text = f"{piece.id}: DN{piece.dn}, its hose begins as DN{first.dn}"
        yield _J.breaks(
            piece.id, text, measured=piece.dn, limit=first.dn, unit="DN", place=piece.start, against=first.id
        )


def _openings(survey: Survey) -> Iterator[Finding]:
    for fitting in survey.fittings.values():
        for end in survey.meeting[fitting.id]:
            if end.into is None:
                continue
            at = opening(survey, fitting, end.into)
            if at is None or at >= len(fitting.sizes) or dist(end.at, fitting.at) > TOLERANCE_MM:
                continue  # the rule connected names it
            if fitting.sizes[at] != end.piece.dn:
                text = f"{fitting.id}: opening DN{fitting.sizes[at]}, pipe {end.piece.id} is DN{end.piece.dn}"
                yield _J.breaks(
                    fitting.id,
                    text,
                    measured=fitting.sizes[at],
                    limit=end.piece.dn,
                    unit="DN",
                    place=fitting.at,
                    against=end.piece.id,
                )


def _plugs(survey: Survey, net: Network) -> Iterator[Finding]:
    """Check that a plug or cap has the size of an opening of its fitting that no pipe is in."""
    for name, host_name in net.hosts.items():
        plug, host = survey.fittings[name], survey.fittings[host_name]
        ends = [end.into for end in survey.meeting[host_name] if end.into is not None]
        taken = {opening(survey, host, way) for way in ends}
        free = sorted({size for k, size in enumerate(host.sizes) if k not in taken})
        if free and not set(plug.sizes) <= set(free):
            text = f"{name}: a {plug.kind} of DN{plug.sizes[0]} in an opening of DN{free[0]}"
            yield _J.breaks(
                name, text, measured=plug.sizes[0], limit=free[0], unit="DN", place=plug.at, against=host_name
            )


def _reducers(survey: Survey) -> Iterator[Finding]:
    """Check that a reducer stands at each inlet whose thread is smaller than the pipe, and nowhere else."""
    rightful: set[str] = set()
    for result in survey.results.values():
        head = survey.heads.get(result.id)
        takeoff = survey.takeoffs.get(result.takeoff or "")
        if head is None or takeoff is None or not result.served:
            continue
        slack = survey.rules.alignment + TOLERANCE_MM
        at = [
            fitting
            for fitting in survey.takeoff_fittings.get(takeoff.id, [])
            if fitting.kind == "reducer" and dist(fitting.at, result.inlet) <= slack
        ]
        rightful |= {fitting.id for fitting in at}
        pipes = [
            piece
            for piece in survey.takeoff_pieces.get(takeoff.id, [])
            if min(dist(piece.start, result.inlet), dist(piece.end, result.inlet)) <= slack
        ]
        if len(pipes) != 1:
            continue  # the rule served names it
        pipe = pipes[0]
        wanted = 0 if pipe.kind in ("barrel", "hose") or pipe.dn == head.thread else 1
        if len(at) != wanted:
            text = f"{head.id}: {len(at)} reducers from DN{pipe.dn} to DN{head.thread}, {wanted} expected"
            yield _J.breaks(
                head.id,
                text,
                measured=len(at),
                limit=wanted,
                unit="reducers",
                place=result.inlet,
                against=pipe.id,
            )
        for fitting in at[:wanted]:
            if sorted(fitting.sizes) != sorted((pipe.dn, head.thread)):
                text = f"{fitting.id}: sizes {fitting.sizes}, DN{pipe.dn} to DN{head.thread} expected"
                yield _J.breaks(fitting.id, text, place=fitting.at, against=head.id)
    for fitting in survey.fittings.values():
        if fitting.kind == "reducer" and fitting.id not in rightful:
            text = f"{fitting.id}: a reducer that stands at no head's inlet"
            yield _J.breaks(fitting.id, text, place=fitting.at)


def _couplings(survey: Survey) -> Iterator[Finding]:
    """Check that a reducing coupling reduces."""
    for fitting in survey.fittings.values():
        if fitting.kind == "reducing_coupling" and len(set(fitting.sizes)) < 2:
            text = f"{fitting.id}: a reducing coupling that does not reduce, sizes {fitting.sizes}"
            yield _J.breaks(fitting.id, text, place=fitting.at)
