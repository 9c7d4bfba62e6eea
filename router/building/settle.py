"""Trees whose relaxed answers clash, or mix styles, decided together by the model."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from router.building.assemble import RunPlan
from router.building.shapes import Axes, Shapes, clash_matrix
from router.building.stop import Stop
from router.building.tree import Tree, fed_costs, through_all
from router.model.doubt import DoubtError
from router.profiles.graph import NEVER, POINT, IntArray, Prices

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from router.building.prepare import Prepared
    from router.geometry.solids import BoolArray
    from router.model.choice import Answer, Choice, Element
    from router.profiles.graph import RunGraph

FIRST_GAP = 15
"""Points. Arcs whose through-cost is within this of the bound come into the first model."""
EFFORT = 5.0
"""Most deterministic time of a search that only looks a second time; about seconds."""
ROUNDS = 200
"""Most times that clashes are added and the model solved again for one gap."""


@dataclass(frozen=True)
class Settled:
    """Outcome for a group of trees. ``value``/``bound``: thousandths of a point.

    ``clear``: whether the plans are a choice without clashes, so that ``value`` says something.
    ``kept``: arcs in the last model.
    """

    plans: dict[int, RunPlan]
    value: int
    bound: int
    status: Literal["optimal", "feasible"]
    kept: int = 0
    clear: bool = False


class Group:
    """Trees that are decided together.

    Parameters
    ----------
    opened
        Runs that the model decides (with each one its parent); the others take
        part by their tables. Default: all.
    start
        Instead of trees one run of the one tree, which is built from one level (index);
        its value is ``NEVER`` if it cannot be.
    met
        Takeoffs, offsets and bends that are known to clash. ``met`` then holds these and
        those that clashed here, in the order in which they were met.
    effort
        Instead of the usual way: a second look, with presolve flipped, that gives each
        search so much deterministic time at the most.
    """

    def __init__(
        self,
        prepared: Prepared,
        trees: list[Tree],
        prices: Prices,
        opened: Collection[int] | None = None,
        start: tuple[int, int] | None = None,
        met: dict[tuple[Element, Element], None] | None = None,
        effort: float | None = None,
    ) -> None:
        self.effort = effort
        self.choice: Choice | None = None
        self.prepared, self.trees, self.prices = prepared, trees, prices
        self.opened = {start[0]} if start is not None else opened
        self.start = start
        self.graphs = {
            r: tree.graphs[r] for tree in trees for r in tree.order if self.opened is None or r in self.opened
        }
        self.shapes = Shapes(prepared, self.graphs)
        self.parents: list[int | None] = [frame.parent for frame in prepared.frames]
        self.bound = sum(tree.bound for tree in trees)
        if start is not None:
            self.bound = int(trees[0].programmes[start[0]].table()[start[1]])
        self.gap = prepared.scenario.rules.piece_clearance
        self._through: dict[int, tuple[IntArray, IntArray]] | None = None
        self.met = {} if met is None else {pair: None for pair in met if self._here(*pair)}

    def _here(self, *elements: Element) -> bool:
        return all(run in self.graphs for _, run, _ in elements)

    def _regret(self) -> dict[int, tuple[IntArray, IntArray]]:
        """For every arc (by flag) and node, how much dearer its tree becomes with it, at the least."""
        if self._through is None:
            self._through = {}
            for tree in self.trees:
                least = tree.bound if self.start is None else self.bound
                for r, parts in through_all(tree, self.opened, self.start).items():
                    lanes, nodes = (np.where(part >= NEVER, NEVER, part - least) for part in parts)
                    self._through[r] = lanes, nodes
        return self._through

    def settle(self, first_gap: float, stop: Stop | None, tell: Callable[[str], None]) -> Settled:
        """Solve; the gap of arcs taken in grows until the answer proves itself, or a stop asks for the end.

        An answer dearer than the bound by no more than the first arc left out is the best
        of all: anything better uses only arcs that were taken in.
        """
        stop = Stop() if stop is None else stop
        if stop.asked():
            return Settled({}, 0, self.bound, "feasible")
        regret = self._regret()
        every = np.concatenate([part.ravel() for parts in regret.values() for part in parts])
        every = every[every < NEVER]
        most = int(every.max(initial=0))
        gap = int(first_gap * POINT)
        best: Answer | None = None
        kept: dict[int, list[int]] = {}
        while True:
            within = {r: (lanes <= gap, nodes <= gap) for r, (lanes, nodes) in regret.items()}
            kept = {r: np.flatnonzero(lanes.any(axis=1)).tolist() for r, (lanes, _) in within.items()}
            tell(f"{sum(len(k) for k in kept.values())} candidates within {gap / POINT:.0f} points")
            answer = self._solve(kept, within, stop)
            if answer.status in ("optimal", "feasible") and (best is None or answer.value < best.value):
                best = answer
            dropped = every[every > gap]
            reach = int(dropped.min()) if len(dropped) else NEVER
            closed = answer.status == "optimal" and answer.value <= self.bound + reach
            if closed or gap >= most or stop.asked():
                break
            if self.effort is not None and answer.status in ("feasible", "unknown"):
                break  # a second look does not try for ever
            over = answer.value - self.bound if answer.status in ("optimal", "feasible") else 0
            # an answer a little dearer than the gap proves itself, or a better one, once the gap covers it
            gap = min(max(reach, over if 0 < over <= 16 * gap else 2 * gap), most)
        if best is None and answer.status == "infeasible" and gap >= most:
            self._doubt_nothing(stop)
            return Settled({}, NEVER, NEVER, "optimal")
        if best is None:  # the last answer has clashes left, but fewer than the relaxation's
            return Settled(_plans(answer), 0, self.bound, "feasible")
        proven = answer.status == "optimal" and (closed or gap >= most)
        bound = answer.value if proven else max(self.bound, min(answer.bound, self.bound + reach))
        count = sum(len(k) for k in kept.values())
        status: Literal["optimal", "feasible"] = "optimal" if proven else "feasible"
        return Settled(_plans(best), best.value, bound, status, count, clear=True)

    def _doubt_nothing(self, stop: Stop) -> None:
        """Ask once more, with presolve flipped, whether really nothing fits."""
        if self.choice is None or stop.asked():
            return
        flipped = self.effort is None
        again = self.choice.solve(stop.left(), lambda: stop.wanted, presolve=not flipped, effort=EFFORT)
        if again.status in ("optimal", "feasible"):
            raise DoubtError(
                f"{self.names}: the solver finds that no choice fits, with presolve flipped that one does"
            )

    @property
    def names(self) -> str:
        """The runs that are decided, by id."""
        return ", ".join(self.prepared.scenario.runs[r].id for r in sorted(self.graphs))

    def _solve(
        self, kept: dict[int, list[int]], within: dict[int, tuple[BoolArray, BoolArray]], stop: Stop
    ) -> Answer:
        """Solve with clashes added as they are met, until the answer has none.

        An answer of a stop, or of too many rounds, is ``unknown``; its choice still has clashes.
        """
        # here, so that a route without clashes does not wait for the solver to load (50 MB)
        from router.model.choice import Choice

        graphs = {r: self._graph(r) for r in self.graphs}
        own = {r: self._own_items(r) for r in self.graphs}
        costs = {r: self._own_costs(r, tree) for tree in self.trees for r in tree.order if r in graphs}
        parents = {r: self.parents[r] if self.parents[r] in graphs else None for r in graphs}
        lows = {r: self.graphs[r].long_lows for r in graphs}
        built = () if self.start is None else self.graphs
        choice = self.choice = Choice(graphs, kept, parents, own, costs, self.prices, built, lows, within)
        presolve = self.effort is None
        known: set[tuple[Element, Element]] = set()
        for pair in self.met:
            # with more arcs the same two families would only be met again
            if stop.asked():
                break
            self._forbid_families(choice, kept, *pair, known)
        for _ in range(ROUNDS):
            answer = choice.solve(stop.left(), lambda: stop.wanted, presolve=presolve, effort=self.effort)
            if answer.status not in ("optimal", "feasible"):
                return answer
            pairs = self.clashes(choice, answer)
            if not pairs:
                # the bounds see some clashes too, so only an answer without any must keep them
                if answer.value < self.bound:
                    raise DoubtError(
                        f"{self.names}: the model's choice costs {answer.value / POINT:,.3f} points, "
                        f"less than the {self.bound / POINT:,.3f} that the bounds prove to be the least"
                    )
                return answer
            for one, other in pairs:
                if stop.asked():
                    break
                if one[0] == other[0] == "arc":
                    self.met[one, other] = None
                self._forbid_families(choice, kept, one, other, known)
            if stop.asked():
                break
        return replace(answer, status="unknown", value=0)

    def _graph(self, run: int) -> RunGraph:
        graph = self.graphs[run].graph
        if self.start is None:
            return graph
        source = np.where(np.arange(graph.levels) == self.start[1], graph.source, -1.0)
        return replace(graph, source=source)

    def _own_items(self, run: int) -> list[int]:
        """Items that are served or not by the run itself: heads, and runs that stand by their tables."""
        count = len(self.graphs[run].item_heads)
        children = self.prepared.frames[run].children
        return [*range(count), *(count + i for i, c in enumerate(children) if c not in self.graphs)]

    def _own_costs(self, run: int, tree: Tree) -> IntArray:
        graph = tree.graphs[run].graph
        return self.prices.costs(graph.columns.amounts) + fed_costs(tree, graph, self.graphs)

    @staticmethod
    def _elements(answer: Answer) -> list[Element]:
        out: list[Element] = []
        for r, c in answer.runs.items():
            out += [("arc", r, k) for k in c.arcs]
            out += [("stay", r, s) for s in c.stays]
        return out

    def clashes(self, choice: Choice, answer: Answer) -> list[tuple[Element, Element]]:
        """Return the pairs of an answer's elements that are too near to each other."""
        chosen = self._elements(answer)
        axes = [self._axes(choice, e, first=self._is_first(choice, answer, e)) for e in chosen]
        matrix = clash_matrix(axes, axes, self.gap, self.parents)
        return [(chosen[i], chosen[j]) for i, j in zip(*matrix.nonzero(), strict=True) if i < j]

    def _axes(self, choice: Choice, e: Element, *, first: bool) -> Axes:
        """Return an element's axes; ``first``: level pipe is one with its run's beginning where it can be."""
        kind, run, index = e
        if kind == "arc":
            return self.shapes.arc(run, index)
        stay = choice.stays(run)[index]
        positions = self.graphs[run].graph.positions
        return self.shapes.stay(run, int(positions[stay.i]), int(positions[stay.j]), stay.level, first=first)

    def _is_first(self, choice: Choice, answer: Answer, e: Element) -> bool:
        """Whether level pipe lies before the first fitting of its run."""
        kind, run, index = e
        if kind == "arc":
            return False
        graph = self.graphs[run].graph
        begins = int(graph.positions[choice.stays(run)[index].i])
        arcs = (graph.arcs[k] for k in answer.runs[run].arcs)
        return not any(arc.kind != "start" and arc.b <= begins for arc in arcs)

    def _family(self, choice: Choice, kept: dict[int, list[int]], e: Element) -> list[Element]:
        """Everything that could stand for ``e``: arcs for the same items, run pipe beside it."""
        kind, run, index = e
        graph = self.graphs[run].graph
        if kind == "arc":
            a, b = graph.arcs[index].a, graph.arcs[index].b
            items = set(graph.arcs[index].items)
        else:
            stay = choice.stays(run)[index]
            a, b, items = int(graph.positions[stay.i]), int(graph.positions[stay.j]), set()
        out: list[Element] = [
            ("arc", run, k)
            for k in kept[run]
            if items & set(graph.arcs[k].items) or (graph.arcs[k].a <= b and graph.arcs[k].b >= a)
        ]
        for s, stay in enumerate(choice.stays(run)):
            if graph.positions[stay.i] <= b and graph.positions[stay.j] >= a:
                out.append(("stay", run, s))
        return out

    def _forbid_families(
        self,
        choice: Choice,
        kept: dict[int, list[int]],
        a: Element,
        b: Element,
        known: set[tuple[Element, Element]],
    ) -> None:
        """Forbid what clashes of two families; then what only does once a fitting comes before it."""
        first, second = self._family(choice, kept, a), self._family(choice, kept, b)
        matrix = self._matrix(choice, first, second)
        self._forbid_beyond(choice, kept, first, second, matrix)
        groups = self._exclusive(second)
        group = np.zeros(len(second), dtype=np.int64)
        for g, members in enumerate(groups):
            group[members] = g
        for rows in self._exclusive(first):
            for g in np.unique(group[matrix[rows].any(axis=0)]).tolist():
                columns = groups[g]
                part = matrix[np.ix_(rows, columns)]
                alike: dict[bytes, list[int]] = {}
                for n in np.flatnonzero(part.any(axis=1)).tolist():
                    alike.setdefault(part[n].tobytes(), []).append(n)
                for same in alike.values():
                    ones = [first[rows[n]] for n in same]
                    others = [second[columns[n]] for n in np.flatnonzero(part[same[0]]).tolist()]
                    pairs = {(min(x, y), max(x, y)) for x in ones for y in others}
                    if pairs - known:
                        known |= pairs
                        choice.forbid(ones, others)

    def _matrix(
        self, choice: Choice, one: list[Element], other: list[Element], *, first: bool = True
    ) -> BoolArray:
        """Return which clash; nothing clashes with itself.

        ``first``: level pipe of ``one`` is one with its run's beginning where it can be; of ``other`` it is.
        """
        mine = [self._axes(choice, e, first=first) for e in one]
        theirs = [self._axes(choice, e, first=True) for e in other]
        matrix = clash_matrix(mine, theirs, self.gap, self.parents)
        place = {e: j for j, e in enumerate(other)}
        for i, e in enumerate(one):
            if e in place:
                matrix[i, place[e]] = False
        return matrix

    def _forbid_beyond(
        self,
        choice: Choice,
        kept: dict[int, list[int]],
        one: list[Element],
        other: list[Element],
        always: BoolArray,
    ) -> None:
        """Forbid what only clashes once a fitting parts level pipe from the run's beginning.

        Before that it is one pipe with what leaves the parent, and cannot be too near to it.
        """
        for mine, theirs, known in ((one, other, always), (other, one, always.T)):
            some = [n for n, e in enumerate(mine) if self._may_be_first(choice, e)]
            if not some:
                continue
            stays = [mine[n] for n in some]
            parted = self._matrix(choice, stays, theirs, first=False) & ~known[some]
            for i in np.flatnonzero(parted.any(axis=1)).tolist():
                _, run, index = stays[i]
                begins = choice.stays(run)[index].i
                graph = self.graphs[run].graph
                before = [
                    k for k in kept[run] if graph.arcs[k].kind != "start" and 0 <= graph.goes[k] <= begins
                ]
                if before:
                    against = [theirs[j] for j in np.flatnonzero(parted[i]).tolist()]
                    choice.forbid_after(stays[i], against, before)

    def _may_be_first(self, choice: Choice, e: Element) -> bool:
        kind, run, index = e
        if kind == "arc":
            return False
        return self.shapes.may_be_first(
            run, int(self.graphs[run].graph.positions[choice.stays(run)[index].i])
        )

    def _exclusive(self, elements: list[Element]) -> list[list[int]]:
        """Split elements (indices) so that of each part only one can be: those that serve the same head."""
        parts: dict[object, list[int]] = {}
        for n, (kind, run, index) in enumerate(elements):
            items = self.graphs[run].graph.arcs[index].items if kind == "arc" else ()
            parts.setdefault((run, items[0]) if items else n, []).append(n)
        return list(parts.values())


def _plans(answer: Answer) -> dict[int, RunPlan]:
    """Return the plans of the runs that an answer builds."""
    return {r: RunPlan(c.level, c.arcs) for r, c in answer.runs.items() if c.level is not None and c.arcs}
