"""CP-SAT on everything a scenario offers, no bounds, nothing left out, with clashes as they are met.

What clashes is judged on whole stretches of pipe, as the referee judges it: pipe that
begins at a run's tee may be near to what it leaves, up to its first outlet. So a clash
of a stretch forbids that stretch (all its steps) together with what it clashes with.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.prepare import prepare
from router.building.settle import Group
from router.building.shapes import clash_matrix
from router.building.tree import build_tree, solve_tables
from router.model.choice import Answer, Choice, Element
from router.profiles.graph import NEVER
from router.route.totals import prices_of

if TYPE_CHECKING:
    from router.building.shapes import Axes
    from router.scenario.model import Scenario

MOST_ROUNDS = 40
SECONDS = 3.0
"""For each solving of the model."""


class WholeModel:
    """The model of a scenario, and its clashes."""

    def __init__(self, scenario: Scenario) -> None:
        prepared, prices = prepare(scenario), prices_of(scenario)
        trees = [build_tree(prepared, root) for root in prepared.roots]
        for tree in trees:
            solve_tables(prepared, tree, prices)
        self.group = group = Group(prepared, trees, prices)
        costs = {r: group._own_costs(r, tree) for tree in trees for r in tree.order}
        self.kept = {r: np.flatnonzero(costs[r] < NEVER // 2).tolist() for r in costs}
        self.choice = Choice(
            {r: built.graph for r, built in group.graphs.items()},
            self.kept,
            {r: group.parents[r] for r in costs},
            {r: group._own_items(r) for r in costs},
            costs,
            prices,
            (),
            {r: built.long_lows for r, built in group.graphs.items()},
        )

    def solve(self, seconds: float) -> int | None:
        """Return the least cost, thousandths of a point; ``None``: gave up."""
        for _ in range(MOST_ROUNDS):
            answer = self.choice.solve(seconds)
            if answer.status != "optimal":
                return None
            parts, axes = self._stretches(answer)
            clashes = clash_matrix(axes, axes, self.group.gap, self.group.parents)
            pairs = [(i, j) for i, j in zip(*clashes.nonzero(), strict=True) if i < j]
            if not pairs:
                return answer.value
            for i, j in pairs:
                self._forbid(parts[i], axes[i], parts[j], axes[j])
        return None

    def _stretches(self, answer: Answer) -> tuple[list[list[Element]], list[Axes]]:
        """Give arcs, and steps of level pipe joined to stretches, each with its axes."""
        parts: list[list[Element]] = []
        axes: list[Axes] = []
        shapes = self.group.shapes
        for r, chosen in answer.runs.items():
            for k in chosen.arcs:
                parts.append([("arc", r, k)])
                axes.append(shapes.arc(r, k))
            stays, positions = self.choice.stays(r), self.group.graphs[r].graph.positions
            steps = sorted(chosen.stays, key=lambda s: stays[s].i)
            while steps:
                mine = [steps.pop(0)]
                while steps and stays[steps[0]].i == stays[mine[-1]].j:
                    mine.append(steps.pop(0))
                parts.append([("stay", r, s) for s in mine])
                first, last = stays[mine[0]], stays[mine[-1]]
                a, b = int(positions[first.i]), int(positions[last.j])
                axes.append(shapes.stay(r, a, b, first.level))
        return parts, axes

    def _forbid(self, a: list[Element], axes_a: Axes, b: list[Element], axes_b: Axes) -> None:
        """Forbid a stretch or arc with all arcs that stand for the other and clash with it too."""
        for one, axes_one, other in ((a, axes_a, b), (b, axes_b, a)):
            together = [~self.choice.element(e) for e in one]
            self.choice.model.add_bool_or([*together, *(~self.choice.element(e) for e in other)])
            if other[0][0] != "arc":
                continue
            family = [e for e in self.group._family(self.choice, self.kept, other[0]) if e[0] == "arc"]
            if one[0][0] == "arc":
                mine = [e for e in self.group._family(self.choice, self.kept, one[0]) if e[0] == "arc"]
            else:
                mine = []
            shapes = self.group.shapes
            theirs = [shapes.arc(e[1], e[2]) for e in family]
            gap, parents = self.group.gap, self.group.parents
            (hit,) = clash_matrix([axes_one], theirs, gap, parents)
            for j in np.flatnonzero(hit).tolist():
                if family[j] not in one:
                    self.choice.model.add_bool_or([*together, ~self.choice.element(family[j])])
            if mine:
                matrix = clash_matrix([shapes.arc(e[1], e[2]) for e in mine], theirs, gap, parents)
                for i, j in zip(*matrix.nonzero(), strict=True):
                    if mine[i] != family[j]:
                        pair = ~self.choice.element(mine[i]), ~self.choice.element(family[j])
                        self.choice.model.add_bool_or(*pair)


def whole_model(scenario: Scenario, seconds: float = SECONDS) -> int | None:
    """Least cost over every arc of every run; ``None``: gave up."""
    return WholeModel(scenario).solve(seconds)
