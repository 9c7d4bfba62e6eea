"""How the parts of a route meet: mouths of pieces, fittings and heads, and which is connected with which."""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass
from itertools import product
from math import dist, floor
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from router.deliver.ifc.solids import minus, plus, unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.cutlist.ends import Ends
    from router.deliver.ifc.bodies import Bodies
    from router.deliver.ifc.lines import Xyz
    from router.route.model import Fitting, Piece

Flow = Literal["SOURCE", "SINK", "NOTDEFINED"]
_SAME_MM: Final = 0.5
"""Pipe ends and inlets so near to each other are one place; routes are written to a micrometre."""


class Part(NamedTuple):
    """An element: ``piece``, ``fitting`` or ``head``, and its id."""

    kind: str
    id: str


@dataclass
class Mouth:
    """Where an element can be connected.

    ``at``: the place, mm; ``way``: unit vector out of the element. ``mate``: the
    mouth that it is connected with. ``flow``: the water's way through it, as a
    port of the standard says it (``SINK``: into the element).
    """

    part: Part
    name: str
    at: Xyz
    way: Xyz
    dn: int
    mate: Mouth | None = None
    flow: Flow = "NOTDEFINED"


class Meets:
    """All mouths of a route.

    Parameters
    ----------
    ends
        Of the route.
    bodies
        How far pipe and fittings reach.
    """

    def __init__(self, ends: Ends, bodies: Bodies) -> None:
        self.ends, self.bodies = ends, bodies
        self.of: dict[Part, list[Mouth]] = defaultdict(list)
        """The mouths of each element, in order."""
        self.openings: dict[str, list[Mouth]] = {}
        """By fitting id: the mouths of its openings, in the order of ``directions``."""
        self.plugged: dict[str, Mouth] = {}
        """By plug or cap id: the opening that it closes."""
        self._free: list[Mouth] = []
        self._owned: dict[str, list[Fitting]] = defaultdict(list)
        self._fittings()
        self._pieces()
        self._seats()
        self._plugs()
        self._heads()
        self._loose()
        self._flow()

    def _add(self, part: Part, name: str, at: Xyz, way: Xyz, dn: int) -> Mouth:
        made = Mouth(part, name, at, way, dn)
        self.of[part].append(made)
        return made

    def _fittings(self) -> None:
        """Every opening has a mouth, at the centre until a piece comes to it."""
        for fitting in self.ends.fittings.values():
            if fitting.kind not in ("plug", "cap"):
                self._owned[fitting.owner].append(fitting)
            part = Part("fitting", fitting.id)
            self.openings[fitting.id] = [
                self._add(part, f"opening {k + 1}", fitting.at, unit(way), size)
                for k, (way, size) in enumerate(zip(fitting.directions, fitting.sizes, strict=False))
            ]

    def _pieces(self) -> None:
        for piece in self.ends.route.pieces:
            part = Part("piece", piece.id)
            along = unit(minus(piece.end, piece.start))
            back = (-along[0], -along[1], -along[2])
            span = self.bodies.span(piece)
            for which, (name, way) in enumerate((("start", back), ("end", along))):
                at = plus(piece.start, along, span[which])
                mouth = self._add(part, name, at, way, piece.dn)
                fitting = self.ends.fittings.get(piece.fittings[which] or "")
                if fitting is None:
                    self._free.append(mouth)
                else:
                    self._into(mouth, fitting)

    def _into(self, mouth: Mouth, fitting: Fitting) -> None:
        """Connect a piece's end with the free opening that looks its way; one more where none is free."""
        free = [each for each in self.openings[fitting.id] if each.mate is None]
        if free:
            opening = min(free, key=lambda each: _dot(each.way, mouth.way))
        else:
            name = f"opening {len(self.openings[fitting.id]) + 1}"
            opening = self._add(Part("fitting", fitting.id), name, mouth.at, mouth.way, mouth.dn)
            self.openings[fitting.id].append(opening)
        x, y, z = mouth.way
        opening.at, opening.way = mouth.at, (-x, -y, -z)
        _join(mouth, opening)

    def _seats(self) -> None:
        """Give pipe a mouth where an outlet sits on it: it is not cut there."""
        for name, (piece, along) in self.ends.seats.items():
            fitting = self.ends.fittings[name]
            ways = self.openings[name]
            way = ways[0].way if ways else (0.0, 0.0, 1.0)
            at = plus(piece.start, unit(minus(piece.end, piece.start)), along)
            dn = min(fitting.sizes, default=piece.dn)
            on_pipe = self._add(Part("piece", piece.id), f"outlet {name}", at, way, dn)
            seat = self._add(Part("fitting", name), "seat", at, (-way[0], -way[1], -way[2]), dn)
            _join(on_pipe, seat)

    def _plugs(self) -> None:
        for plug in self.ends.fittings.values():
            if plug.kind not in ("plug", "cap") or any(each.mate for each in self.openings[plug.id]):
                continue
            host = next((each for each in self._beside(plug) if each.mate is None), None)
            if host is None:
                continue
            mouths = self.openings[plug.id] or [
                self._add(Part("fitting", plug.id), "opening 1", host.at, host.way, host.dn)
            ]
            self.openings[plug.id] = mouths
            reach = self.bodies.opening(self.ends.fittings[host.part.id], host.way, host.dn)
            host.at = plus(self.ends.fittings[host.part.id].at, host.way, reach)
            mouths[0].at, mouths[0].way = host.at, (-host.way[0], -host.way[1], -host.way[2])
            _join(host, mouths[0])
            self.plugged[plug.id] = host

    def _beside(self, plug: Fitting) -> Iterator[Mouth]:
        """Yield openings of the same owner's fittings that look as a plug does, the nearest first."""
        found: list[tuple[float, int, Mouth]] = []
        for fitting in self._owned[plug.owner]:
            away = dist(fitting.at, plug.at)
            for mouth in self.openings[fitting.id]:
                alike = max((_dot(mouth.way, way) for way in plug.directions), default=1.0)
                if alike > 0.9 and away < 200.0:
                    found.append((away, len(found), mouth))
        yield from (mouth for _, _, mouth in sorted(found, key=lambda f: f[:2]))

    def _heads(self) -> None:
        """Connect heads with the reducers at their inlets, else with the pipe that ends there."""
        reducers = _Near()
        for name, fitting in self.ends.fittings.items():
            if fitting.kind == "reducer":
                reducers.put(fitting.at, name)
        ends = _Near()
        for k, mouth in enumerate(self._free):
            ends.put(self.end_of(mouth), str(k))
        for head in self.ends.route.heads:
            part = Part("head", head.id)
            own = self._add(part, "inlet", head.inlet, (0.0, 0.0, 1.0), 0)
            if not head.served:
                continue
            mate = None
            for name in reducers.at(head.inlet):
                mate = mate or next((each for each in self.openings[name] if each.mate is None), None)
            for index in ends.at(head.inlet):
                free = self._free[int(index)]
                mate = mate or (free if free.mate is None else None)
            if mate is not None:
                mate.at = head.inlet
                own.way, own.dn = (-mate.way[0], -mate.way[1], -mate.way[2]), mate.dn
                _join(mate, own)

    def end_of(self, mouth: Mouth) -> Xyz:
        """Give the end of a piece's axis at one of its two end mouths."""
        piece = self.pieces[mouth.part.id]
        return piece.start if mouth.name == "start" else piece.end

    @property
    def pieces(self) -> dict[str, Piece]:
        """The pieces by id."""
        return self.bodies.pieces

    def _loose(self) -> None:
        """Connect pipe ends that meet without a fitting: a coupled run, a hose's bend."""
        near = _Near()
        for k, mouth in enumerate(self._free):
            if mouth.mate is None:
                near.put(self.end_of(mouth), str(k))
        for mouth in self._free:
            if mouth.mate is not None:
                continue
            for index in near.at(self.end_of(mouth)):
                other = self._free[int(index)]
                if other.mate is None and other.part != mouth.part:
                    _join(mouth, other)
                    break

    def _flow(self) -> None:
        """Let the water in where a root run begins, and follow it."""
        roots = {run.id for run in self.ends.scenario.runs if run.supply is None}
        seen: set[Part] = set()
        for piece in self.ends.route.pieces:
            start = self.of[Part("piece", piece.id)][0]
            if piece.kind != "run" or piece.run not in roots or start.mate is not None or start.part in seen:
                continue
            if piece.fittings[0] is not None:
                continue
            waiting = deque([start])
            seen.add(start.part)
            while waiting:
                entry = waiting.popleft()
                entry.flow = "SINK"
                for mouth in self.of[entry.part]:
                    if mouth is entry:
                        continue
                    if mouth.flow == "NOTDEFINED":
                        mouth.flow = "SOURCE"
                    if mouth.mate is not None and mouth.mate.part not in seen:
                        seen.add(mouth.mate.part)
                        waiting.append(mouth.mate)


class _Near:
    """Names by their places."""

    def __init__(self) -> None:
        self._cubes: dict[tuple[int, ...], list[tuple[Xyz, str]]] = defaultdict(list)

    def put(self, at: Xyz, name: str) -> None:
        self._cubes[tuple(floor(value) for value in at)].append((at, name))

    def at(self, place: Xyz) -> list[str]:
        """Give the names at a place, the nearest first."""
        found = []
        for cube in product(*((floor(value) - 1, floor(value), floor(value) + 1) for value in place)):
            found += [
                (dist(at, place), name)
                for at, name in self._cubes.get(cube, ())
                if dist(at, place) <= _SAME_MM
            ]
        return [name for _, name in sorted(found)]


def _dot(a: Xyz, b: Xyz) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _join(a: Mouth, b: Mouth) -> None:
    a.mate, b.mate = b, a
