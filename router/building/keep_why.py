"""Why something is other than in an older route: the referee measures the old pieces as things stand now."""

from __future__ import annotations

from dataclasses import dataclass
from math import dist
from typing import TYPE_CHECKING

from router.building.keep_read import SAME
from router.check import check_route
from router.geometry.plan import PlanLine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.building.keep import Keep
    from router.building.keep_read import Begin, Laid, Step, Way
    from router.check import Finding
    from router.route.model import Takeoff, Xyz

NOT_GEOMETRY = frozenset(
    ("served", "connected", "counts", "objective", "hangers", "unsupported_arm", "trapped", "branch_heads")
)
"""Rules that say nothing of where a piece is: of these a broken one moves nothing by itself."""
FOLLOWS = (
    "nothing stops it by itself: with the other changes the whole costs less like this, its change counted"
)


@dataclass(frozen=True)
class Cause:
    """A reason in words, with the rule and the thing that it is against, if it was measured against one."""

    text: str
    rule: str | None = None
    against: str | None = None


class Why:
    """Finds reasons; the old route is judged once, when the first is asked for."""

    def __init__(self, keep: Keep, new: Laid, takeoffs: Sequence[Takeoff]) -> None:
        self.keep, self.old, self.new, self.takeoffs = keep, keep.laid, new, takeoffs
        self.heads = {head.id: head for head in keep.scenario.heads}
        self.runs = {run.id: run for run in keep.scenario.runs}
        self._found: dict[str, list[Finding]] | None = None

    @property
    def found(self) -> dict[str, list[Finding]]:
        """What breaks a rule now, by the takeoff or run that it belongs to."""
        if self._found is None:
            route = self.keep.route
            owner: dict[str, str] = {p.id: p.owner for p in route.pieces}
            owner |= {f.id: f.owner for f in route.fittings}
            owner |= {c.id: r.id for r in route.runs for c in r.level_changes}
            owner |= {h.id: h.takeoff for h in route.heads if h.takeoff is not None}
            self._found = {}
            for finding in check_route(self.keep.scenario, route).breaks:
                if finding.rule not in NOT_GEOMETRY:
                    self._found.setdefault(owner.get(finding.element, finding.element), []).append(finding)
        return self._found

    def head(self, name: str, old: Way, new: Way | None) -> Cause:
        """Say why a head hangs otherwise than before."""
        head = self.heads[name]
        inlet = old.points[-1]
        away = dist(inlet[:2], head.at[:2])
        off = max(0.0, away - head.shift) if head.shift else away
        if off > SAME or abs(inlet[2] - head.at[2]) > SAME:
            return Cause(_moved("the head", inlet, head.at))
        if old.run not in self.runs:
            return Cause(f"its run {old.run} is no longer in the scenario")
        gone = [other for other in old.heads if other not in self.heads]
        if gone:
            return Cause(f"{gone[0]}, which shared its outlet, is no longer in the scenario")
        _, aside = PlanLine(self.runs[old.run].plan).nearest(old.outlet[:2])
        if aside > SAME:
            return Cause(f"the line of {old.run} passes {aside:,.0f} mm from its old outlet")
        if self.found.get(old.takeoff.id):
            return self._cause("the old takeoff", self.found[old.takeoff.id], old.run)
        return self._on_the_run(name, old) or Cause(FOLLOWS)

    def _on_the_run(self, name: str, old: Way) -> Cause | None:
        station, _ = PlanLine(self.runs[old.run].plan).nearest(old.outlet[:2])
        z = self._elevation(old.run, old.outlet)
        if z is None:
            return self._after(f"{old.run} no longer reaches its old outlet", old)
        if abs(z - old.outlet[2]) > SAME:
            higher = "higher" if z > old.outlet[2] else "lower"
            text = f"follows {old.run}, which lies {abs(z - old.outlet[2]):,.0f} mm {higher} there"
            return self._after(text, old)
        low, high = old.takeoff.occupies
        half = max(station - low, high - station, 0.0)
        for other in self.takeoffs:
            if other.run != old.run or name in other.heads:
                continue
            if other.occupies[0] < station + half - 0.02 and other.occupies[1] > station - half + 0.02:
                names = " and ".join([*other.heads, *other.child_runs])
                return Cause(f"{names} takes its place on the run now", None, names)
        return None

    def _after(self, text: str, old: Way) -> Cause:
        """Say what moved a head's run, where that was measured."""
        if not self.found.get(old.run):
            return Cause(text)
        cause = self._cause("its old pipe", self.found[old.run], old.run, old.outlet)
        return Cause(f"{text}: {cause.text}", cause.rule, cause.against)

    def _elevation(self, run: str, at: Xyz) -> float | None:
        """Elevation of a run's new pipe at a place in plan, ``None`` where there is none."""
        for piece in self.new.lines.get(run, []):
            a, b = piece.start, piece.end
            length = dist(a[:2], b[:2])
            if length <= SAME:
                continue
            t = ((at[0] - a[0]) * (b[0] - a[0]) + (at[1] - a[1]) * (b[1] - a[1])) / length**2
            if -1e-6 <= t <= 1 + 1e-6:
                return a[2] + t * (b[2] - a[2])
        return None

    def run(self, name: str, old: Begin, new: Begin) -> Cause:
        """Say why a run begins otherwise than before."""
        if dist(old.start[:2], new.start[:2]) > SAME:
            return Cause(_moved("its first point", old.start, new.start))
        if self.found.get(name):
            return self._cause("the old pipe", self.found[name], name, old.start)
        if old.parent is not None and self.found.get(old.parent):
            cause = self._cause(
                f"the old pipe of {old.parent}", self.found[old.parent], old.parent, old.outlet
            )
            return Cause(f"follows {old.parent}: {cause.text}", cause.rule, cause.against)
        return Cause(FOLLOWS)

    def step(self, step: Step) -> Cause:
        """Say why a change of level is gone."""
        own = [f for f in self.found.get(step.run, []) if f.element == step.id]
        if own:
            return self._cause("the old change of level", own, step.run)
        if self.found.get(step.run):
            return self._cause("the old pipe", self.found[step.run], step.run, step.first)
        return Cause(FOLLOWS)

    def new_step(self, step: Step) -> Cause:
        """Say why there is a new change of level."""
        if step.run not in self.old.begins:
            return Cause(f"{step.run} was not built before")
        if self.found.get(step.run):
            return self._cause("the old pipe", self.found[step.run], step.run, step.first)
        return Cause(FOLLOWS)

    def _cause(self, what: str, found: list[Finding], run: str, near: Xyz | None = None) -> Cause:
        """Put the first finding, or the one nearest to a place, in words."""
        # a size can be other where the place stays: anything else says more
        places = [f for f in found if f.rule != "sizes"] or found
        best = places[0]
        if near is not None:
            best = min(places, key=lambda f: dist(f.place, near) if f.place is not None else 1e12)
        where = ""
        if near is not None and best.place is not None and run in self.runs:
            station, _ = PlanLine(self.runs[run].plan).nearest(best.place[:2])
            where = f" at station {station:,.0f}"
        if best.rule in ("clearance", "ceiling", "piece_clearance", "outlet_spacing", "make_up"):
            return Cause(_short(what, best) + where, best.rule, best.against)
        text = best.text.removeprefix(f"{best.element}: ")
        return Cause(f"{what} breaks the rule {best.rule.replace('_', ' ')}: {text}", best.rule, best.against)


def _short(what: str, found: Finding) -> str:
    """Say by how much something is short of a distance."""
    against = found.against or "its neighbour"
    if found.measured is None or found.limit is None:
        return f"{what}: {found.text}"
    if found.rule in ("make_up", "outlet_spacing"):
        words = "make-up" if found.rule == "make_up" else f"outlet spacing to {against}"
        return f"{what} is {found.limit - found.measured:,.0f} mm short of {words}"
    if found.measured <= 0:
        return f"{what} hits {against} by {max(-found.measured, 0.0):,.0f} mm"
    return (
        f"{what} comes within {found.measured:,.0f} mm of {against}, "
        f"{found.limit - found.measured:,.0f} mm short of {found.limit:,.0f}"
    )


def _moved(what: str, before: Xyz, now: Xyz) -> str:
    """Say how far something was moved."""
    plan, up = dist(before[:2], now[:2]), now[2] - before[2]
    parts = [f"{plan:,.0f} mm in plan"] if plan > SAME else []
    if abs(up) > SAME:
        parts.append(f"{abs(up):,.0f} mm {'up' if up > 0 else 'down'}")
    return f"{what} moved {' and '.join(parts)}"
