"""What was found in all files becomes one :class:`Drawn`."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from shapely.geometry import Point, Polygon

from router.readers.drawn import Drawn, DrawnPipe, DrawnSolid
from router.readers.ifc.bars import bar
from router.readers.ifc.found import FileFound, FoundPipe, FoundSolid, Part, Thing, Unusable
from router.readers.ifc.hang import Ends, systems_with_heads, with_heads
from router.readers.ifc.heads import Told, drawn_head, serving, some
from router.readers.ifc.names import Names
from router.readers.ifc.once import once, sole
from router.readers.ifc.origin import near_origin
from router.readers.ifc.ours import Ours, rounded
from router.readers.ifc.seen import hints, quoted, unknown_storeys
from router.readers.ifc.sizes import best_way, nearest, outside
from router.readers.report import counted
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from router.readers.ifc.limits import Limits
    from router.readers.ifc.mapping import Mapping

TOUCH_MM = 10.0
ODD = 0.06
"""A diameter that is off every size's by more than this part of it is said."""
WORDS = {
    "outside": "outside diameter",
    "outside metric": "outside diameter",
    "nominal": "nominal diameter",
    "nominal inches": "nominal diameter",
    "bore": "bore",
}

ON_PIPES = ("equipment", "terminal")
"""Kinds of which some sit on sprinkler pipes: valves, flow switches, hose reels."""


class Assembly:
    """Brings the files together.

    Parameters
    ----------
    files
        What was found in each.
    mapping, limits
        As for :func:`router.readers.ifc.read_ifc`.
    source
        Name of the whole.
    """

    def __init__(self, files: list[FileFound], mapping: Mapping, limits: Limits, source: str) -> None:
        self.files, self.mapping, self.limits = files, mapping, limits
        self.drawn = Drawn(source)
        self.ours = Ours()
        self.told = Told()
        self.left: Counter[str] = Counter()
        self.drawn.notes += once(files)
        self.heads = [head for each in files for head in each.heads]
        self.pipes = [pipe for each in files for pipe in each.pipes]
        self.solids = [solid for each in files for solid in each.solids]
        self.sole = sole([*self.heads, *self.pipes, *self.solids])
        self.sizes: dict[str, int] = {}

    def assemble(self) -> Drawn:
        """Bring everything together.

        Returns
        -------
        Drawn

        Raises
        ------
        ScenarioError
            If what our own exports carry is damaged.
        """
        drawn = self.drawn
        drawn.settings = self.ours.settings(self.files)
        drawn.runs = self.ours.runs([pipe for pipe in self.pipes if pipe.run is not None])
        self.pipes = [pipe for pipe in self.pipes if pipe.run is None]
        self._sizes()
        sprinkler, others = self._divided()
        self._heads(others)
        self._pipes(sprinkler)
        self._solids(sprinkler, others)
        if self.ours.faults:
            raise ScenarioError(self.ours.faults, drawn.source)
        if not drawn.runs:
            near_origin(drawn, self.limits.farthest, self.mapping.origin)
        drawn.notes = self._notes()
        return drawn

    def _sizes(self) -> None:
        """Give every pipe its nominal size; by diameters alone, what these are is judged by all together."""
        bare = [pipe for pipe in self.pipes if not pipe.size and pipe.piece is None and pipe.radius > 0]
        hollow = [2 * pipe.radius for pipe in bare if pipe.hollow]
        solid = [2 * pipe.radius for pipe in bare if not pipe.hollow]
        ways = {True: "outside", False: best_way(solid) if solid else "outside"}
        if hollow:
            metric = sum(nearest(mm, "outside metric")[1] for mm in hollow)
            if metric < 0.9 * sum(nearest(mm, "outside")[1] for mm in hollow):
                ways[True] = "outside metric"
        odd = []
        for pipe in self.pipes:
            self.sizes[pipe.guid] = pipe.size
            if not pipe.size and pipe.radius > 0:
                self.sizes[pipe.guid], off = nearest(2 * pipe.radius, ways[pipe.hollow])
                if off > ODD and pipe.piece is None:
                    odd.append(f"{pipe.label()}, {2 * pipe.radius:.1f} mm: DN{self.sizes[pipe.guid]}")
        if bare:
            told = " and ".join(sorted({WORDS[ways[pipe.hollow]] for pipe in bare}))
            what = f"pipe[s] [says|say] no size: the diameter of [its body|their bodies] read as {told}"
            self.drawn.notes.append(counted(len(bare), what))
        if odd:
            what = f"pipe[s] [has|have] no size's diameter, the nearest is taken: {some(odd)}"
            self.drawn.notes.append(counted(len(odd), what))
        unknown = [pipe for pipe in self.pipes if not self.sizes[pipe.guid] and pipe.piece is None]
        if unknown:
            ids = some([pipe.label() for pipe in unknown])
            what = "pipe[s] [has|have] neither a size nor a round body"
            self.drawn.notes.append(f"{counted(len(unknown), what)}: {ids}")

    def _divided(self) -> tuple[list[FoundPipe], list[FoundPipe]]:
        """Part sprinkler pipes from other ones."""
        fittings = [solid for solid in self.solids if solid.fitting]
        ported = {"", *systems_with_heads(self.pipes, self.heads, fittings)}
        may = [pipe for pipe in self.pipes if pipe.piece is None and (pipe.fire or pipe.systems in ported)]
        hang = with_heads(may, self.heads, fittings, self.sizes)
        named = {pipe.guid for pipe in self.pipes if pipe.fire or pipe.piece is not None}
        sprinkler = [pipe for pipe in self.pipes if pipe.guid in named or pipe.guid in hang]
        others = [pipe for pipe in self.pipes if pipe.guid not in named and pipe.guid not in hang]
        by_hang = [pipe for pipe in sprinkler if pipe.guid not in named]
        if by_hang:
            told = "pipe[s] in no system of system_words [is a sprinkler pipe|are sprinkler pipes]: "
            told += "[it leads|they lead] to heads"
            systems = quoted(pipe.systems for pipe in by_hang)
            self.drawn.notes.append(counted(len(by_hang), told) + (f" ({systems})" if systems else ""))
        self.drawn.hints = hints(self.files, others)
        return sprinkler, others

    def _heads(self, others: list[FoundPipe]) -> None:
        elsewhere = {pipe.guid for pipe in others if pipe.systems}
        pipes = {pipe.guid: pipe for pipe in self.pipes if pipe.guid not in elsewhere}
        foreign = [head for head in self.heads if head.ours is None]
        served = serving(foreign, pipes)
        mine = {head.guid: self.ours.head(head) for head in self.heads if head.ours is not None}
        names = Names({head.id for head in mine.values() if head is not None})
        ids = dict(
            zip((head.guid for head in foreign), names.of(foreign, ["head"] * len(foreign)), strict=True)
        )
        for head in self.heads:
            if head.ours is not None:
                found = mine[head.guid]
            else:
                found = drawn_head(head, ids[head.guid], served.get(head.guid), self.told)
                if head.guid in self.sole:
                    found = replace(found, given={**found.given, "guid": head.guid})
            if found is not None:
                self.drawn.heads.append(found)

    def _pipes(self, sprinkler: list[FoundPipe]) -> None:
        foreign = [pipe for pipe in sprinkler if pipe.piece is None]
        mine = {pipe.guid: self.ours.pipe(pipe) for pipe in sprinkler if pipe.piece is not None}
        names = Names({pipe.id for pipe in mine.values() if pipe is not None})
        ids = dict(
            zip((pipe.guid for pipe in foreign), names.of(foreign, ["pipe"] * len(foreign)), strict=True)
        )
        for pipe in sprinkler:
            if pipe.piece is not None:
                own = mine[pipe.guid]
                if own is not None:
                    self.drawn.pipes.append(own)
            elif pipe.a is None or pipe.b is None:
                self._skip("sprinkler pipes without a straight round axis", pipe)
            else:
                role = "hose" if pipe.flexible else ""
                size = self.sizes[pipe.guid]
                a, b, name = rounded(pipe.a), rounded(pipe.b), ids[pipe.guid]
                self.drawn.pipes.append(DrawnPipe(name, a, b, size, role, sure=pipe.fire))

    def _skip(self, reason: str, thing: Thing) -> None:
        next(each for each in self.files if each.file == thing.file).skip(reason, thing.label())

    # -- solids -----------------------------------------------------------------------------

    def _solids(self, sprinkler: list[FoundPipe], others: list[FoundPipe]) -> None:
        names = Names()
        self._our_solids(names)
        bodies: list[tuple[Thing, str, list[Part]]] = []
        ceilings: list[FoundSolid] = []
        ours = Ends(sprinkler)
        guids = {pipe.guid for pipe in sprinkler} | {head.guid for head in self.heads}
        for solid in self.solids:
            if solid.ours is not None or (solid.fitting and self._is_ours(solid, guids, ours)):
                continue
            if solid.kind in ON_PIPES and self._is_ours(solid, guids, ours):
                self._skip("valves and the like on sprinkler pipes", solid)
                continue
            if solid.fitting and not solid.parts:
                continue
            if solid.which == "ceilings":
                ceilings.append(solid)
            else:
                bodies.append((solid, solid.kind, solid.parts))
        for pipe in others:
            if "pipe" not in self.mapping.obstructions:
                self._skip("pipes of other systems, not chosen as obstruction", pipe)
                continue
            parts = pipe.parts
            if not parts and pipe.drawn is not None:
                try:
                    parts = bar(*pipe.drawn, pipe.radius or outside(self.sizes[pipe.guid]) / 2)
                except Unusable as problem:
                    self._skip(str(problem), pipe)
                    continue
            bodies.append((pipe, "pipe", parts))
        order = {each.file: k for k, each in enumerate(self.files)}
        bodies.sort(key=lambda one: (order[one[0].file], one[0].step))
        ids = names.of([one[0] for one in bodies], [one[1] for one in bodies])
        for name, (thing, kind, parts) in zip(ids, bodies, strict=True):
            guid = thing.guid if thing.guid in self.sole else None
            for number, (plan, low, high) in enumerate(parts, start=1):
                each = name if number == 1 else names.free(f"{name}/{number}")
                self.drawn.solids.append(DrawnSolid(each, kind, plan, low, high, guid=guid))
        places = Names({str(each["id"]) for each in self.drawn.ceilings})
        for name, solid in zip(places.of(ceilings, ["ceiling"] * len(ceilings)), ceilings, strict=True):
            for number, (plan, _, high) in enumerate(solid.parts, start=1):
                each = name if number == 1 else places.free(f"{name}/{number}")
                record = {"id": each, "polygon": [list(corner) for corner in plan], "elevation": high}
                self.drawn.ceilings.append(record)

    def _our_solids(self, names: Names) -> None:
        for solid in self.solids:
            if solid.ours is None:
                continue
            if solid.which == "obstructions":
                own = self.ours.obstruction(solid)
                if own is not None:
                    self.drawn.solids.append(own)
                    names.taken.add(own.id)
            else:
                record = self.ours.solid(solid)
                if record is not None:
                    getattr(self.drawn, solid.which).append(record)

    def _is_ours(self, fitting: FoundSolid, guids: set[str], ours: Ends) -> bool:
        """Tell whether a fitting sits on our pipe: by its ports, or an end of a pipe lies in it."""
        if fitting.fire or guids & set(fitting.linked):
            return True
        for plan, low, high in fitting.parts:
            around = Polygon(plan).buffer(TOUCH_MM)
            for k in ours.tree.query(around, predicate="intersects"):
                pipe, _, _ = ours.places[int(k)]
                tips = [pipe.a, pipe.b, *(pipe.drawn or ())]
                if any(
                    tip is not None
                    and low - TOUCH_MM <= tip[2] <= high + TOUCH_MM
                    and around.contains(Point(tip[:2]))
                    for tip in tips
                ):
                    return True
        return False

    # -- the whole --------------------------------------------------------------------------

    def _notes(self) -> list[str]:
        first = []
        for each in self.files:
            unit = each.unit or "metre"
            told = ((len(each.heads), "head[s]"), (len(each.pipes), "pipe[s]"), (each.fittings, "fitting[s]"))
            counts = ", ".join(counted(count, text) for count, text in told)
            bodies = sum(1 for solid in each.solids if solid.parts and not solid.fitting)
            first.append(
                f"{each.file}: {each.schema}, {unit}: {counts}, {counted(bodies, 'other bod[y|ies]')} taken"
            )
            first += [
                f"{each.file}: {count} left out, {reason}"
                + (f": {some(names, 3)}" if names else "")
                + (f" and {count - len(names)} more" if names and count > len(names) else "")
                for reason, (count, names) in each.skipped.items()
            ]
            first += each.notes
        first += unknown_storeys(self.files, self.mapping)
        maps = {each.map_conversion for each in self.files}
        if len(maps) > 1:
            first.append(
                "the files say different map conversions, which are not applied: check that they fit"
            )
        elif maps != {""}:
            first.append("the map conversion that the files say is not applied")
        return [*first, *self.drawn.notes, *self.told.notes()]
