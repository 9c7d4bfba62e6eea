"""A sheet of paper in millimetres: primitives that end up as one SVG text."""

from __future__ import annotations

import math
import unicodedata
from html import escape
from types import MappingProxyType
from typing import TYPE_CHECKING

import shapely

from router.deliver import draw_style as style

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

Xy = tuple[float, float]
Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in mm on paper, y downwards."""

Values = dict[str, str | float | None]

LAYERS = (
    "ground",
    "obstructions",
    "guides",
    "far",
    "run",
    "near",
    "fittings",
    "heads",
    "leaders",
    "labels",
    "frame",
)

SHARED = {
    "far": ' stroke-linecap="round"',
    "run": ' stroke-linecap="round"',
    "fittings": f' stroke="{style.INK}"',
    "leaders": f' stroke="{style.GREY}" stroke-width="0.14"',
    "labels": ' text-anchor="middle"',
}
"""What a fragment says once for a layer, because all its elements say it: a large plan gets lighter."""
NOTHING: Mapping[str, str] = MappingProxyType({})
NARROW = frozenset("iIljft.,:;'|!()[]/ -·")
WIDE = frozenset("mwMW@%—…")


def clean(text: str) -> str:
    """Drop what must not stand in XML or would turn the reading direction of a sheet.

    Returns
    -------
    str
    """
    kept = []
    for char in text:
        category = unicodedata.category(char)
        if char in "\n\r\t":
            kept.append(" ")
        elif category in ("Cc", "Cs", "Cn", "Cf") or ord(char) in (0xFFFE, 0xFFFF):
            kept.append("\ufffd" if category != "Cf" else "")
        else:
            kept.append(char)
    return "".join(kept)


def shorten(text: str, limit: int) -> str:
    """Cut a text to ``limit`` characters, with an ellipsis where something is lost.

    Returns
    -------
    str
    """
    text = clean(text)
    return text if len(text) <= limit else text[: max(limit - 1, 1)].rstrip() + "…"


def text_width(text: str, size: float) -> float:
    """Estimate the width of a text in mm, on the safe side for common sans-serif letters.

    Returns
    -------
    float
    """
    total = 0.0
    for char in text:
        if unicodedata.combining(char):
            continue
        if unicodedata.east_asian_width(char) in ("W", "F"):
            total += 1.02
        elif char in NARROW:
            total += 0.34
        elif char in WIDE:
            total += 0.98
        elif char.isupper():
            total += 0.72
        else:
            total += 0.57
    return total * size


def wrap(text: str, size: float, width: float) -> list[str]:
    """Break a text at blanks into lines of at most ``width`` mm (long words are cut).

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    line = ""
    for word in clean(text).split():
        while text_width(word, size) > width and len(word) > 1:
            keep = max(1, int(len(word) * width / text_width(word, size)) - 1)
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:keep])
            word = word[keep:]
        trial = f"{line} {word}".strip()
        if text_width(trial, size) > width and line:
            lines.append(line)
            line = word
        else:
            line = trial
    if line:
        lines.append(line)
    return lines


def num(value: float) -> str:
    """Write a number of the SVG: hundredths of a millimetre are finer than any printer.

    Returns
    -------
    str
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def attributes(values: Values) -> str:
    """Write attributes in the order given; ``_`` becomes ``-``, ``None`` is left out, ``class_`` is class.

    Returns
    -------
    str
    """
    parts = []
    for key, value in values.items():
        if value is not None:
            shown = escape(clean(value), quote=True) if isinstance(value, str) else num(value)
            parts.append(f' {key.rstrip("_").replace("_", "-")}="{shown}"')
    return "".join(parts)


class Canvas:
    """Collects elements by layer. All coordinates in mm on paper, y downwards."""

    def __init__(self) -> None:
        self.layers: dict[str, list[str]] = {name: [] for name in LAYERS}

    def add(self, layer: str, element: str) -> None:
        """Put a finished element on a layer."""
        self.layers[layer].append(element)

    def open_group(self, layer: str, title: str | None = None, **values: str | float | None) -> None:
        """Open a group; ``title`` shows when the pointer rests on it."""
        shown = f"<title>{escape(clean(title))}</title>" if title else ""
        self.add(layer, f"<g{attributes(values)}>{shown}")

    def close_group(self, layer: str) -> None:
        """Close the group opened last on the layer."""
        self.add(layer, "</g>")

    def line(self, layer: str, a: Xy, b: Xy, stroke: str, width: float, **values: str | float | None) -> None:
        """Draw a straight line."""
        start: Values = {"x1": a[0], "y1": a[1], "x2": b[0], "y2": b[1]}
        start |= {"stroke": stroke, "stroke_width": width}
        self.add(layer, f"<line{attributes(start | values)}/>")

    def polyline(
        self, layer: str, points: Iterable[Xy], stroke: str, width: float, **values: str | float | None
    ) -> None:
        """Draw an open line through points."""
        shown = " ".join(f"{num(x)},{num(y)}" for x, y in points)
        start: Values = {
            "points": shown,
            "fill": "none",
            "stroke": stroke,
            "stroke_width": width,
            "stroke_linejoin": "round",
        }
        self.add(layer, f"<polyline{attributes(start | values)}/>")

    def polygon(
        self,
        layer: str,
        points: Iterable[Xy],
        fill: str,
        stroke: str,
        width: float,
        **values: str | float | None,
    ) -> None:
        """Draw a closed area."""
        shown = " ".join(f"{num(x)},{num(y)}" for x, y in points)
        start: Values = {"points": shown, "fill": fill, "stroke": stroke, "stroke_width": width}
        self.add(layer, f"<polygon{attributes(start | values)}/>")

    def rect(
        self, layer: str, box: Box, fill: str, stroke: str, width: float, **values: str | float | None
    ) -> None:
        """Draw a rectangle along the paper's edges."""
        start: Values = {
            "x": box[0],
            "y": box[1],
            "width": box[2] - box[0],
            "height": box[3] - box[1],
            "fill": fill,
            "stroke": stroke,
            "stroke_width": width,
        }
        self.add(layer, f"<rect{attributes(start | values)}/>")

    def circle(
        self,
        layer: str,
        at: Xy,
        radius: float,
        fill: str,
        stroke: str,
        width: float,
        **values: str | float | None,
    ) -> None:
        """Draw a circle."""
        start: Values = {
            "cx": at[0],
            "cy": at[1],
            "r": radius,
            "fill": fill,
            "stroke": stroke,
            "stroke_width": width,
        }
        self.add(layer, f"<circle{attributes(start | values)}/>")

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
        """Write a text; ``at`` is its base line's start, middle or end. ``turn`` in degrees, clockwise."""
        values: Values = {
            "x": at[0],
            "y": at[1],
            "font_size": size,
            "fill": fill,
            "text_anchor": None if anchor == "start" else anchor,
            "font_weight": "bold" if bold else None,
            "transform": f"rotate({num(turn)} {num(at[0])} {num(at[1])})" if turn else None,
        }
        self.add(layer, f"<text{attributes(values)}>{escape(clean(text))}</text>")

    def hatch(
        self, layer: str, outline: Sequence[Xy], angles: Sequence[float], spacing: float, stroke: str
    ) -> None:
        """Fill an outline with hatch lines: real lines, so no renderer needs patterns."""
        area = shapely.make_valid(shapely.Polygon(outline))
        if area.is_empty:
            return
        x0, y0, x1, y1 = area.bounds
        found: list[tuple[Xy, Xy]] = []
        for angle in angles:
            along = (math.cos(math.radians(angle)), -math.sin(math.radians(angle)))
            across = (-along[1], along[0])
            corners = [(x, y) for x in (x0, x1) for y in (y0, y1)]
            offsets = [x * across[0] + y * across[1] for x, y in corners]
            reach = [x * along[0] + y * along[1] for x, y in corners]
            # Lines stand at multiples of the spacing of the whole sheet: neighbours share their hatch.
            first = math.ceil(min(offsets) / spacing)
            for k in range(first, math.floor(max(offsets) / spacing) + 1):
                d = k * spacing
                limits = (min(reach), max(reach))
                ends = [(t * along[0] + d * across[0], t * along[1] + d * across[1]) for t in limits]
                cut = area.intersection(shapely.LineString(ends))
                for part in getattr(cut, "geoms", [cut]):
                    if part.geom_type == "LineString" and part.length > 0.05:
                        (ax, ay), (bx, by) = part.coords[0], part.coords[-1]
                        found.append(((ax, ay), (bx, by)))
        self.segments(layer, found, stroke, 0.12)

    def segments(self, layer: str, lines: Sequence[tuple[Xy, Xy]], stroke: str, width: float) -> None:
        """Draw many straight lines as one shape."""
        if lines:
            way = "".join(f"M{num(a[0])} {num(a[1])}L{num(b[0])} {num(b[1])}" for a, b in lines)
            self.add(layer, f'<path d="{way}" fill="none" stroke="{stroke}" stroke-width="{num(width)}"/>')

    def svg(self, width: float, height: float, title: str, description: str) -> str:
        """Whole document, ``width`` x ``height`` mm.

        Returns
        -------
        str
            Well-formed XML that needs nothing from elsewhere.
        """
        head = (
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{num(width)}mm" height="{num(height)}mm" '
            f'viewBox="0 0 {num(width)} {num(height)}" font-family="{escape(style.FONT, quote=True)}">\n'
            f"<title>{escape(clean(title))}</title>\n<desc>{escape(clean(description))}</desc>\n"
            f'<rect width="{num(width)}" height="{num(height)}" fill="{style.PAPER}"/>\n'
        )
        return head + self._body() + "</svg>\n"

    def fragment(self, box: Box, title: str) -> str:
        """What lies in ``box`` (mm) as an ``<svg>`` element for a page: no size of its own, no ground.

        Returns
        -------
        str
        """
        view = " ".join(num(v) for v in (box[0], box[1], box[2] - box[0], box[3] - box[1]))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" role="img" '
            f'font-family="{escape(style.FONT, quote=True)}">\n<title>{escape(clean(title))}</title>\n'
            f"{self._body(SHARED)}</svg>\n"
        )

    def _body(self, shared: Mapping[str, str] = NOTHING) -> str:
        parts = []
        for name in LAYERS:
            if self.layers[name]:
                text, given = "\n".join(self.layers[name]), shared.get(name, "")
                if name == "labels" and given:
                    text = text.replace(' stroke="none" stroke-width="0"', "")
                if given:
                    text = text.replace(given, "")
                parts.append(f'<g class="layer-{name}"{given}>\n{text}\n</g>\n')
        return "".join(parts)
