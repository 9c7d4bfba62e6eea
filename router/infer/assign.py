"""Which drawn pipe is run pipe of which run, and which end serves which head."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import dist, inf
from typing import TYPE_CHECKING

import numpy as np
from shapely import STRtree
from shapely.geometry import LineString, Point

from router.infer.meets import Pipe

if TYPE_CHECKING:
    from router.infer.lines import RunLine
    from router.infer.meets import Drawing
    from router.infer.remarks import Remarks
    from router.scenario.model import Head, Scenario

NEAR_PLAN_MM = 60.0
"""Pipe said to be main or branch may be drawn that far off the plan of its run."""
NEAR_PLAN_UNSAID_MM = 15.0
"""Pipe without a role must lie closer, or an arm beside its run would be taken for run pipe."""
PARALLEL_DEG = 12.0
STRAIGHT_DEG = 3.0
OTHER_LINE_MM = 30.0
"""Handicap of a run whose name is not the line that the pipe is said to be of."""
HEAD_NEAR_MM = 150.0
"""A free end so near to a head that no pipe reaches is taken as meant for it; the gap stays."""


@dataclass
class Assigned:
    """``run_of``: pipe key to run id. ``head_at``: node to head; ``short``: heads whose pipe stops short."""

    run_of: dict[int, str] = field(default_factory=dict)
    head_at: dict[int, Head] = field(default_factory=dict)
    short: dict[str, float] = field(default_factory=dict)


def upright(drawing: Drawing, pipe: Pipe, slack: float) -> bool:
    """Whether a pipe is vertical: less plan length than the slack, and than its height."""
    v = drawing.at[pipe.nodes[1]] - drawing.at[pipe.nodes[0]]
    flat = float(np.hypot(v[0], v[1]))
    return flat <= slack and abs(float(v[2])) > flat


def assign(
    drawing: Drawing, scenario: Scenario, lines: dict[str, RunLine], tolerance: float, remarks: Remarks
) -> Assigned:
    """Match pipes to runs and free ends to heads; then take out couplings."""
    made = Assigned()
    tree = STRtree([LineString(line.plan.vertices) for line in lines.values()])
    named = list(lines.values())
    slack = 2 * tolerance
    for pipe in drawing.pipes.values():
        if pipe.segment.role in ("head_arm", "hose") or upright(drawing, pipe, max(slack, 10.0)):
            continue
        found = _run_of(drawing, pipe, named, tree)
        if found is not None:
            made.run_of[pipe.key] = found
    _offsets(drawing, lines, made, max(slack, 10.0))
    _heads(drawing, scenario, tolerance, made)
    _couplings(drawing, made, remarks)
    return made


def _run_of(drawing: Drawing, pipe: Pipe, named: list[RunLine], tree: STRtree) -> str | None:
    """Run on whose plan a pipe lies at about its level, the nearest if several."""
    p, q = drawing.at[pipe.nodes[0]], drawing.at[pipe.nodes[1]]
    middle = (p + q) / 2
    reach = NEAR_PLAN_MM if pipe.segment.role else NEAR_PLAN_UNSAID_MM
    way = (q - p)[:2]
    best: tuple[float, str] = (inf, "")
    near = tree.query(Point(middle[0], middle[1]).buffer(reach))
    for line in (named[k] for k in sorted(int(n) for n in near)):
        station, off = line.nearest(middle)
        # a long pipe may span a slight bend that the plan has not, so its ends count less than its middle
        off = max(off, line.nearest(p)[1], line.nearest(q)[1])
        along = line.along(station)[:2]
        cosine = abs(float(way @ along)) / float(np.hypot(*way))
        low, high = line.band()
        out = max(low - middle[2], float(middle[2]) - line.pitch * station - high, 0.0)
        if off > reach or cosine < np.cos(np.radians(PARALLEL_DEG)) or out > line_slack(line):
            continue
        said = pipe.segment.line
        other = bool(said) and said != line.run.id and line.run.id.rsplit(".", 1)[0] != said
        level = abs(float(middle[2]) - line.pitch * station - line.run.elevation)
        score = off + 0.05 * level + (OTHER_LINE_MM if other else 0.0)
        best = min(best, (score, line.run.id))
    return best[1] or None


def line_slack(line: RunLine) -> float:
    """How far outside its band pipe may lie and still be a run's (the referee judges it), mm."""
    return 600.0


def _offsets(drawing: Drawing, lines: dict[str, RunLine], made: Assigned, slack: float) -> None:
    """Upright pipe between two level stretches of one run is run pipe: an offset of two 90 degree elbows."""
    for pipe in drawing.pipes.values():
        if pipe.segment.role in ("head_arm", "hose") or not upright(drawing, pipe, slack):
            continue
        sides = [
            [made.run_of[p.key] for p in drawing.of(node) if p.key in made.run_of] for node in pipe.nodes
        ]
        if len(sides[0]) == len(sides[1]) == 1 and sides[0] == sides[1]:
            made.run_of[pipe.key] = sides[0][0]


def _heads(drawing: Drawing, scenario: Scenario, tolerance: float, made: Assigned) -> None:
    """Free ends at inlets, the nearest pairs first."""
    free = [
        node
        for node in drawing.graph
        if drawing.graph.degree(node) == 1 and drawing.of(node)[0].key not in made.run_of
    ]
    if not free:
        return
    tree = STRtree([Point(drawing.at[node][:2]) for node in free])
    pairs = []
    for h, head in enumerate(scenario.heads):
        for k in tree.query(Point(head.at[:2]).buffer(HEAD_NEAR_MM + head.shift)):
            node = free[int(k)]
            x, y, z = drawing.xyz(node)
            flat = max(dist((x, y), head.at[:2]) - head.shift, 0.0)
            gap = float(np.hypot(flat, z - head.at[2]))
            if gap <= HEAD_NEAR_MM:
                pairs.append((gap, h, node))
    taken: set[int] = set()
    for gap, h, node in sorted(pairs):
        head = scenario.heads[h]
        if h not in taken and node not in made.head_at:
            taken.add(h)
            made.head_at[node] = head
            x, y, z = drawing.xyz(node)
            over = dist((x, y), head.at[:2]) <= scenario.rules.alignment and abs(z - head.at[2]) <= 0.1
            if gap > 1.75 * tolerance and not over:
                made.short[head.id] = gap


def _couplings(drawing: Drawing, made: Assigned, remarks: Remarks) -> None:
    """Two pipes of one size in line, and nothing else, are one pipe with a coupling."""
    count = 0
    for node in sorted(drawing.graph):
        pipes = drawing.of(node)
        if len(pipes) != 2 or node in made.head_at:
            continue
        a, b = pipes
        same = made.run_of.get(a.key) == made.run_of.get(b.key) and a.dn == b.dn
        same = same and (a.segment.role == "hose") == (b.segment.role == "hose")
        turn = float(drawing.way(a, node) @ drawing.way(b, node))
        if not same or turn > -np.cos(np.radians(STRAIGHT_DEG)) or a.other(node) == b.other(node):
            continue
        joined = Pipe(max(drawing.pipes) + 1, a.segment, (a.other(node), b.other(node)), a.dn)
        run = made.run_of.get(a.key)
        for old in (a, b):
            drawing.graph.remove_edge(*old.nodes, key=old.key)
            drawing.pipes.pop(old.key)
            made.run_of.pop(old.key, None)
        drawing.graph.remove_node(node)
        drawing.graph.add_edge(*joined.nodes, key=joined.key)
        drawing.pipes[joined.key] = joined
        if run is not None:
            made.run_of[joined.key] = run
        count += 1
    if count:
        text = f"{count} places where two pipes of one size go on in line: couplings, not counted"
        remarks.add("coupling", "drawing", text)
