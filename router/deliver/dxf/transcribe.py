"""What was drawn on a canvas, in mm on paper, becomes entities at a place and a scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from router.deliver import draw_style as style
from router.deliver.dxf.layers import BOLD, CAP, PLAIN, colour, dash_name, line_weight
from router.deliver.sheets.recorder import Recorder, Shape, Words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

    from router.deliver.draw_canvas import Xy

SOLID = frozenset(
    (style.INK, style.VERMILION, style.BLUE, style.GREEN, style.ORANGE, style.PURPLE),
)
"""Fills that are drawn; lighter ones are left out, so that nothing lies over what is below."""

PIPE_LAYERS = ("far", "run", "near")


class Symbols(Recorder):
    """A canvas whose hatch lines are left out."""

    def hatch(
        self, layer: str, outline: Sequence[Xy], angles: Sequence[float], spacing: float, stroke: str
    ) -> None:
        """Leave out."""


@dataclass
class Transcript:
    """Where canvas points come to lie: the canvas's origin in the drawing, mm in one mm of canvas.

    ``as_pipe``: lines are as wide as drawn, not as their weight. ``dashes``: length of dashes
    over the usual. ``by_block``: colours are those of the insert.
    """

    doc: Drawing
    layout: BaseLayout
    origin: Xy
    size: float
    as_pipe: bool = False
    dashes: float = 1.0
    by_block: bool = False

    def point(self, at: Xy) -> Xy:
        """Give the place of a canvas point."""
        return (self.origin[0] + at[0] * self.size, self.origin[1] - at[1] * self.size)

    def draw(self, commands: Iterable[Shape | Words], layer: str) -> None:
        """Draw commands of a canvas on a layer."""
        for command in commands:
            if isinstance(command, Words):
                self.words(command, layer)
            else:
                self.shape(command, layer)

    def words(self, words: Words, layer: str) -> None:
        """Write a text."""
        from ezdxf.enums import TextEntityAlignment

        places = {"middle": TextEntityAlignment.CENTER, "end": TextEntityAlignment.RIGHT}
        text = self.layout.add_text(
            words.text.replace("%%", "% %"),
            height=round(CAP * words.size * self.size, 6),
            rotation=-words.turn,
            dxfattribs={
                "layer": layer,
                "style": BOLD if words.bold else PLAIN,
                **self._colour(words.fill),
            },
        )
        text.set_placement(self.point(words.at), align=places.get(words.anchor, TextEntityAlignment.LEFT))

    def shape(self, shape: Shape, layer: str) -> None:
        """Draw lines, areas and circles."""
        attributes: dict[str, Any] = {"layer": layer, **self._colour(shape.stroke)}
        if shape.dash:
            attributes |= {"linetype": dash_name(self.doc, shape.dash), "ltscale": self.dashes}
        if not self.as_pipe:
            attributes["lineweight"] = line_weight(shape.width)
        filled = shape.fill in SOLID
        for way in shape.ways:
            points = [self.point(p) for p in way]
            if shape.radius:
                self._circle(points[0], shape.radius * self.size, shape, attributes, filled=filled)
                continue
            if shape.closed and filled:
                self._fill(points, shape.fill, layer)
            if shape.stroke != "none" and not (shape.closed and filled and shape.stroke == shape.fill):
                line = self.layout.add_lwpolyline(points, close=shape.closed, dxfattribs=attributes)
                if self.as_pipe:
                    line.dxf.const_width = round(shape.width * self.size, 6)

    def _circle(
        self, centre: Xy, radius: float, shape: Shape, attributes: dict[str, Any], *, filled: bool
    ) -> None:
        if filled:
            around = [(centre[0] - radius, centre[1], 1.0), (centre[0] + radius, centre[1], 1.0)]
            self._fill(around, shape.fill, attributes["layer"])
        else:
            self.layout.add_circle(centre, radius, dxfattribs=attributes)

    def _fill(self, points: Sequence[tuple[float, ...]], fill: str, layer: str) -> None:
        hatch = self.layout.add_hatch(color=self._colour(fill)["color"], dxfattribs={"layer": layer})
        hatch.paths.add_polyline_path(points, is_closed=True)

    def _colour(self, hexed: str) -> dict[str, int]:
        if self.by_block and hexed == style.INK:
            return {"color": 0}
        return {"color": colour(hexed)}


def symbol(doc: Drawing, name: str, canvas: Recorder, layer: str = "0") -> Any:
    """Make a block of what was drawn on a canvas around its origin; one unit is 1 mm on paper.

    Returns
    -------
    ezdxf block
    """
    block = doc.blocks.new(name)
    copy = Transcript(doc, block, (0.0, 0.0), 1.0, by_block=True)
    for commands in canvas.commands.values():
        copy.draw(commands, layer)
    return block


def turned(angle: float) -> float:
    """Give an angle in degrees between 0 and 360."""
    return math.fmod(math.fmod(angle, 360.0) + 360.0, 360.0)
