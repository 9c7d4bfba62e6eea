"""The fitting at every node of a drawing, and who owns it."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import networkx as nx

from router.infer.assign import upright
from router.infer.fittings import Shop, elbow_kind, in_line

if TYPE_CHECKING:
    from router.infer.meets import Drawing, Pipe
    from router.infer.places import Places
    from router.infer.remarks import Remarks
    from router.infer.trees import RawRun, RawTakeoff
    from router.route.model import FittingKind, Xyz
    from router.route.parts import Joint
    from router.scenario.model import Scenario
    from router.trade.tables import Tables

AT_SUPPLY_MM = 0.1
CAP_MM = 500.0
"""A run's free end with no other pipe so near is taken as capped."""


class NodeFittings:
    """What each takeoff is called, who owns what, and the fitting at every node.

    ``shop`` makes the fittings; each is made when the first pipe asks for it.
    """

    def __init__(self, places: Places, scenario: Scenario, tables: Tables, remarks: Remarks) -> None:
        self.places, self.scenario, self.tables, self.remarks = places, scenario, tables, remarks
        self.drawing: Drawing = places.drawing
        self.trees, self.assigned = places.trees, places.assigned
        self.run_of = self.assigned.run_of
        self.slack = max(scenario.rules.alignment, 2 * places.tolerance)
        self.shop = Shop(tables, remarks)
        self.by_run: dict[str, list[RawTakeoff]] = defaultdict(list)
        for takeoff in self.trees.takeoffs:
            self.by_run[takeoff.run].append(takeoff)
        self.ids = self._names()
        self.owner_of = self._owners()
        self.joints: dict[int, Joint | None] = {}
        self.outlets: dict[tuple[int, int], Joint] = {}
        self.dry = {n for n, h in self.assigned.head_at.items() if h.dry}

    # -- who owns what ----------------------------------------------------------------------

    def station(self, takeoff: RawTakeoff) -> float:
        """Station of a takeoff on its run, mm."""
        run = self.trees.runs.get(takeoff.run)
        if takeoff.node is not None and run is not None and takeoff.node in run.station:
            return run.station[takeoff.node]
        line = self.places.lines[takeoff.run]
        node = takeoff.steps[0][1] if takeoff.steps else takeoff.heads[0][0]
        return line.nearest(self.drawing.at[node])[0]

    def _names(self) -> dict[int, str]:
        names: dict[int, str] = {}
        for run in self.places.lines:
            self.by_run[run].sort(key=lambda t: (self.station(t), bool(t.children), t.heads[:1] != []))
            for takeoff in self.by_run[run]:
                names[id(takeoff)] = f"T{len(names) + 1:03d}"
        return names

    def _owners(self) -> dict[int, tuple[str, str]]:
        """Node to owner and run of the fitting there: a takeoff's, else the run's."""
        owners: dict[int, tuple[str, str]] = {}
        for takeoff in self.trees.takeoffs:
            name = self.ids[id(takeoff)]
            if takeoff.node is not None:
                owners.setdefault(takeoff.node, (name, takeoff.run))
        for takeoff in self.trees.takeoffs:
            name = self.ids[id(takeoff)]
            for _, a, b in takeoff.steps:
                owners.setdefault(a, (name, takeoff.run))
                owners.setdefault(b, (name, takeoff.run))
        for name, run in self.trees.runs.items():
            for _, a, b in run.steps:
                owners.setdefault(a, (name, name))
                owners.setdefault(b, (name, name))
        return owners

    def reached(self) -> set[int]:
        """Give the nodes that water reaches from a supply whose pipe begins at its place."""
        graph: nx.Graph[int] = nx.Graph(self.drawing.graph)
        sources = []
        for run in self.trees.runs.values():
            for node in run.seats:
                at = run.station[node]
                for _, a, b in run.steps:
                    if run.station[a] <= at <= run.station[b]:
                        graph.add_edge(a, node)
            x, y = run.line.plan.point(0.0)
            px, py, _ = self.drawing.xyz(run.start)
            if run.line.parent is None and max(abs(px - x), abs(py - y)) < AT_SUPPLY_MM:
                sources.append(run.start)
        return {n for source in sources for n in nx.node_connected_component(graph, source)}

    # -- fittings ---------------------------------------------------------------------------

    def _at(self, node: int) -> list[Pipe]:
        return self.drawing.of(node)

    def _barrel(self, pipe: Pipe) -> bool:
        """Whether a pipe is a dry head's barrel."""
        if not self.dry.intersection(pipe.nodes):
            return False
        return upright(self.drawing, pipe, self.slack) or len(self._at(min(pipe.nodes))) == 1

    def joint(self, node: int, pipe: Pipe) -> tuple[Joint | None, str]:
        """Give the fitting at a node and the port that a pipe comes into."""
        seat = next((r for r in self.trees.runs.values() if node in r.seats), None)
        if seat is not None and self.run_of.get(pipe.key) != seat.line.run.id:
            return self._outlet(seat, node, pipe), "outlet"
        if node not in self.joints:
            self.joints[node] = self._fitting(node)
        joint = self.joints[node]
        if joint is None or joint.kind not in ("tee", "cross"):
            return joint, "run"
        pipes = self._at(node)
        if len(pipes) == 2:  # a dry head's tee with a plugged end
            return joint, "outlet" if self._barrel(pipe) else "run"
        pair = in_line([self.drawing.way(p, node) for p in pipes], [p.dn for p in pipes])
        at = [p.key for p in pipes].index(pipe.key)
        return joint, "run" if pair is None or at in pair else "outlet"

    def _outlet(self, run: RawRun, node: int, pipe: Pipe) -> Joint:
        key = (node, pipe.key)
        if key not in self.outlets:
            owner, name = self.owner_of[node]
            for takeoff in self.by_run[run.line.run.id]:
                if takeoff.node == node and any(s[0].key == pipe.key for s in takeoff.steps):
                    owner, name = self.ids[id(takeoff)], takeoff.run
            joint = self.shop.joint("outlet", owner, name, self.drawing.xyz(node), run.line.joining)
            joint.seat = run.seats[node]
            self.outlets[key] = joint
        return self.outlets[key]

    def _fitting(self, node: int) -> Joint | None:
        """Make the fitting that the pipes at a node ask for, ``None`` where they need none."""
        pipes = self._at(node)
        kind = self._kind(node, pipes)
        if kind is None:
            return None
        owner, run = self.owner_of[node]
        if kind == "cap":
            owner = run
        joint = self.shop.joint(kind, owner, run, self.drawing.xyz(node), self._joining(node, pipes))
        if kind == "tee" and len(pipes) == 2:
            inlet = next(p for p in pipes if not self._barrel(p))
            back = -self.drawing.way(inlet, node)
            way: Xyz = (float(back[0]), float(back[1]), float(back[2]))
            joint.ports.append((way, inlet.dn, "run"))
            plug = self.shop.joint("plug", owner, run, joint.at, joint.joining)
            plug.ports.append((way, inlet.dn, "run"))
        return joint

    def _kind(self, node: int, pipes: list[Pipe]) -> FittingKind | None:
        ways_out = [self.drawing.way(p, node) for p in pipes]
        if len(pipes) == 1:
            return self._end(node, pipes[0])
        if len(pipes) == 2:
            if all(p.segment.role == "hose" for p in pipes):
                return None
            elbow = elbow_kind(ways_out[0], ways_out[1])
            if elbow is not None and sum(self._barrel(p) for p in pipes) == 1:
                return "tee"
            if elbow is None and pipes[0].dn != pipes[1].dn:
                return "reducing_coupling"
            return elbow
        at = self.drawing.xyz(node)
        if in_line(ways_out, [p.dn for p in pipes]) is None:
            text = f"{len(pipes)} pipes meet, none in line with another: taken as a tee or cross"
            self.remarks.add("fitting", pipes[0].segment.id, text, at)
        if len(pipes) > 4:
            text = f"{len(pipes)} pipes meet in one place; no fitting has so many openings, taken as a cross"
            self.remarks.add("fitting", pipes[0].segment.id, text, at, None)
        return "tee" if len(pipes) == 3 else "cross"

    def _end(self, node: int, pipe: Pipe) -> FittingKind | None:
        """One pipe ends: at a head, at a supply, or in nothing."""
        if node in self.assigned.head_at:
            return None
        run = self.trees.runs.get(self.run_of.get(pipe.key, ""))
        gap = self.drawing.nearest_gap.get(node)
        at = self.drawing.xyz(node)
        if run is not None and node == run.start:
            return None
        near = gap is not None and gap[0] <= CAP_MM
        if run is not None and not near:
            text = f"{pipe.segment.id}: the end of {run.line.run.id} beyond its last takeoff: taken as capped"
            self.remarks.add("cap", pipe.segment.id, text, at)
            return "cap"
        if gap is not None:
            text = f"{pipe.segment.id}: ends {gap[0]:.1f} mm from {gap[1]} and meets nothing"
            self.remarks.add("gap", pipe.segment.id, text, at, gap[0])
        else:
            self.remarks.add("loose_end", pipe.segment.id, f"{pipe.segment.id}: ends in nothing", at)
        return None

    def _joining(self, node: int, pipes: list[Pipe]) -> str:
        """How a fitting is joined: as its own run's pipe, else another run's, else threaded."""
        runs = [self.run_of[p.key] for p in pipes if p.key in self.run_of]
        own = self.owner_of[node][1]
        if own in runs:
            return self.places.lines[own].joining
        return self.places.lines[runs[0]].joining if runs else "threaded"
