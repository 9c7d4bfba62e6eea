"""What a new route changed of an older one, and what that costs, from the pieces of both."""

from __future__ import annotations

import hashlib
from collections import Counter
from math import dist
from typing import TYPE_CHECKING

from router.building.keep import OUTLET_STAYS
from router.building.keep_read import ON_LINE, Laid, Step, Way, read_parts
from router.building.keep_why import Why
from router.geometry.plan import PlanLine
from router.route.kept import Change, Kept, KeptWeights

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from router.building.keep import Keep
    from router.building.keep_read import Begin
    from router.route.model import HeadResult, Piece, RunResult, Takeoff


def kept_of(
    keep: Keep,
    pieces: Sequence[Piece],
    takeoffs: Sequence[Takeoff],
    runs: Sequence[RunResult],
    heads: Sequence[HeadResult],
) -> Kept:
    """Compare a new route's parts with the older route."""
    new = read_parts(pieces, takeoffs, runs, heads)
    return _Comparison(keep, new, takeoffs, heads, pieces).kept()


class _Comparison:
    """Both routes side by side."""

    def __init__(
        self,
        keep: Keep,
        new: Laid,
        takeoffs: Sequence[Takeoff],
        heads: Sequence[HeadResult],
        pieces: Sequence[Piece],
    ) -> None:
        self.keep, self.old, self.new, self.pieces = keep, keep.laid, new, pieces
        self.weights = keep.weights
        self.served = {head.id: head.served for head in heads}
        self.listed = {head.id for head in keep.route.heads}
        self.order = [head.id for head in keep.scenario.heads]
        self.runs = [run.id for run in keep.scenario.runs]
        self.plans = {run.id: PlanLine(run.plan) for run in keep.scenario.runs}
        self.why = Why(keep, new, takeoffs)

    def kept(self) -> Kept:
        """Give the record."""
        changes = [*self._heads(), *self._begins(), *self._steps()]
        both = [h for h in self.order if h in self.old.heads]
        same = [h for h in both if h in self.new.heads and self.old.heads[h].same(self.new.heads[h])]
        runs = [r for r in self.runs if r in self.old.begins]
        runs_same = [r for r in runs if self._profile_stays(r)]
        steps = [s for r in self.runs for s in self.old.steps.get(r, [])]
        steps_same = [s for s in steps if self._stays(s)]
        before, now = _cut(self.keep.route.pieces, self._wanted), _cut(self.pieces, self._wanted)
        return Kept(
            scenario=self.keep.route.scenario,
            sha256=hashlib.sha256(self.keep.route.model_dump_json().encode()).hexdigest(),
            weights=KeptWeights(head=self.weights.head, run=self.weights.run, offset=self.weights.offset),
            matched=sum(h in self.listed for h in self.order),
            heads=len(both),
            heads_kept=len(same),
            runs=len(runs),
            runs_kept=len(runs_same),
            level_changes=len(steps),
            level_changes_kept=len(steps_same),
            pieces=sum(before.values()),
            pieces_kept=sum((before & now).values()),
            points=round(sum(change.points for change in changes), 4),
            changes=changes,
        )

    def _wanted(self, piece: Piece) -> bool:
        return piece.run in self.runs

    # heads

    def _heads(self) -> Iterable[Change]:
        for head in self.order:
            old, new = self.old.heads.get(head), self.new.heads.get(head)
            if old is None:
                if new is not None:
                    again = head in self.listed
                    yield Change(
                        kind="head",
                        id=head,
                        what="served_again" if again else "new",
                        now=words(new),
                        why="it was not served before" if again else "it was not there before",
                    )
            elif new is None:
                cause = self.why.head(head, old, None)
                yield Change(
                    kind="head", id=head, what="unserved", before=words(old), why=cause.text,
                    rule=cause.rule, against=cause.against,
                )  # fmt: skip
            elif not old.same(new):
                stays = old.same_outlet(new)
                cause = self.why.head(head, old, new)
                yield Change(
                    kind="head",
                    id=head,
                    what="outlet_stays" if stays else "moved",
                    before=words(old),
                    now=words(new),
                    moved=round(dist(old.outlet, new.outlet), 1),
                    points=self.weights.head * (OUTLET_STAYS if stays else 1.0),
                    counts=True,
                    why=cause.text,
                    rule=cause.rule,
                    against=cause.against,
                )
        gone = self.old.heads.keys() - set(self.order)
        for head in sorted(gone):
            yield Change(
                kind="head", id=head, what="gone", before=words(self.old.heads[head]),
                why="the scenario has no such head any more",
            )  # fmt: skip

    # runs

    def _begins(self) -> Iterable[Change]:
        for run in self.runs:
            old, new = self.old.begins.get(run), self.new.begins.get(run)
            if old is None or new is None or old.same(new):
                if (old is None) != (new is None):
                    yield Change(
                        kind="run", id=run, what="new" if old is None else "gone",
                        before="" if old is None else _begin_words(old),
                        now="" if new is None else _begin_words(new),
                        why="it was not built before" if old is None else "it serves nothing any more",
                    )  # fmt: skip
                continue
            cause = self.why.run(run, old, new)
            yield Change(
                kind="run",
                id=run,
                what="moved",
                before=_begin_words(old),
                now=_begin_words(new),
                moved=round(dist(old.start, new.start), 1),
                points=self.weights.run,
                counts=True,
                why=cause.text,
                rule=cause.rule,
                against=cause.against,
            )
        for run in sorted(self.old.begins.keys() - set(self.runs)):
            yield Change(
                kind="run", id=run, what="gone", before=_begin_words(self.old.begins[run]),
                why="the scenario has no such run any more",
            )  # fmt: skip

    def _profile_stays(self, run: str) -> bool:
        """Whether a run begins as before, and changes level where it did as far as it goes now."""
        old, new = self.old.begins[run], self.new.begins.get(run)
        if new is None or not old.same(new):
            return False
        steps = self.new.steps.get(run, [])
        return all(
            self._stays(s) for s in self.old.steps.get(run, []) if self.new.passes(run, s.middle)
        ) and (all(any(s.same(o) for o in self.old.steps.get(run, [])) for s in steps))

    # changes of level

    def _stays(self, step: Step) -> bool:
        return any(step.same(other) for other in self.new.steps.get(step.run, []))

    def _steps(self) -> Iterable[Change]:
        for run in self.runs:
            old, new = self.old.steps.get(run, []), self.new.steps.get(run, [])
            for step in old:
                if self._stays(step):
                    continue
                passes = self.new.passes(run, step.middle)
                cause = self.why.step(step)
                yield Change(
                    kind="level_change",
                    id=step.id,
                    what="gone",
                    before=_step_words(step, self.plans[run]),
                    points=self.weights.offset if passes else 0.0,
                    counts=passes,
                    why=cause.text if passes else "its run no longer goes past its place",
                    rule=cause.rule if passes else None,
                    against=cause.against if passes else None,
                )
            for step in new:
                if any(step.same(other) for other in old):
                    continue
                cause = self.why.new_step(step)
                yield Change(
                    kind="level_change",
                    id=step.id,
                    what="new",
                    now=_step_words(step, self.plans[run]),
                    points=self.weights.offset if run in self.old.begins else 0.0,
                    counts=run in self.old.begins,
                    why=cause.text,
                    rule=cause.rule,
                    against=cause.against,
                )


def words(way: Way) -> str:
    """Say in words and numbers how a head hangs on its run."""
    t = way.takeoff
    arm = f", arm at {t.arm_level:,.0f}" if t.arm_level is not None and len(way.points) > 2 else ""
    return (
        f"{way.style.replace('_', ' ')} on {way.run}, {way.side}, station {t.station:,.0f}, "
        f"level {t.level:,.0f}{arm}"
    )


def _begin_words(begin: Begin) -> str:
    if begin.parent is None:
        return f"begins at elevation {begin.start[2]:,.0f}"
    out, at = begin.outlet[2], begin.start[2]
    return f"leaves {begin.parent} {begin.side} at elevation {out:,.0f}, begins at {at:,.0f}"


def _step_words(step: Step, plan: PlanLine) -> str:
    rise = step.second[2] - step.first[2]
    station, away = plan.nearest(step.middle)
    x, y = step.middle
    where = f"station {station:,.0f}" if away <= ON_LINE else f"({x:,.0f}, {y:,.0f}), off the line now"
    return f"{'up' if rise > 0 else 'down'} {abs(rise):,.0f} at {where}"


def _cut(pieces: Iterable[Piece], wanted: Callable[[Piece], bool]) -> Counter[tuple[object, ...]]:
    """Pieces by what the shop cuts: kind, run, size and both ends."""
    return Counter((p.kind, p.run, p.dn, p.start, p.end) for p in pieces if wanted(p))
