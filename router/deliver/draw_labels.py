"""Puts labels where they collide with nothing: a small deterministic placer.

Every label tries places around its anchor, near ones first. Symbols and other
labels are never covered; pipe and obstruction outlines are avoided where there
is a choice. A label that stands away from its anchor gets a leader line. One
that finds no place is left out and counted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from router.deliver import draw_style as style
from router.deliver.draw_canvas import Box, Canvas, Xy, shorten, text_width

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

CELL = 8.0
GAP = 0.25
SOFT_COST = 2.0
LEADER_COST = 6.0
LEADER_FROM = 1.6
RINGS = (0.5, 2.2, 4.0, 6.5, 9.5, 13.0, 17.0)
ANGLES = (90, 270, 0, 180, 45, 315, 135, 225, 67, 293, 113, 247, 22, 338, 158, 202)
DIRECTIONS = tuple(math.radians(a) for a in ANGLES)


def overlap(a: Box, b: Box, gap: float = 0.0) -> bool:
    """Tell whether two boxes come closer than ``gap`` mm.

    Returns
    -------
    bool
    """
    return a[0] < b[2] + gap and b[0] < a[2] + gap and a[1] < b[3] + gap and b[1] < a[3] + gap


def within(box: Box, bounds: Box) -> bool:
    """Tell whether a box lies inside another.

    Returns
    -------
    bool
    """
    return bounds[0] <= box[0] and bounds[1] <= box[1] and box[2] <= bounds[2] and box[3] <= bounds[3]


class Grid:
    """Boxes by the cells that they touch."""

    def __init__(self) -> None:
        self.cells: dict[tuple[int, int], list[Box]] = {}

    @staticmethod
    def _span(box: Box) -> Iterator[tuple[int, int]]:
        for i in range(math.floor(box[0] / CELL), math.floor(box[2] / CELL) + 1):
            for j in range(math.floor(box[1] / CELL), math.floor(box[3] / CELL) + 1):
                yield i, j

    def add(self, box: Box) -> None:
        """Store a box."""
        for cell in self._span(box):
            self.cells.setdefault(cell, []).append(box)

    def hits(self, box: Box, gap: float = 0.0) -> int:
        """Count stored boxes that come closer than ``gap`` mm to ``box``.

        Returns
        -------
        int
        """
        wide = (box[0] - gap, box[1] - gap, box[2] + gap, box[3] + gap)
        near = {other for cell in self._span(wide) for other in self.cells.get(cell, ())}
        return sum(overlap(box, other, gap) for other in near)


def segment_boxes(a: Xy, b: Xy, half: float, step: float = 1.5) -> list[Box]:
    """Cover a line with small boxes.

    Returns
    -------
    list of Box
    """
    count = max(1, math.ceil(math.dist(a, b) / step))
    boxes = []
    for k in range(count):
        x0, y0 = (a[0] + (b[0] - a[0]) * k / count, a[1] + (b[1] - a[1]) * k / count)
        x1, y1 = (a[0] + (b[0] - a[0]) * (k + 1) / count, a[1] + (b[1] - a[1]) * (k + 1) / count)
        boxes.append((min(x0, x1) - half, min(y0, y1) - half, max(x0, x1) + half, max(y0, y1) + half))
    return boxes


@dataclass(frozen=True)
class Label:
    """A label waiting for its place.

    ``clear``: half size that it keeps off, mm; ``extent``: half size of what it
    names, where that is more. ``prefer``: direction in degrees.
    ``head_bold``: only the first line is bold. Low ``rank`` is placed first.
    """

    lines: tuple[str, ...]
    anchor: Xy
    size: float = style.LABEL_SIZE
    clear: Xy = (1.4, 1.4)
    fill: str = style.INK
    bold: bool = False
    head_bold: bool = False
    prefer: float | None = None
    reach: float = 17.0
    extent: Xy | None = None
    rank: int = 1


@dataclass
class Placer:
    """Labels of one sheet. ``placed`` holds the boxes that were given away."""

    hard: Grid = field(default_factory=Grid)
    soft: Grid = field(default_factory=Grid)
    waiting: list[tuple[Label, Box]] = field(default_factory=list)
    placed: list[Box] = field(default_factory=list)
    dropped: int = 0

    def block(self, box: Box) -> None:
        """Keep labels off a box."""
        self.hard.add(box)

    def block_line(self, a: Xy, b: Xy, half: float) -> None:
        """Keep labels off a line where there is a choice."""
        for box in segment_boxes(a, b, half):
            self.soft.add(box)

    def want(self, label: Label, bounds: Box) -> None:
        """Ask for a label inside ``bounds``."""
        self.waiting.append((label, bounds))

    def settle(self, canvas: Canvas) -> None:
        """Place and draw everything that waits: by rank, then in the order asked for."""
        for label, bounds in sorted(self.waiting, key=lambda pair: pair[0].rank):
            self._place(canvas, label, bounds)
        self.waiting.clear()

    def _place(self, canvas: Canvas, label: Label, bounds: Box) -> None:
        lines = [shorten(line, 64) for line in label.lines]
        size = label.size * (1.06 if label.bold or label.head_bold else 1.0)
        width = max(text_width(line, size) for line in lines)
        height = label.size * (1.12 * len(lines) - 0.02)
        best: tuple[float, Box] | None = None
        for cost, box in self._places(label, width, height):
            if best is not None and cost >= best[0]:
                continue
            if not within(box, bounds) or self.hard.hits(box, GAP):
                continue
            total = cost + SOFT_COST * self.soft.hits(box)
            end = self._leader_end(label, box)
            if end is not None:
                way = segment_boxes(label.anchor, end, 0.05)[2:-1]
                total += LEADER_COST * sum(self.hard.hits(b) for b in way)
            if best is None or total < best[0]:
                best = (total, box)
        if best is None:
            self.dropped += 1
            return
        self._draw(canvas, label, lines, best[1])

    @staticmethod
    def _places(label: Label, width: float, height: float) -> Iterator[tuple[float, Box]]:
        if label.clear == (0.0, 0.0):
            yield (
                0.0,
                (
                    label.anchor[0] - width / 2,
                    label.anchor[1] - height / 2,
                    label.anchor[0] + width / 2,
                    label.anchor[1] + height / 2,
                ),
            )
        for ring in RINGS:
            if ring > label.reach:
                return
            for order, angle in enumerate(DIRECTIONS):
                dx, dy = math.cos(angle), -math.sin(angle)
                x = label.anchor[0] + dx * (label.clear[0] + ring + width / 2)
                y = label.anchor[1] + dy * (label.clear[1] + ring + height / 2)
                cost = ring * 1.5 + order * 0.05
                if label.prefer is not None:
                    off = abs((math.degrees(angle) - label.prefer + 180) % 360 - 180)
                    cost += off / 60.0
                yield cost, (x - width / 2, y - height / 2, x + width / 2, y + height / 2)

    @staticmethod
    def _leader_end(label: Label, box: Box) -> Xy | None:
        """Nearest point of the box, where the label stands so far away that it needs a leader.

        Returns
        -------
        Xy or None
        """
        x = min(max(label.anchor[0], box[0]), box[2])
        y = min(max(label.anchor[1], box[1]), box[3])
        half = label.extent or label.clear
        dx = max(abs(x - label.anchor[0]) - half[0], 0.0)
        dy = max(abs(y - label.anchor[1]) - half[1], 0.0)
        beyond = math.hypot(dx, dy)
        return (x, y) if beyond > LEADER_FROM else None

    def _draw(self, canvas: Canvas, label: Label, lines: Sequence[str], box: Box) -> None:
        self.hard.add(box)
        self.placed.append(box)
        end = self._leader_end(label, box)
        if end is not None:
            canvas.line("leaders", label.anchor, end, style.GREY, 0.14)
            for part in segment_boxes(label.anchor, end, 0.1):
                self.soft.add(part)
        canvas.rect("labels", box, style.PAPER, "none", 0.0, fill_opacity=0.82)
        middle = (box[0] + box[2]) / 2
        for k, line in enumerate(lines):
            bold = label.bold or (label.head_bold and k == 0)
            y = box[1] + label.size * (0.84 + 1.12 * k)
            canvas.text("labels", (middle, y), line, label.size, fill=label.fill, anchor="middle", bold=bold)
