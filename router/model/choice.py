"""The choice: one CP-SAT model over the runs that must be decided together.

Everything that leaves a run is a takeoff, a run is a path. Clashes between
pieces come in as pairs of things that cannot both be; they are added as they
are found (``Choice.forbid``), and the model is solved again.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from threading import Event, Thread
from typing import TYPE_CHECKING, Literal

from router.model import rules
from router.model.doubt import DoubtError
from router.model.variables import RunVariables, Stay, make_variables

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

    from ortools.sat.python import cp_model

    from router.model.variables import BoolArray
    from router.profiles.graph import IntArray, LongLow, Prices, RunGraph

LOOK_S = 0.05
"""So often a running search is asked whether it must end."""

Element = tuple[Literal["arc", "stay"], int, int]
"""(kind, run, index of the arc or of the stay)."""


@dataclass(frozen=True)
class RunChoice:
    """What the model chose for one run; ``None`` as level: the run is not built."""

    level: int | None
    arcs: tuple[int, ...]
    stays: tuple[int, ...]
    unserved: tuple[int, ...]


@dataclass(frozen=True)
class Answer:
    """Outcome of one solve. ``value`` and ``bound`` in thousandths of a point."""

    status: Literal["optimal", "feasible", "unknown", "infeasible"]
    value: int
    bound: int
    runs: dict[int, RunChoice]
    deterministic_time: float


class Choice:
    """The model of a set of runs.

    Parameters
    ----------
    graphs
        Graphs by run.
    kept
        Arcs of each run that are not proven useless.
    parents
        Parent of each run, ``None`` for roots.
    heads
        Indices of each run's items that it serves itself: heads, and runs that are not in the model.
    costs
        Cost of every arc of each run without child tables, thousandths of a point.
    prices
        Weights.
    built
        Runs that must be built; the others may be left out.
    long_lows
        Of dry runs, the descents that may need the large drain.
    within
        Of each run which arcs in which flag, and which nodes, are not proven
        useless; shapes (arcs, flags) and (positions, levels, flags). Default: all.
    """

    def __init__(
        self,
        graphs: dict[int, RunGraph],
        kept: dict[int, list[int]],
        parents: dict[int, int | None],
        heads: dict[int, list[int]],
        costs: Mapping[int, Sequence[int] | IntArray],
        prices: Prices,
        built: Collection[int] = (),
        long_lows: Mapping[int, Sequence[LongLow]] | None = None,
        within: Mapping[int, tuple[BoolArray, BoolArray]] | None = None,
    ) -> None:
        from ortools.sat.python import cp_model  # half a second, and most routes need no model

        self.long_lows = long_lows or {}
        self.model = cp_model.CpModel()
        self.prices, self.parents, self.heads, self.costs = prices, parents, heads, costs
        self.built = built
        some = within or {}
        self.runs = {r: make_variables(self.model, graphs[r], kept[r], prices, some.get(r)) for r in graphs}
        self.parted: dict[tuple[int, int], cp_model.IntVar] = {}
        """By (run, position): set once a fitting lies between the run's beginning and there."""
        self.after: set[tuple[Element, Element]] = set()
        self._add_rules()
        self._add_objective()

    def _add_rules(self) -> None:
        for r, v in self.runs.items():
            rules.profile_is_a_path(self.model, v)
            if r in self.built:
                rules.is_built(self.model, v)
            rules.each_head_once(self.model, v, self.heads[r])
            rules.styles_in_use(self.model, v)
            parent = self.parents[r]
            if parent is not None:
                rules.child_starts_where_fed(self.model, self.runs[parent], v)

    def _add_objective(self) -> None:
        terms: list[cp_model.LinearExprT] = []
        prices = self.prices
        for r, v in self.runs.items():
            drain = prices.due(v.graph.wet)
            terms += [int(self.costs[r][k]) * v.arc[k] for k in v.kept]
            terms += [stay.cost * literal for stay, literal in zip(v.stays, v.stay, strict=True)]
            if v.flags > 1:
                terms += [drain * lane for (k, flag), lane in v.lane.items() if v.graph.flag_move(k, flag)[1]]
            large = rules.large_drains(self.model, v, self.long_lows.get(r, ()))
            terms += [prices.due_large() * due for due in large]
            terms += [prices.whole(prices.style) * used for used in v.style.values()]
            terms += [
                prices.whole(prices.unserved * v.graph.items[item].weight) * v.unserved[item]
                for item in self.heads[r]
            ]
            terms += [
                prices.whole(v.graph.start_points(prices, level)) * start for level, start in v.start.items()
            ]
        self.model.minimize(sum(terms))

    def element(self, e: Element) -> cp_model.IntVar:
        """Literal of an element."""
        kind, run, index = e
        return self.runs[run].arc[index] if kind == "arc" else self.runs[run].stay[index]

    def stays(self, run: int) -> list[Stay]:
        """Give the stays of a run, in the order of their elements."""
        return self.runs[run].stays

    def forbid(self, a: Sequence[Element], b: Sequence[Element]) -> None:
        """Say that none of ``a`` can be with any of ``b``; of either only one can be anyway."""
        self.model.add_at_most_one([self.element(e) for e in (*a, *b)])

    def forbid_after(self, stay: Element, others: Sequence[Element], before: Sequence[int]) -> None:
        """Say that level pipe cannot be with any of ``others`` once an arc ``before`` it is chosen."""
        _, run, index = stay
        begins = self.runs[run].stays[index].i
        if (run, begins) not in self.parted:
            self.parted[run, begins] = self.model.new_bool_var(f"r{run}_parted_{begins}")
            for k in before:
                self.model.add_implication(self.runs[run].arc[k], self.parted[run, begins])
        for other in others:
            if (stay, other) not in self.after:
                self.after.add((stay, other))
                clause = ~self.element(stay), ~self.element(other), ~self.parted[run, begins]
                self.model.add_bool_or(clause)

    def solve(
        self,
        seconds: float | None = None,
        stop: Callable[[], bool] | None = None,
        *,
        presolve: bool = True,
        effort: float | None = None,
    ) -> Answer:
        """Solve with one worker, so that the same model gives the same answer.

        Parameters
        ----------
        seconds
            Time limit.
        stop
            Looked at all the while from another thread; once it says so the search ends.
        presolve
            Whether the model is simplified first.
        effort
            Most deterministic time (about seconds, but the same on every machine); then it ends.

        Raises
        ------
        DoubtError
            If the solver does not take the model.
        """
        from ortools.sat.python import cp_model

        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 0
        # an interrupt must end the command, not the search alone
        solver.parameters.catch_sigint_signal = False
        solver.parameters.cp_model_presolve = presolve
        # paths through layered graphs are nearly integral: with the whole linear
        # relaxation a model took 0.03 s that took 57 s without (213 arcs, hospital level 1)
        solver.parameters.linearization_level = 2
        # most of the models are small or nearly solved by the first relaxation: trying every
        # literal, and all of presolve again, took longer than the search (3,400 arcs: 4.8 s to 2.1 s)
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.max_presolve_iterations = 1
        solver.parameters.add_lp_constraints_lazily = False
        if effort is not None:
            solver.parameters.max_deterministic_time = effort
        if seconds is not None:
            solver.parameters.max_time_in_seconds = max(seconds, 0.05)
        with _watched(solver, stop):
            status = solver.solve(self.model)
        time = float(solver.response_proto.deterministic_time)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            name: Literal["optimal", "feasible"] = "optimal" if status == cp_model.OPTIMAL else "feasible"
            value = round(solver.objective_value)
            bound = value if name == "optimal" else int(solver.best_objective_bound)
            return Answer(name, value, bound, {r: self._read(solver, v) for r, v in self.runs.items()}, time)
        if status == cp_model.INFEASIBLE:
            return Answer("infeasible", 0, 0, {}, time)
        if status == cp_model.MODEL_INVALID:
            raise DoubtError(f"the solver refuses the model: {self.model.validate()}")
        return Answer("unknown", 0, int(max(solver.best_objective_bound, 0)), {}, time)

    def _read(self, solver: cp_model.CpSolver, v: RunVariables) -> RunChoice:
        level = next((lvl for lvl, start in v.start.items() if solver.boolean_value(start)), None)
        arcs = sorted((k for k in v.kept if solver.boolean_value(v.arc[k])), key=lambda k: v.graph.arcs[k].a)
        stays = tuple(s for s, literal in enumerate(v.stay) if solver.boolean_value(literal))
        unserved = tuple(i for i in self.heads[v.graph.run] if solver.boolean_value(v.unserved[i]))
        return RunChoice(level, tuple(arcs), stays, unserved)


@contextmanager
def _watched(solver: cp_model.CpSolver, stop: Callable[[], bool] | None) -> Iterator[None]:
    """End a search from another thread once ``stop`` says so."""
    if stop is None:
        yield
        return
    over = Event()

    def watch() -> None:
        while not over.wait(LOOK_S):
            if stop():
                solver.stop_search()  # again and again: a search that is only about to begin does not hear it

    watcher = Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()
