"""A canvas that keeps its drawing commands, so that SVG and PDF come from the same ones.

With ``window`` set, shapes are cut at it and texts outside are left out: one
sheet of a plan that goes over several.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import shapely

from router.deliver import draw_style as style
from router.deliver.draw_canvas import LAYERS, Box, Canvas, Xy, clean

Values = Any


@dataclass(frozen=True)
class Shape:
    """Lines through points, open or closed, filled or not. ``radius``: a circle at the first point."""

    ways: tuple[tuple[Xy, ...], ...]
    stroke: str
    width: float
    fill: str = "none"
    closed: bool = False
    dash: str | None = None
    opacity: float = 1.0
    radius: float = 0.0


@dataclass(frozen=True)
class Words:
    """A text as :meth:`Canvas.text` takes it."""

    at: Xy
    text: str
    size: float
    fill: str
    anchor: str
    bold: bool
    turn: float


@dataclass
class Recorder(Canvas):
    """Writes SVG as its base does and keeps every command for another backend."""

    window: Box | None = None
    commands: dict[str, list[Shape | Words]] = field(default_factory=lambda: {n: [] for n in LAYERS})

    def __post_init__(self) -> None:
        """Start empty."""
        super().__init__()

    def _keep(self, layer: str, shape: Shape | Words) -> None:
        self.commands[layer].append(shape)

    def _cut(self, points: Sequence[Xy], *, area: bool) -> list[list[Xy]]:
        """Give what of a line or an area lies in the window."""
        points = [(float(x), float(y)) for x, y in points]
        if self.window is None:
            return [points]
        x0, y0, x1, y1 = self.window
        if all(x0 <= x <= x1 and y0 <= y <= y1 for x, y in points):
            return [points]
        shape = shapely.make_valid(shapely.Polygon(points)) if area else shapely.LineString(points)
        cut = shape.intersection(shapely.box(*self.window))
        kind = "Polygon" if area else "LineString"
        parts = [p for p in getattr(cut, "geoms", [cut]) if p.geom_type == kind and not p.is_empty]
        rings = [p.exterior.coords[:-1] if area else p.coords for p in parts]
        return [[(float(x), float(y)) for x, y in ring] for ring in rings]

    def _outside(self, at: Xy) -> bool:
        w = self.window
        return w is not None and not (w[0] <= at[0] <= w[2] and w[1] <= at[1] <= w[3])

    def line(self, layer: str, a: Xy, b: Xy, stroke: str, width: float, **values: Values) -> None:
        """Draw a straight line."""
        for way in self._cut([a, b], area=False):
            super().line(layer, way[0], way[-1], stroke, width, **values)
            self._keep(layer, Shape((tuple(way),), stroke, width, dash=values.get("stroke_dasharray")))

    def polyline(
        self, layer: str, points: Iterable[Xy], stroke: str, width: float, **values: Values
    ) -> None:
        """Draw an open line through points."""
        for way in self._cut(list(points), area=False):
            super().polyline(layer, way, stroke, width, **values)
            self._keep(layer, Shape((tuple(way),), stroke, width, dash=values.get("stroke_dasharray")))

    def polygon(
        self, layer: str, points: Iterable[Xy], fill: str, stroke: str, width: float, **values: Values
    ) -> None:
        """Draw a closed area."""
        for way in self._cut(list(points), area=True):
            super().polygon(layer, way, fill, stroke, width, **values)
            dash, opacity = values.get("stroke_dasharray"), values.get("fill_opacity") or 1.0
            self._keep(layer, Shape((tuple(way),), stroke, width, fill, True, dash, opacity))

    def rect(self, layer: str, box: Box, fill: str, stroke: str, width: float, **values: Values) -> None:
        """Draw a rectangle along the paper's edges."""
        if self._outside((box[0], box[1])) or self._outside((box[2], box[3])):
            return
        super().rect(layer, box, fill, stroke, width, **values)
        way = ((box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3]))
        self._keep(layer, Shape((way,), stroke, width, fill, True, None, values.get("fill_opacity") or 1.0))

    def circle(
        self, layer: str, at: Xy, radius: float, fill: str, stroke: str, width: float, **values: Values
    ) -> None:
        """Draw a circle."""
        if not self._outside(at):
            super().circle(layer, at, radius, fill, stroke, width, **values)
            self._keep(layer, Shape(((at,),), stroke, width, fill, radius=radius))

    def text(
        self,
        layer: str,
        at: Xy,
        text: str,
        size: float,
        *,
        fill: str = style.INK,
        anchor: str = "start",
        bold: bool = False,
        turn: float = 0.0,
    ) -> None:
        """Write a text."""
        if not self._outside(at):
            super().text(layer, at, text, size, fill=fill, anchor=anchor, bold=bold, turn=turn)
            self._keep(layer, Words(at, clean(text), size, fill, anchor, bold, turn))

    def segments(self, layer: str, lines: Sequence[tuple[Xy, Xy]], stroke: str, width: float) -> None:
        """Draw many straight lines as one shape."""
        cut = [(w[0], w[-1]) for a, b in lines for w in self._cut([a, b], area=False)]
        super().segments(layer, cut, stroke, width)
        if cut:
            self._keep(layer, Shape(tuple(cut), stroke, width))
