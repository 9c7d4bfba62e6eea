"""Solver variables of a set of runs, with queries instead of loose dictionaries."""

from __future__ import annotations

import itertools
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from ortools.sat.python import cp_model

    from router.profiles.graph import Prices, RunGraph

    BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Stay:
    """The run keeps ``level`` from position ``i`` to ``j`` (indices); ``flag``: inside a trapped part."""

    i: int
    j: int
    level: int
    flag: int
    cost: int


@dataclass
class RunVariables:
    """Variables of one run.

    ``arc``: one literal per kept arc; ``lane``: the same split by trapped flag
    (the arc itself where only one flag is possible); ``start``: the level that
    the run starts at; ``style``: styles in use; ``unserved``: by item.
    """

    graph: RunGraph
    kept: list[int]
    arc: dict[int, cp_model.IntVar] = field(default_factory=dict)
    lane: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    stays: list[Stay] = field(default_factory=list)
    stay: list[cp_model.IntVar] = field(default_factory=list)
    start: dict[int, cp_model.IntVar] = field(default_factory=dict)
    style: dict[str, cp_model.IntVar] = field(default_factory=dict)
    unserved: dict[int, cp_model.IntVar] = field(default_factory=dict)

    @property
    def flags(self) -> int:
        """Number of lanes: 2 where descents trap water."""
        return 2 if self.graph.traps else 1

    def serving(self, item: int) -> list[cp_model.IntVar]:
        """Literals of all kept arcs that serve ``item``."""
        return [self.arc[k] for k in self.kept if item in self.graph.arcs[k].items]

    def feeding(self, child: int, level: int) -> list[cp_model.IntVar]:
        """Literals of all kept arcs that feed ``child`` at its ``level``."""
        return [self.arc[k] for k in self.kept if (child, level) in self.graph.arcs[k].feeds]


def make_variables(
    model: cp_model.CpModel,
    graph: RunGraph,
    kept: list[int],
    prices: Prices,
    within: tuple[BoolArray, BoolArray] | None = None,
) -> RunVariables:
    """Create and name all variables of a run.

    Only positions that some kept arc touches matter; between two of them the
    run can stay where every step between is clear. ``within``: see ``Choice``.
    """
    v = RunVariables(graph, kept)
    if within is None:
        lanes = np.ones((len(graph.arcs), v.flags), dtype=bool)
        nodes = np.ones((len(graph.positions), graph.levels, v.flags), dtype=bool)
    else:
        lanes, nodes = within
    name = f"r{graph.run}"
    touched: dict[tuple[int, int], set[int]] = defaultdict(set)
    pipe = graph.pipe_costs(prices)
    for level, amount in enumerate(graph.source):
        if amount >= 0 and nodes[0, level, 0]:
            v.start[level] = model.new_bool_var(f"{name}_start_{level}")
            touched[level, 0].add(0)
    for k in kept:
        arc = graph.arcs[k]
        v.arc[k] = model.new_bool_var(f"{name}_arc_{k}")
        flags = [flag for flag in range(v.flags) if lanes[k, flag]]
        for flag in flags:
            v.lane[k, flag] = v.arc[k] if len(flags) == 1 else model.new_bool_var(f"{name}_arc_{k}_{flag}")
            touched[arc.la, flag].add(int(graph.starts[k]))
            if not arc.ends:
                touched[arc.lb, graph.flag_move(k, flag)[0]].add(int(graph.goes[k]))
        if arc.style and arc.style not in v.style:
            v.style[arc.style] = model.new_bool_var(f"{name}_style_{arc.style}")
    for level, flag in sorted(touched):
        places = sorted(touched[level, flag])
        for i, j in itertools.pairwise(places):
            if nodes[i : j + 1, level, flag].all() and graph.level_ok[i:j, level].all():
                v.stays.append(Stay(i, j, level, flag, int(pipe[j] - pipe[i])))
                v.stay.append(model.new_bool_var(f"{name}_stay_{i}_{j}_{level}_{flag}"))
    for item in range(len(graph.items)):
        v.unserved[item] = model.new_bool_var(f"{name}_unserved_{item}")
    return v
