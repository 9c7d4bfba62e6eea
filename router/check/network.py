"""How the water flows: pieces, fittings, heads and supplies as one graph.

An edge means that two things meet in space, not just that a record says so.
"""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property
from itertools import product
from math import dist, floor
from typing import TYPE_CHECKING, NamedTuple

from router.check.findings import TOLERANCE_MM
from router.check.vectors import Xyz, along, flat_length, minus, unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.survey import End, Survey
    from router.route.model import Fitting, HeadResult, Piece

Node = tuple[str, str]
"""("piece" | "fitting" | "head" | "supply", id)."""

HOST_MM = 200.0
"""A plug may stand at its fitting's opening: no fitting of these sizes is longer."""


class Leg(NamedTuple):
    """A piece on the way to a head, with the direction of flow."""

    piece: Piece
    start: Xyz
    end: Xyz

    @property
    def direction(self) -> Xyz | None:
        """Unit vector of the flow."""
        return unit(minus(self.end, self.start))


class _Near:
    """Pipe ends by where they are: those that may meet one are in its cube or in one beside it."""

    def __init__(self, ends: list[End]) -> None:
        self.cubes: dict[tuple[int, int, int], list[tuple[int, End]]] = defaultdict(list)
        for k, end in enumerate(ends):
            self.cubes[_cube(end.at)].append((k, end))

    def to(self, end: End) -> list[End]:
        """Return those that may be within the tolerance of an end, in the order of the route."""
        x, y, z = _cube(end.at)
        beside = product((x - 1, x, x + 1), (y - 1, y, y + 1), (z - 1, z, z + 1))
        found = [pair for cube in beside for pair in self.cubes.get(cube, ())]
        return [mate for _, mate in sorted(found, key=lambda pair: pair[0])]


def _cube(at: Xyz) -> tuple[int, int, int]:
    return floor(at[0]), floor(at[1]), floor(at[2])


class Network:
    """The graph of a surveyed route, and the order in which water reaches things."""

    def __init__(self, survey: Survey) -> None:
        self.survey = survey
        self.beside: dict[Node, dict[Node, None]] = {}
        """Everything there is, and what it meets, in the order in which it was found."""
        self.loose: list[End] = []
        """Piece ends that meet nothing."""
        self.joints: dict[tuple[str, int], tuple[str, int]] = {}
        """Piece ends that meet another's end with no fitting: a run straight on, a hose's bend."""
        self.hosts: dict[str, str] = {}
        """Plug or cap -> the fitting whose opening it closes."""
        self.plugs: dict[str, list[str]] = {}
        """The other way round: fitting -> the plugs and caps at its openings."""
        self._ways: dict[str, list[Leg] | None] = {}
        self._build()

    def _build(self) -> None:
        survey = self.survey
        nodes: list[Node] = [("piece", name) for name in survey.pieces]
        nodes += [("fitting", name) for name in survey.fittings]
        nodes += [("head", name) for name in survey.results]
        roots = [name for name in survey.built if name in survey.runs and survey.runs[name].supply is None]
        nodes += [("supply", name) for name in roots]
        self.beside = {node: {} for node in nodes}
        open_ends: list[End] = []
        for piece in survey.pieces.values():
            for end, name in zip(survey.ends(piece), piece.fittings, strict=True):
                if name is None:
                    open_ends.append(end)
                elif name in survey.fittings and dist(end.at, survey.fittings[name].at) <= TOLERANCE_MM:
                    self._meet(("piece", piece.id), ("fitting", name))
                else:
                    self.loose.append(end)
        for name, seat in survey.seats.items():
            self._meet(("piece", seat.piece.id), ("fitting", name))
        self._plugs()
        self._reducers()
        self._open_ends(open_ends)

    def _meet(self, one: Node, other: Node) -> None:
        self.beside[one][other] = None
        self.beside[other][one] = None

    def _plugs(self) -> None:
        for fitting in self.survey.fittings.values():
            if fitting.kind not in ("plug", "cap"):
                continue
            host = self._host(fitting)
            if host is not None:
                self.hosts[fitting.id] = host.id
                self.plugs.setdefault(host.id, []).append(fitting.id)
                self._meet(("fitting", fitting.id), ("fitting", host.id))

    def _host(self, plug: Fitting) -> Fitting | None:
        """Return the fitting of the same owner at whose centre, or before whose opening, a plug stands."""
        mates = [
            fitting
            for fitting in self.survey.takeoff_fittings.get(plug.owner, [])
            if fitting.kind not in ("plug", "cap", "reducer") and fitting.id != plug.id
        ]
        for fitting in mates:  # a centre first: the next fitting's opening may look that way too
            if dist(fitting.at, plug.at) <= TOLERANCE_MM:
                return fitting
        for fitting in mates:
            for way in fitting.directions:
                far = (
                    fitting.at[0] + HOST_MM * way[0],
                    fitting.at[1] + HOST_MM * way[1],
                    fitting.at[2] + HOST_MM * way[2],
                )
                if along(fitting.at, far, plug.at)[1] <= TOLERANCE_MM:
                    return fitting
        return None

    def _reducers(self) -> None:
        for head in self.survey.results.values():
            if head.takeoff is None:
                continue
            for fitting in self.survey.takeoff_fittings.get(head.takeoff, []):
                if fitting.kind == "reducer" and self.at_inlet(fitting.at, head):
                    self._meet(("fitting", fitting.id), ("head", head.id))

    def at_inlet(self, point: Xyz, head: HeadResult) -> bool:
        """Tell whether a point is at a head's inlet: in plan within the alignment, in height exactly."""
        slack = max(self.survey.rules.alignment, 0.0) + TOLERANCE_MM
        return abs(point[2] - head.inlet[2]) <= TOLERANCE_MM and flat_length(point, head.inlet) <= slack

    def _open_ends(self, ends: list[End]) -> None:
        joinable = _Near([end for end in ends if end.piece.kind in ("run", "hose")])
        for end in ends:
            node = self._supply(end) or self._head(end)
            if node is not None:
                self._meet(("piece", end.piece.id), node)
                continue
            mates = joinable.to(end) if end.piece.kind in ("run", "hose") else []
            other = next((b for b in mates if self._joins(end, b)), None)
            if other is None:
                self.loose.append(end)
                continue
            self.joints[(end.piece.id, end.side)] = (other.piece.id, other.side)
            self._meet(("piece", end.piece.id), ("piece", other.piece.id))

    def _supply(self, end: End) -> Node | None:
        survey, piece = self.survey, end.piece
        run, line = survey.runs.get(piece.run), survey.lines.get(piece.run)
        if piece.kind != "run" or run is None or line is None or run.supply is not None:
            return None
        at = (*line.point(0.0), survey.built[run.id].supply_level)
        return ("supply", run.id) if dist(at, end.at) <= TOLERANCE_MM else None

    def _head(self, end: End) -> Node | None:
        takeoff = self.survey.takeoffs.get(end.piece.owner)
        for name in takeoff.heads if takeoff is not None else []:
            result = self.survey.results.get(name)
            if result is not None and self.at_inlet(end.at, result):
                return ("head", name)
        return None

    def _joins(self, a: End, b: End) -> bool:
        """Two pieces meet without a fitting: a child run straight on, or two legs of one hose."""
        if a.piece.id == b.piece.id or dist(a.at, b.at) > TOLERANCE_MM:
            return False
        if a.piece.kind == "hose" and b.piece.kind == "hose":
            return a.piece.owner == b.piece.owner
        one, other = self.survey.runs.get(a.piece.run), self.survey.runs.get(b.piece.run)
        if a.piece.kind != "run" or b.piece.kind != "run" or one is None or other is None:
            return False
        return one.supply == other.id or other.supply == one.id

    # -- the flow ---------------------------------------------------------------------------

    @cached_property
    def upstream(self) -> dict[Node, Node]:
        """For everything that water reaches: what it comes from, over the fewest steps."""
        roots = [node for node in self.beside if node[0] == "supply"]
        found: dict[Node, Node] = {}
        seen = set(roots)
        line = list(roots)
        for node in line:
            for other in self.beside[node]:
                if other not in seen:
                    seen.add(other)
                    found[other] = node
                    line.append(other)
        return found

    @cached_property
    def all_reached(self) -> bool:
        """Whether water reaches everything that there is."""
        roots = sum(node[0] == "supply" for node in self.beside)
        return len(self.upstream) + roots == len(self.beside)

    @cached_property
    def is_forest(self) -> bool:
        """Whether water reaches everything over one way from one supply.

        Everything is reached, so there are no more parts than supplies, and a part
        has at least its number of things less one edges: only trees with one
        supply each come to so few edges.
        """
        edges = sum(map(len, self.beside.values())) // 2
        return self.all_reached and edges == len(self.upstream)

    def parts(self) -> Iterator[list[Node]]:
        """Yield what hangs together, part by part."""
        seen: set[Node] = set()
        for first in self.beside:
            if first in seen:
                continue
            seen.add(first)
            part = [first]
            for node in part:
                for other in self.beside[node]:
                    if other not in seen:
                        seen.add(other)
                        part.append(other)
            yield part

    @cached_property
    def heads_fed(self) -> dict[Node, int]:
        """How many heads are downstream of each thing that water reaches."""
        count: dict[Node, int] = dict.fromkeys(self.upstream, 0)
        for node, above in reversed(self.upstream.items()):  # nearest to the supply first: leaves first now
            if node[0] == "head":
                count[node] += 1
            if above in count:
                count[above] += count[node]
        return count

    def way_to(self, head_id: str) -> list[Leg] | None:
        """Return the pieces of the head's takeoff from its run to the head, in the order of the flow.

        ``None`` if water does not reach the head. Every rule gets the same list: it is not to be changed.
        """
        if head_id not in self._ways:
            self._ways[head_id] = self._way_to(head_id)
        return self._ways[head_id]

    def _way_to(self, head_id: str) -> list[Leg] | None:
        node: Node = ("head", head_id)
        result = self.survey.results.get(head_id)
        if result is None or node not in self.upstream:
            return None
        legs: list[Leg] = []
        after: Node = node
        point: Xyz | None = None
        while node in self.upstream:
            node = self.upstream[node]
            if node[0] == "piece":
                piece = self.survey.pieces[node[1]]
                if piece.owner != result.takeoff:
                    break
                point = self._exit(piece, after)
                start = piece.start if point == piece.end else piece.end
                legs.append(Leg(piece, start, point))
            after = node
        return legs[::-1]

    def _exit(self, piece: Piece, after: Node) -> Xyz:
        """Return the end of a piece that what comes after it is at."""
        if after[0] == "fitting":
            goal = self.survey.fittings[after[1]].at
        elif after[0] == "head":
            goal = self.survey.results[after[1]].inlet
        else:
            other = self.survey.pieces.get(after[1])
            goal = piece.end
            if other is not None:
                ends = (piece.start, piece.end)
                goal = min((other.start, other.end), key=lambda p: min(dist(p, end) for end in ends))
        return piece.end if dist(piece.end, goal) <= dist(piece.start, goal) else piece.start
