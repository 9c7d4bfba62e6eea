"""The drawing as read becomes the records of a route."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.infer.fittings import angle
from router.infer.joints import NodeFittings
from router.infer.raised import Raised
from router.infer.styles import Named, letter, name_style, ways
from router.route.low_points import trapped
from router.route.model import (
    HeadResult,
    LevelChange,
    PieceKind,
    ProfilePoint,
    RunResult,
    Side,
    Takeoff,
)
from router.trade.hangers import HIGH_PRESSURE_BAR

if TYPE_CHECKING:
    from router.geometry.solids import Solids
    from router.infer.meets import Pipe, Vector
    from router.infer.places import Places
    from router.infer.remarks import Remarks
    from router.infer.trees import RawRun, RawTakeoff, Step
    from router.scenario.model import Head, Scenario
    from router.trade.tables import Tables

DRAINABLE = ("dry", "preaction")


class Builder(NodeFittings):
    """Walks runs and takeoffs away from the supplies and makes their parts."""

    def __init__(
        self, places: Places, scenario: Scenario, tables: Tables, solids: Solids, remarks: Remarks
    ) -> None:
        super().__init__(places, scenario, tables, remarks)
        self.raised = Raised(scenario, tables, solids)
        self.takeoffs: list[Takeoff] = []
        self.runs: dict[str, RunResult] = {}
        self.wet = self.reached()

    # -- pieces -----------------------------------------------------------------------------

    def _lay(self, kind: PieceKind, owner: str, run: str, step: Step, joining: str) -> str:
        pipe, a, b = step
        (one, port_a), (two, port_b) = self.joint(a, pipe), self.joint(b, pipe)
        head = self.assigned.head_at.get(b)
        reducer = None
        if head is not None and self._reduced(head, pipe, kind):
            reducer = self.shop.joint("reducer", owner, run, self.drawing.xyz(b), "threaded")
            two = reducer
        draft = self.shop.piece(
            kind,
            owner,
            run,
            (self.drawing.xyz(a), self.drawing.xyz(b)),
            pipe.dn,
            joining,
            (one, two),
            (port_a, port_b),
        )
        if reducer is not None and head is not None:
            way = self.drawing.way(pipe, b)
            reducer.ports.append(((-float(way[0]), -float(way[1]), -float(way[2])), head.thread, "outlet"))
        return draft.id

    def _reduced(self, head: Head, pipe: Pipe, kind: PieceKind) -> bool:
        if kind in ("barrel", "hose") or head.id in self.assigned.short:
            return False
        return head.thread < pipe.dn

    def make(self) -> None:
        """Make everything, runs with parents before children."""
        for raw in self.places.in_order():
            self._run(raw)
        for name in self.places.lines:
            if name not in self.trees.runs:
                for takeoff in self.by_run[name]:
                    self.takeoffs.append(self._takeoff(takeoff))
        for line in self.places.lines.values():
            if line.run.id not in self.runs and self.by_run[line.run.id]:
                names = [self.ids[id(t)] for t in self.by_run[line.run.id]]
                text = f"{line.run.id}: no pipe of it is drawn, yet {len(names)} takeoffs are"
                self.remarks.add("no_pipe", line.run.id, text)

    def _run(self, raw: RawRun) -> None:
        line = raw.line
        name = line.run.id
        ids: dict[int, str] = {}
        for step in raw.steps:
            ids[step[0].key] = self._lay("run", name, name, step, line.joining)
        made = [self._takeoff(t) for t in self.by_run[name]]
        self.takeoffs += made
        ends = [raw.station[n] for s in raw.steps for n in s[1:]]
        last = max([t.station for t in made], default=max(ends))
        capped = max(ends) > last + self.places.within
        built_to = max(ends) if capped else last
        profile, changes = self._profile(raw, ids, built_to)
        corners = [(p.station, p.level + line.pitch * p.station) for p in profile]
        dry = self.scenario.system.kind in DRAINABLE
        low = trapped(corners) if dry else []
        supply = profile[0].level
        self.runs[name] = RunResult(
            id=name,
            supply_level=supply,
            pitch=line.pitch * 1000.0,
            profile=profile,
            built_to=round(built_to, 3),
            level_changes=changes,
            takeoffs=[t.id for t in made],
            joining=line.joining,
            trapped=low,
        )

    def _profile(
        self, raw: RawRun, ids: dict[int, str], built_to: float
    ) -> tuple[list[ProfilePoint], list[LevelChange]]:
        line, name = raw.line, raw.line.run.id
        points: list[tuple[float, float]] = []
        changes: list[LevelChange] = []
        for steps, level in self.places.levels[name]:
            for step in steps:
                for node in step[1:]:
                    at = line.level(float(self.drawing.at[node][2]), raw.station[node])
                    points.append((raw.station[node], at))
            if level is not None or len(steps) > 1:
                continue
            (pipe, a, b), (sa, la), (sb, lb) = steps[0], points[-2], points[-1]
            if abs(la - lb) <= 2 * self.places.tolerance:
                continue
            steep = sb - sa <= self.places.within
            bend = line.bend_at(sa, self.places.within) if steep else None
            found = [self.joint(n, pipe)[0] for n in (a, b)]
            changes.append(
                LevelChange(
                    id=f"{name}/L{len(changes) + 1}",
                    stations=(round(sa, 3), round(sb, 3)),
                    levels=(round(la, 3), round(lb, 3)),
                    angle=90 if steep else 45,
                    at_bend=bend is not None,
                    fittings=[j.id for j in found if j is not None],
                    pieces=[ids[pipe.key]],
                    reason="as drawn",
                )
            )
        if points[0][0] > 0.0:
            points.insert(0, (0.0, points[0][1]))
        points.append((built_to, points[-1][1]))
        return [ProfilePoint(station=round(s, 3), level=round(v, 3)) for s, v in _corners(points)], changes

    # -- takeoffs ---------------------------------------------------------------------------

    def _takeoff(self, raw: RawTakeoff) -> Takeoff:
        line = self.places.lines[raw.run]
        name = self.ids[id(raw)]
        station = self.station(raw)
        node = raw.node if raw.node is not None else (raw.steps[0][1] if raw.steps else raw.heads[0][0])
        letters = {h: self._letters(way) for h, way in ways(self.drawing, raw, self.slack).items()}
        named = self._named(raw, letters, line.run.id)
        pieces = []
        for step in raw.steps:
            pieces.append(self._lay(self._piece_kind(raw, step), name, raw.run, step, "threaded"))
        if raw.children and raw.node is not None and not raw.steps:
            for child in raw.children:  # the outlet of a child on an uncut run is made with its first pipe
                run = self.trees.runs[child]
                for pipe in run.pipes_at(run.start):
                    self.joint(run.start, pipe)
        ends = self._ends_run(raw)
        z = float(self.drawing.at[node][2])
        half = self._half(raw)
        return Takeoff(
            id=name,
            run=raw.run,
            style="run_takeoff" if raw.children else named.style,
            station=round(station, 3),
            level=round(line.level(z, station), 3),
            side=self._side(raw, node, ends),
            heads=[head.id for _, head in raw.heads],
            child_runs=list(raw.children),
            arm_level=self._arm_level(raw, z),
            dogleg=named.dogleg,
            ends_run=ends,
            occupies=(round(station - half, 3), round(station + half, 3)),
            hangers=self._hangers(raw),
            pieces=pieces,
        )

    def _letters(self, way: list[Step]) -> str:
        return "".join(letter(self.drawing, step, self.slack + 0.1) for step in way)

    def _named(self, raw: RawTakeoff, letters: dict[str, str], run: str) -> Named:
        if not raw.heads:
            return Named("run_takeoff", False)
        heads = [head for _, head in raw.heads]
        named = name_style(letters, heads, any(s[0].segment.role == "hose" for s in raw.steps))
        style = named.style
        if style == "return_bend" and not named.remark and raw.node is not None:
            way = next(iter(ways(self.drawing, raw, self.slack).values()))
            line = self.places.lines[run]
            run_dn = max((p.dn for p in self._run_pipes(raw)), default=0)
            least = self.raised.least(line, run_dn, way[0][0].dn)
            if least and self.raised.past_something(self.drawing, raw, way, least, 2 * self.places.tolerance):
                style = "raised_arm"
        if named.remark:
            who = ", ".join(head.id for head in heads)
            self.remarks.add("style", who, f"{who}: {named.remark}", self.drawing.xyz(raw.heads[0][0]))
        return Named(style, named.dogleg)

    def _run_pipes(self, raw: RawTakeoff) -> list[Pipe]:
        run = self.trees.runs.get(raw.run)
        if run is None or raw.node is None:
            return []
        found = run.pipes_at(raw.node)
        if raw.node in run.seats:
            at = run.station[raw.node]
            found = [p for p, a, b in run.steps if run.station[a] <= at <= run.station[b]]
        return found

    def _piece_kind(self, raw: RawTakeoff, step: Step) -> PieceKind:
        pipe, _, b = step
        if pipe.segment.role == "hose":
            return "hose"
        goes = letter(self.drawing, step, self.slack)
        head = self.assigned.head_at.get(b)
        if head is not None and any(n == b for n, _ in raw.heads):
            if head.dry:
                return "barrel"
            return {"U": "sprig", "D": "drop"}.get(goes, "arm")  # type: ignore[return-value]
        return "nipple" if goes in "UD" else "arm"

    def _ends_run(self, raw: RawTakeoff) -> bool:
        run = self.trees.runs.get(raw.run)
        if run is None or raw.node is None or raw.node in run.seats:
            return False
        return raw.node != run.start and not any(a == raw.node for _, a, _ in run.steps)

    def _first_way(self, raw: RawTakeoff, node: int) -> Vector | None:
        if raw.steps:
            step = raw.steps[0]
            return self.drawing.way(step[0], step[1])
        if raw.children:
            child = self.trees.runs[raw.children[0]]
            return self.drawing.way(child.pipes_at(node)[0], node)
        return None

    def _side(self, raw: RawTakeoff, node: int, ends: bool) -> Side:
        way = self._first_way(raw, node)
        if way is None:
            return "end"
        line = self.places.lines[raw.run]
        along = line.along(self.station(raw))
        if ends and raw.children and not raw.steps and angle(way, along) <= 3.0:
            return "end"
        if abs(float(way[2])) > 0.7:
            return "top" if way[2] > 0 else "bottom"
        if len(raw.heads) > 1 or (len(raw.children) > 1 and not raw.steps):
            return "left"  # both sides
        left = np.array([-along[1], along[0], 0.0])
        return "left" if float(way @ left) >= 0 else "right"

    def _arm_level(self, raw: RawTakeoff, z: float) -> float | None:
        if raw.children:
            run = self.trees.runs[raw.children[0]]
            return round(float(self.drawing.at[run.start][2]), 3)
        for step in raw.steps:
            if letter(self.drawing, step, self.slack) == "H":
                return round(float(self.drawing.at[step[1]][2]), 3)
        return round(z, 3)

    def _half(self, raw: RawTakeoff) -> float:
        """Take-out of the run fitting along the run, mm; 0 where the tables have none."""
        line = self.places.lines[raw.run]
        run_dn = max((p.dn for p in self._run_pipes(raw)), default=0)
        dn = raw.steps[0][0].dn if raw.steps else run_dn
        kind = "outlet" if line.uncut and not self._ends_run(raw) else "tee"
        try:
            return self.tables.take_out(kind, "run", run_dn, min(dn, run_dn), joining=line.joining)
        except ValueError:
            return 0.0

    def _hangers(self, raw: RawTakeoff) -> int:
        count = 0
        by_name = {head.id: head for _, head in raw.heads}
        nodes = {head.id: node for node, head in raw.heads}
        for name, way in ways(self.drawing, raw, self.slack).items():
            if nodes[name] not in self.wet or name in self.assigned.short:
                continue  # no way to that head, whatever is drawn
            flat = 0.0
            for step in way:
                v = self.drawing.at[step[2]] - self.drawing.at[step[1]]
                if self._piece_kind(raw, step) not in ("hose", "barrel"):
                    flat += float(np.hypot(v[0], v[1]))
            count += flat > self._unsupported(by_name[name]) + 0.1
        return count

    def _unsupported(self, head: Head) -> float:
        """Longest arm to a head without a hanger, mm: shorter over 100 psi for a pendent below a ceiling."""
        given = self.scenario.rules.arm_unsupported
        if given is not None:
            return given
        high = (self.scenario.system.pressure or 0.0) > HIGH_PRESSURE_BAR and head.kind == "pendent"
        ceilings = self.scenario.ceilings
        below = not ceilings or any(
            shapely.Polygon(c.polygon).covers(shapely.Point(head.at[:2])) for c in ceilings
        )
        return self.tables.arm_unsupported(high and below)

    # -- the rest ---------------------------------------------------------------------------

    def finish_takeoffs(self) -> list[Takeoff]:
        """Give the takeoffs with the fittings that they own."""
        by_owner: dict[str, list[str]] = defaultdict(list)
        for joint in self.shop.joints:
            by_owner[joint.owner].append(joint.id)
        return [t.model_copy(update={"fittings": by_owner[t.id]}) for t in self.takeoffs]

    def heads(self) -> list[HeadResult]:
        """Say what became of each head, in the scenario's order."""
        served: dict[str, tuple[Takeoff, int]] = {}
        node_of = {head.id: node for node, head in self.assigned.head_at.items()}
        for takeoff in self.takeoffs:
            for name in takeoff.heads:
                served[name] = (takeoff, node_of[name])
        found = []
        for head in self.scenario.heads:
            if head.id not in served:
                text = f"{head.id}: no pipe ends within reach of it"
                if head.id in node_of:
                    text = f"{head.id}: the pipe at it belongs to no takeoff"
                self.remarks.add("no_pipe", head.id, text, head.at)
                found.append(HeadResult(id=head.id, served=False, inlet=head.at))
                continue
            takeoff, node = served[head.id]
            gap = self.assigned.short.get(head.id)
            inlet = head.at
            if gap is not None:
                text = f"{head.id}: its pipe ends {gap:.1f} mm from its inlet"
                self.remarks.add("gap", head.id, text, self.drawing.xyz(node), gap)
            elif head.shift > 0:
                inlet = self.drawing.xyz(node)
            found.append(
                HeadResult(
                    id=head.id,
                    served=True,
                    takeoff=takeoff.id,
                    run=takeoff.run,
                    style=takeoff.style,
                    inlet=inlet,
                )
            )
        return found


def _corners(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Drop the points of a profile between two of the same level, and doubles."""
    kept: list[tuple[float, float]] = []
    for point in points:
        if kept and abs(kept[-1][0] - point[0]) < 1e-6 and abs(kept[-1][1] - point[1]) < 1e-6:
            continue
        while len(kept) >= 2 and abs(kept[-1][1] - point[1]) < 1e-3 and abs(kept[-2][1] - point[1]) < 1e-3:
            kept.pop()
        kept.append(point)
    return kept
