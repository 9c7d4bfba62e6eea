"""The choice becomes pieces and fittings in space, run by run from the supply."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, cast

from router.building.sizes import least_for
from router.building.takeoff_parts import TakeoffParts
from router.route.low_points import trapped
from router.route.model import FittingKind, LevelChange, ProfilePoint, RunResult, Takeoff, Xyz
from router.route.parts import Draft, Joint, Workshop

if TYPE_CHECKING:
    from router.building.graphs import BuiltGraph
    from router.building.prepare import Prepared
    from router.profiles.changes import Change
    from router.profiles.frame import RunFrame
    from router.profiles.graph import Arc
    from router.takeoffs.candidate import Candidate


@dataclass(frozen=True)
class RunPlan:
    """What was chosen for one run: its supply level (index) and its arcs in order."""

    level: int
    arcs: tuple[int, ...]


@dataclass
class Assembled:
    """All parts of the route."""

    workshop: Workshop
    takeoffs: list[Takeoff] = field(default_factory=list)
    runs: dict[int, RunResult] = field(default_factory=dict)


@dataclass
class _Start:
    """Where a run's first piece begins, and how; ``room``: its own first fitting is the parent's."""

    joint: Joint | None
    port: str


class Assembler:
    """Makes the parts of every run that the choice builds."""

    def __init__(self, prepared: Prepared, graphs: dict[int, BuiltGraph], plans: dict[int, RunPlan]) -> None:
        self.prepared, self.graphs, self.plans = prepared, graphs, plans
        self.out = Assembled(Workshop(prepared.tables))
        self.served = {r: self._heads_served(r) for r in plans}

    def assemble(self) -> Assembled:
        """Make everything, roots in the scenario's order."""
        for root in self.prepared.roots:
            if root in self.plans:
                self._run(root, _Start(None, "run"))
        return self.out

    def _heads_served(self, run: int) -> int:
        graph = self.graphs[run].graph
        total = 0
        for k in self.plans[run].arcs:
            arc = graph.arcs[k]
            if arc.feeds:
                total += sum(self._heads_served(child) for child, _ in arc.feeds if child in self.plans)
            else:
                total += len(arc.items)
        return total

    def size(self, frame: RunFrame, heads: int, station: float) -> int:
        """Size of the run's pipe that still serves ``heads``, at ``station``.

        By schedule, but never smaller than a run of given size that it feeds.
        """
        if isinstance(frame.run.size, int) or frame.uncut:
            return frame.stretch_at(station).dn
        beyond = [
            self.size(self.prepared.frames[c], self.served[c], 0.0)
            for c in frame.children
            if c in self.plans and self.prepared.frames[c].parent_station > station - 1e-6
        ]
        prepared = self.prepared
        return max([least_for(prepared.scenario, prepared.tables, frame.run, heads), *beyond])

    def _run(self, run: int, start: _Start) -> None:
        frame = self.prepared.frames[run]
        _RunMaker(self, frame, self.graphs[run], self.plans[run], start).make()

    def child(self, run: int, joint: Joint | None, port: str) -> None:
        """Go on with a child run from the fitting that feeds it."""
        if run in self.plans:
            self._run(run, _Start(joint, port))


class _RunMaker:
    """One run: walks its arcs and lays pipe between its fittings."""

    def __init__(
        self, all_runs: Assembler, frame: RunFrame, built: BuiltGraph, plan: RunPlan, start: _Start
    ) -> None:
        self.all, self.frame, self.built, self.plan, self.start = all_runs, frame, built, plan, start
        self.shop = all_runs.out.workshop
        self.level = plan.level
        self.left = all_runs.served[frame.index]
        self.at = self._place(0.0, plan.level)
        self.joint, self.port = start.joint, start.port
        self.station = 0.0
        self.profile = [ProfilePoint(station=0.0, level=self._level(plan.level))]
        self.changes: list[LevelChange] = []
        self.names: list[str] = []
        self.waiting: list[tuple[int, Joint | None, str]] = []

    def _level(self, index: int) -> float:
        return round(float(self.frame.levels[index]), 3)

    def _place(self, station: float, level: int) -> Xyz:
        x, y = self.frame.plan.point(station)
        return float(x), float(y), float(self.frame.z(self.frame.levels[level], station))

    def _lay(self, to: Xyz, joint: Joint | None, port: str, station: float) -> Draft:
        dn = self.all.size(self.frame, self.left, station)
        draft = self.shop.piece(
            "run",
            self.frame.run.id,
            self.frame.run.id,
            (self.at, to),
            dn,
            self.frame.joining,
            (self.joint, joint),
            (self.port, port),
        )
        self.at, self.joint, self.port, self.station = to, joint, port, station
        return draft

    def make(self) -> None:
        """Make the run, its takeoffs, then the runs that they feed."""
        graph = self.built.graph
        built_to = 0.0
        for n, k in enumerate(self.plan.arcs):
            arc = graph.arcs[k]
            if arc.kind == "takeoff":
                candidate = self.built.candidates[cast("int", arc.ref)]
                self._takeoff(arc, candidate)
                built_to = candidate.station
            elif arc.kind in ("offset", "bend", "coupling"):
                self._change(arc, cast("Change", arc.ref), self.plan.arcs[n + 1 :])
        self.profile.append(ProfilePoint(station=round(built_to, 3), level=self._level(self.level)))
        low_points = self._trapped()
        self.all.out.runs[self.frame.index] = RunResult(
            id=self.frame.run.id,
            supply_level=self._level(self.plan.level),
            pitch=self.frame.pitch * 1000.0,
            profile=self.profile,
            built_to=round(built_to, 3),
            level_changes=self.changes,
            takeoffs=self.names,
            joining=self.frame.joining,
            trapped=low_points,
        )
        for child, joint, port in self.waiting:
            self.all.child(child, joint, port)

    def _change(self, arc: Arc, change: Change, after: tuple[int, ...]) -> None:
        kind = cast("FittingKind", change.elbow)
        rid = self.frame.run.id
        first = self._place(change.first, arc.la)
        one = self.shop.joint(kind, rid, rid, first, self.frame.joining)
        self._lay(first, one, "run", change.first)
        if arc.la == arc.lb:
            return
        second = self._place(change.second, arc.lb)
        two = self.shop.joint(kind, rid, rid, second, self.frame.joining)
        piece = self._lay(second, two, "run", change.second)
        self.profile += [
            ProfilePoint(station=round(change.first, 3), level=self._level(arc.la)),
            ProfilePoint(station=round(change.second, 3), level=self._level(arc.lb)),
        ]
        self.changes.append(
            LevelChange(
                id=f"{rid}/L{len(self.changes) + 1}",
                stations=(round(change.first, 3), round(change.second, 3)),
                levels=(self._level(arc.la), self._level(arc.lb)),
                angle=45 if change.angle == 45 else 90,
                at_bend=change.at_bend,
                fittings=[one.id, two.id],
                pieces=[piece.id],
                reason=self._reason(arc, change, after),
            )
        )
        self.level = arc.lb

    def _reason(self, arc: Arc, change: Change, after: tuple[int, ...]) -> str:
        """Give what stands in the way at the old level, up to the next change or the end."""
        graph = self.built.graph
        until = change.second
        for k in after:
            until = graph.arcs[k].b / 1000.0
            if graph.arcs[k].la != graph.arcs[k].lb:
                break
        solids = self.all.prepared.solids
        blocked = self.all.prepared.blocked[self.frame.index]
        ids = sorted({solids.ids[s] for s in blocked.by(arc.la, change.first, until)})
        if ids:
            return f"at level {self._level(arc.la):.0f} it would meet {', '.join(ids)}"
        return f"what leaves it further on needs level {self._level(arc.lb):.0f}"

    def _takeoff(self, arc: Arc, candidate: Candidate) -> None:
        number = len(self.all.out.takeoffs) + 1
        name = f"T{number:03d}"
        self.names.append(name)
        parts = TakeoffParts(self.all, self.frame, self.shop, name, candidate, arc.ends)
        fewer = parts.heads_served()
        dn = self.all.size(self.frame, self.left, candidate.station)
        joint, run_port = parts.outlet()
        if joint is None:  # the child run goes straight on in its size: one pipe, no fitting
            before = self.at
            self._lay(candidate.outlet, None, "run", candidate.station)
            assert before != candidate.outlet
        elif joint.kind == "outlet":
            joint.seat = dn
        else:
            self._lay(candidate.outlet, joint, run_port, candidate.station)
            self.port = "run"
        self.left -= fewer
        self.all.out.takeoffs.append(parts.make())
        self.waiting += parts.feeding

    def _trapped(self) -> list[tuple[float, float]]:
        """Station ranges round each low point that cannot drain back to the supply."""
        if not self.frame.dry:
            return []
        return trapped([(p.station, p.level + self.frame.pitch * p.station) for p in self.profile])
