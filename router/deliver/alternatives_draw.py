"""The front as a picture: one term across, the other upwards, every point in its place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.alternatives import BY_NAME
from router.deliver import draw_style as style
from router.deliver.alternatives_tables import short_name
from router.deliver.draw_canvas import Canvas, shorten, text_width, wrap
from router.deliver.tables import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.alternatives import Alternatives, Point

WIDTH = 210.0
"""mm on paper."""
LEFT, RIGHT, TOP, HIGH = 24.0, 198.0, 30.0, 104.0
"""mm: the field of the plot begins and ends across, begins from above, and is so high."""
NEAR = 5.5
"""mm. Labels are kept so far apart."""
RADIUS = 1.7


@dataclass(frozen=True)
class _Axis:
    """Amounts become mm on paper; ``ticks`` in amounts."""

    low: float
    high: float
    start: float
    end: float
    ticks: list[float]

    def at(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    @classmethod
    def over(cls, values: Sequence[float], start: float, end: float, *, whole: bool) -> _Axis:
        """Cover the values with a little room at both ends, ticks at round numbers."""
        low, high = min(values), max(values)
        span = high - low or (4.0 if whole else max(abs(low) * 0.02, 0.1))
        step = _round_step(span / 6, whole=whole)
        first = math.floor((low - 0.04 * span) / step) * step
        last = math.ceil((high + 0.04 * span) / step) * step
        if low >= 0:
            first = max(first, 0.0 if low > 0 else -step / 2)
        count = round((last - first) / step)
        ticks = [round(math.ceil(first / step - 1e-9) * step + k * step, 9) for k in range(count + 1)]
        return cls(first, last, start, end, [t for t in ticks if first - 1e-9 <= t <= last + 1e-9])


def _round_step(rough: float, *, whole: bool) -> float:
    ten = 10.0 ** math.floor(math.log10(rough))
    step = next(ten * m for m in (1, 2, 5, 10) if ten * m >= rough * 0.999)
    return max(step, 1.0) if whole else step


def front_svg(found: Alternatives) -> str:
    """Draw the alternatives: all points, those with a route, and what the scenario's weights choose.

    Returns
    -------
    str
        An SVG document.
    """
    canvas = Canvas()
    first, second = BY_NAME[found.first], BY_NAME[found.second]
    every = [*found.points, found.own]
    across = _Axis.over([p.second for p in every], LEFT, RIGHT, whole=second.counts)
    upwards = _Axis.over([p.first for p in every], TOP + HIGH, TOP, whole=first.counts)
    _frame(canvas, found, across, upwards)
    if found.kind == "front":
        _stairs(canvas, found.points, across, upwards)
    _points(canvas, found, across, upwards)
    bottom = _legend(canvas, found)
    title = f"{found.scenario}: {plain(found.first)} against {plain(found.second)}"
    return canvas.svg(WIDTH, bottom, title, found.claim)


def _frame(canvas: Canvas, found: Alternatives, across: _Axis, upwards: _Axis) -> None:
    what = "weights tried" if found.kind == "sweep" else "the front"
    head = f"{plain(found.first)} against {plain(found.second)}: {what}"
    canvas.text("frame", (LEFT, 11), shorten(found.scenario, 70), style.TITLE_SIZE, bold=True)
    canvas.text("frame", (LEFT, 19), head, style.HEADING_SIZE + 0.8, fill=style.GREY)
    bottom = TOP + HIGH
    for value in across.ticks:
        x = across.at(value)
        canvas.line("guides", (x, TOP), (x, bottom), style.FAINT, 0.15)
        canvas.text("labels", (x, bottom + 4.4), f"{value:g}", style.TEXT_SIZE, anchor="middle")
    for value in upwards.ticks:
        y = upwards.at(value)
        canvas.line("guides", (LEFT, y), (RIGHT, y), style.FAINT, 0.15)
        canvas.text("labels", (LEFT - 1.8, y + 0.95), f"{value:g}", style.TEXT_SIZE, anchor="end")
    canvas.line("guides", (LEFT, bottom), (RIGHT, bottom), style.INK, 0.3)
    canvas.line("guides", (LEFT, TOP), (LEFT, bottom), style.INK, 0.3)
    middle = (LEFT + RIGHT) / 2
    canvas.text(
        "labels", (middle, bottom + 10), _axis_name(found.second), style.HEADING_SIZE, anchor="middle"
    )
    at = (LEFT - 14, TOP + HIGH / 2)
    canvas.text("labels", at, _axis_name(found.first), style.HEADING_SIZE, anchor="middle", turn=-90)


def _axis_name(name: str) -> str:
    unit = BY_NAME[name].unit
    return f"{plain(name)}, {unit}" if unit else plain(name)


def _stairs(canvas: Canvas, points: Sequence[Point], across: _Axis, upwards: _Axis) -> None:
    """Between two points nothing is to be had below the step that they make."""
    line = []
    for n, p in enumerate(points):
        if n:
            line.append((across.at(p.second), upwards.at(points[n - 1].first)))
        line.append((across.at(p.second), upwards.at(p.first)))
    # nothing is to be had beyond either end
    line.insert(0, (across.at(points[0].second), TOP))
    line.append((RIGHT, upwards.at(points[-1].first)))
    canvas.polygon("ground", [*line, (RIGHT, TOP)], "#eef4f9", "none", 0.0)
    canvas.polyline("run", line, style.BLUE, 0.35, stroke_dasharray="1.6 1.1")


def _points(canvas: Canvas, found: Alternatives, across: _Axis, upwards: _Axis) -> None:
    taken: list[tuple[float, float]] = []
    every = [*found.points]
    if found.own not in every:
        every.append(found.own)
    # those with a route are labelled first, so that they get the best places
    for point in sorted(every, key=lambda p: p.route is None):
        x, y = across.at(point.second), upwards.at(point.first)
        told = f"{_worded(point, found)}{f', {point.route}' if point.route else ''}"
        canvas.open_group("heads", told)
        if point.chosen_by_own_weights:
            box = (x - 2.7, y - 2.7, x + 2.7, y + 2.7)
            canvas.rect("heads", box, "none", style.VERMILION, 0.6)
        filled = style.BLUE if point.route else style.PAPER
        canvas.circle("heads", (x, y), RADIUS if point.route else 1.25, filled, style.BLUE, 0.45)
        canvas.close_group("heads")
        if point.route:
            _label(canvas, (x, y), short_name(point), taken)


def _label(canvas: Canvas, at: tuple[float, float], text: str, taken: list[tuple[float, float]]) -> None:
    """Write a label beside a point, where no other one stands."""
    wide = text_width(text, style.HEADING_SIZE)
    x, y = at
    tries = [(x + 3.4, y - 2.6), (x - 3.4 - wide, y + 4.8), (x + 3.4, y + 4.8), (x - 3.4 - wide, y - 2.6)]
    free = [p for p in tries if all(math.dist(p, q) >= NEAR for q in taken) and p[0] + wide < RIGHT + 6]
    place = free[0] if free else tries[0]
    taken.append(place)
    canvas.text("labels", place, text, style.HEADING_SIZE, bold=True)


def _worded(point: Point, found: Alternatives) -> str:
    parts = []
    for value, name in ((point.first, found.first), (point.second, found.second)):
        unit = BY_NAME[name].unit
        shown = f"{value:,.3f} {unit} of" if unit else f"{value:g}"
        parts.append(f"{shown} {plain(name)}")
    return ", ".join(parts)


def _legend(canvas: Canvas, found: Alternatives) -> float:
    """Say what the marks mean and what is claimed; returns where the sheet ends, mm."""
    y = TOP + HIGH + 18
    x = LEFT + 2.0
    entries = [("route", "has a route, by its number"), ("bare", "a point without a route")]
    if found.kind == "sweep" or all(p.route for p in found.points):
        entries.pop()
    entries.append(("own", "what the scenario's own weights choose"))
    for kind, text in entries:
        if kind == "own":
            canvas.rect("frame", (x - 1.9, y - 2.9, x + 1.9, y + 0.9), "none", style.VERMILION, 0.6)
        else:
            fill = style.BLUE if kind == "route" else style.PAPER
            canvas.circle("frame", (x, y - 1.0), RADIUS if kind == "route" else 1.25, fill, style.BLUE, 0.45)
        canvas.text("frame", (x + 3.6, y), text, style.TEXT_SIZE)
        x += 3.6 + text_width(text, style.TEXT_SIZE) + 8
    y += 6.5
    for text, colour in ((found.claim, style.INK), (found.caution, style.GREY)):
        for line in wrap(text, style.TEXT_SIZE, RIGHT - LEFT):
            canvas.text("frame", (LEFT, y), line, style.TEXT_SIZE, fill=colour)
            y += 3.9
        y += 1.2
    return y + 2
