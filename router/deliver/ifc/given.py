"""What a scenario gives: runs, heads, obstructions, ceilings, keep-out zones."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from math import cos, dist, radians, sin
from typing import TYPE_CHECKING, Any, Final

from router.deliver.guids import is_guid
from router.deliver.ifc.colours import Colours
from router.deliver.ifc.sets import Sets, identifier, one_of, whole, word
from router.deliver.ifc.sets import diameter as diameter_value
from router.deliver.ifc.solids import Solids, minus, plus, unit
from router.scenario.carried import packed

if TYPE_CHECKING:
    from router.deliver.ifc.lines import Entity, Lines, Xyz
    from router.deliver.ifc.sets import Value
    from router.scenario.model import Ceiling, Head, KeepOut, Obstruction, Run, Scenario
    from router.trade.tables import Tables

_CLASSES: Final = {
    "beam": ("IfcBeam", "BEAM"),
    "column": ("IfcColumn", "COLUMN"),
    "slab": ("IfcSlab", "NOTDEFINED"),
    "wall": ("IfcWall", "NOTDEFINED"),
    "duct": ("IfcDuctSegment", "NOTDEFINED"),
    "tray": ("IfcCableCarrierSegment", "CABLETRAYSEGMENT"),
    "pipe": ("IfcPipeSegment", "NOTDEFINED"),
    "light": ("IfcLightFixture", "NOTDEFINED"),
}
"""Kind of an obstruction -> class of the standard and its predefined type; others are proxies."""
_SPRINKLER_TYPES: Final = {"pendent": "PENDANT", "upright": "UPRIGHT", "sidewall": "SIDEWALL"}
_CEILING_MM: Final = 10.0
"""A ceiling is a plane; so thick is its picture, downwards."""
_ZONE_MM: Final = 1000.0
"""So far below the lowest and above the highest thing a keep-out zone without elevations is shown."""
_BODY: Final = ((12.0, 0.0, 32.0), (8.0, 32.0, 46.0), (18.0, 46.0, 48.0))
"""A head as a symbol: radius, from and to, mm from its inlet: body, frame, deflector; no product."""


def outside(tables: Tables, dn: int) -> float:
    """Give the outside diameter of a size, mm; of one that is not made a guess, as the referee has it."""
    try:
        return float(tables.od(dn))
    except ValueError:
        return 1.1 * max(dn, 0) + 6.0


class Given:
    """Writes a scenario's things.

    Parameters
    ----------
    lines
        The file.
    scenario
        Whose things.
    tables
        Its tables.
    """

    def __init__(self, lines: Lines, scenario: Scenario, tables: Tables) -> None:
        self.lines, self.scenario, self.tables = lines, scenario, tables
        self.sets, self.solids, self.colours = Sets(lines), Solids(lines), Colours(lines)
        items: list[Head | Obstruction] = [*scenario.heads, *scenario.obstructions]
        self._of_guid = Counter(item.guid for item in items)
        self._head_types: dict[tuple[str, int, float, bool], tuple[str, list[Entity]]] = {}

    def _source(self, item: Head | Obstruction) -> str | None:
        """Give the GlobalId of a thing in the model that it came from, if it is a whole element there."""
        return item.guid if self._of_guid[item.guid] == 1 and is_guid(item.guid) else None

    def run(self, run: Run, beside: dict[str, Any]) -> list[Entity]:
        """Write a run: one segment for each straight stretch of its plan."""
        size = run.size if isinstance(run.size, int) else run.least_size or 25
        radius = outside(self.tables, size) / 2
        made = []
        for k, (a, b) in enumerate(pairwise(run.plan)):
            start: Xyz = (float(a[0]), float(a[1]), float(run.elevation))
            along = minus((float(b[0]), float(b[1]), float(run.elevation)), start)
            solids = [self.solids.bar((0.0, 0.0, 0.0), unit(along), dist(a, b), radius)]
            self.colours.paint("branch" if run.kind == "branch" else "main", solids)
            shape = self.solids.shape(solids, ((0.0, 0.0, 0.0), along))
            part = self.lines.element(
                "IfcPipeSegment", "runs", f"{run.id}/{k}", shape, start, "RIGIDSEGMENT", title=run.id,
                object_type="run of a scenario", tag=run.id,
            )  # fmt: skip
            values = {"Run": identifier(run.id), "Stretch": whole(k), "Beside": ("IfcText", packed(beside))}
            self.sets.properties(part, "BranchRouter_Run", values)
            made.append(part)
        return made

    def head(
        self, head: Head, beside: dict[str, Any], at: Xyz, role: str, more: dict[str, Value | None]
    ) -> Entity:
        """Write a head with its inlet at ``at``; ``more``: what else its set holds."""
        way = _pointing(head)
        solids = [
            self.solids.bar(plus((0.0, 0.0, 0.0), way, low), way, high - low, radius)
            for radius, low, high in _BODY
        ]
        self.colours.paint(role, solids)
        made = self.lines.element(
            "IfcFireSuppressionTerminal", "heads", head.id, self.solids.shape(solids), at, "SPRINKLER",
            object_type=f"{head.kind} head", tag=head.id, guid=self._source(head),
        )  # fmt: skip
        self.sets.properties(made, "BranchRouter_Head", {"Beside": ("IfcText", packed(beside)), **more})
        key = (head.kind, head.thread, head.k_factor, head.dry)
        name = f"{'dry ' if head.dry else ''}{head.kind} DN{head.thread} K{head.k_factor:g}"
        self._head_types.setdefault(key, (name, []))[1].append(made)
        return made

    def head_types(self) -> None:
        """Write the types of all heads that were written."""
        for (kind, thread, factor, _), (name, members) in self._head_types.items():
            made = self.lines.type("IfcFireSuppressionTerminalType", "head_type", name, name, "SPRINKLER")
            values: dict[str, Value | None] = {
                "SprinklerType": one_of(_SPRINKLER_TYPES[kind]),
                "HasDeflector": ("IfcBoolean", True),
                "DischargeCoefficient": ("IfcReal", float(factor)),
                "ConnectionSize": diameter_value(thread),
            }
            common = self.sets.bare(
                made, "Pset_FireSuppressionTerminalTypeCommon", {"Reference": identifier(name)}
            )
            made.HasPropertySets = [
                common,
                self.sets.bare(made, "Pset_FireSuppressionTerminalTypeSprinkler", values),
            ]
            self.lines.typed("head_type", name, made, members)

    def obstruction(self, item: Obstruction, beside: dict[str, Any]) -> Entity:
        """Write an obstruction: an upright prism."""
        kind = item.kind.strip().lower()
        entity, predefined = _CLASSES.get(kind, ("IfcBuildingElementProxy", "NOTDEFINED"))
        low, high = sorted(item.elevations)
        made = self._prism(
            entity,
            "obstructions",
            item,
            (low, high),
            "obstruction",
            predefined,
            item.kind,
            self._source(item),
        )
        self.sets.properties(made, "BranchRouter_Obstruction", {"Beside": ("IfcText", packed(beside))})
        return made

    def ceiling(self, item: Ceiling, beside: dict[str, Any]) -> Entity:
        """Write a ceiling: a thin prism whose top is its elevation."""
        span = (item.elevation - _CEILING_MM, item.elevation)
        made = self._prism("IfcCovering", "ceilings", item, span, "ceiling", "CEILING", "ceiling")
        self.sets.properties(made, "BranchRouter_Ceiling", {"Beside": ("IfcText", packed(beside))})
        return made

    def zone(self, item: KeepOut, beside: dict[str, Any]) -> Entity:
        """Write a keep-out zone."""
        span = self._height() if item.elevations is None else (min(item.elevations), max(item.elevations))
        made = self._prism(
            "IfcBuildingElementProxy", "keep_out", item, span, "keep-out", "USERDEFINED", "keep-out"
        )
        values: dict[str, Value | None] = {"Beside": ("IfcText", packed(beside)), "KeepsOut": word(item.of)}
        self.sets.properties(made, "BranchRouter_KeepOut", values)
        return made

    def _height(self) -> tuple[float, float]:
        levels = [run.elevation for run in self.scenario.runs] + [head.at[2] for head in self.scenario.heads]
        return min(levels) - _ZONE_MM, max(levels) + _ZONE_MM

    def _prism(
        self, entity: str, kind: str, item: Obstruction | Ceiling | KeepOut, span: tuple[float, float],
        role: str, predefined: str, object_type: str, guid: str | None = None,
    ) -> Entity:  # fmt: skip
        solids = [self.solids.prism(item.polygon, float(span[1] - span[0]))]
        self.colours.paint(role, solids)
        shape, at = self.solids.shape(solids), (0.0, 0.0, float(span[0]))
        return self.lines.element(
            entity, kind, item.id, shape, at, predefined, object_type=object_type, tag=item.id,
            guid=guid,
        )  # fmt: skip


def _pointing(head: Head) -> Xyz:
    """Give the direction from a head's inlet to its deflector."""
    if head.kind == "upright":
        return (0.0, 0.0, 1.0)
    if head.kind == "sidewall":
        turn = radians(head.facing or 0.0)
        return unit((round(cos(turn), 12), round(sin(turn), 12), 0.0))
    return (0.0, 0.0, -1.0)
