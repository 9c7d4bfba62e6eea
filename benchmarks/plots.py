"""Two plots as SVG: time against heads, and fittings beside the baselines.

Colours are of the palette of Okabe and Ito (2008); marks differ in shape too.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from router.deliver import draw_style as style
from router.deliver.draw_canvas import Canvas, text_width

if TYPE_CHECKING:
    from collections.abc import Sequence

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
TEXT = 3.0
RADIUS = 1.1


def mark(canvas: Canvas, at: tuple[float, float], n: int) -> None:
    """Draw the ``n``-th kind of mark."""
    x, y = at
    colour, r = COLOURS[n % len(COLOURS)], RADIUS
    if n % 4 == 0:
        canvas.circle("near", at, r, colour, style.PAPER, 0.2)
        return
    rings = {
        1: [(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)],
        2: [(x, y - 1.3 * r), (x + 1.3 * r, y + r), (x - 1.3 * r, y + r)],
        3: [(x, y - 1.4 * r), (x + 1.4 * r, y), (x, y + 1.4 * r), (x - 1.4 * r, y)],
    }
    canvas.polygon("near", rings[n % 4], colour, style.PAPER, 0.2)


def _legend(canvas: Canvas, x: float, y: float, names: Sequence[str], first: int = 0) -> None:
    for n, name in enumerate(names):
        mark(canvas, (x, y + 5.0 * n - 1.0), n + first)
        canvas.text("labels", (x + 3.0, y + 5.0 * n), name, TEXT)


def _seconds(value: float) -> str:
    return f"{1000 * value:g} ms" if value < 1 else f"{value:g} s"


def time_plot(exponents: dict[str, dict[str, Any]], rest: Sequence[tuple[int, float]]) -> str:
    """Time against heads, both logarithmic; ``rest``: (heads, seconds) of all other cases."""
    canvas = Canvas()
    points = [p for found in exponents.values() for p in found["points"]] + list(rest)
    logs = [[math.log10(p[i]) for p in points] for i in (0, 1)]
    decades = [(math.floor(min(of)), math.ceil(max(of))) for of in logs]
    left, top, width, height = 22.0, 16.0, 110.0, 80.0

    def place(heads: float, seconds: float) -> tuple[float, float]:
        (x0, x1), (y0, y1) = decades
        return (
            left + width * (math.log10(heads) - x0) / (x1 - x0),
            top + height * (1 - (math.log10(seconds) - y0) / (y1 - y0)),
        )

    for d in range(decades[0][0], decades[0][1] + 1):
        x = place(10.0**d, 10.0 ** decades[1][0])[0]
        canvas.line("ground", (x, top), (x, top + height), style.FAINT, 0.15)
        canvas.text("labels", (x, top + height + 4.5), f"{10**d:,}", TEXT, anchor="middle")
    for d in range(decades[1][0], decades[1][1] + 1):
        y = place(10.0 ** decades[0][0], 10.0**d)[1]
        canvas.line("ground", (left, y), (left + width, y), style.FAINT, 0.15)
        canvas.text("labels", (left - 2, y + 1), _seconds(10.0**d), TEXT, anchor="end")
    canvas.rect("frame", (left, top, left + width, top + height), "none", style.GREY, 0.25)
    canvas.text("labels", (left, 9), "Seconds to route against heads", 4.2, bold=True)
    canvas.text("labels", (left + width / 2, top + height + 10), "heads", TEXT, anchor="middle")
    names = []
    for n, (name, found) in enumerate(exponents.items()):
        placed = [place(*p) for p in found["points"]]
        canvas.polyline("run", placed, COLOURS[n % len(COLOURS)], 0.35)
        for at in placed:
            mark(canvas, at, n)
        slope = found["from_120"] if found["from_120"] is not None else found["all"]
        names.append(name if slope is None else f"{name}: exponent {slope:.2f}")
    for p in rest:
        canvas.circle("far", place(*p), 0.8, style.PAPER, style.GREY, 0.3)
    x = left + width + 6
    _legend(canvas, x, top + 4, names)
    y = top + 4 + 5.0 * len(names)
    canvas.circle("near", (x, y - 1), 0.8, style.PAPER, style.GREY, 0.3)
    canvas.text("labels", (x + 3, y), "other cases", TEXT)
    wide = x + 5 + max(text_width(name, TEXT) for name in [*names, "other cases"])
    return canvas.svg(wide, top + height + 14, "Seconds to route against heads", "Both axes are logarithmic.")


def fittings_plot(
    names: Sequence[str], bars: dict[str, list[float | None]], more: dict[str, list[int]]
) -> str:
    """All fittings over served heads, a row for each case, a mark for each way to route it.

    ``more``: heads that a way leaves unserved and ours does not: said beside its
    mark, since fewer heads need fewer fittings.
    """
    canvas = Canvas()
    left = 8 + max(text_width(name, TEXT) for name in names)
    top, width, step = 22.0, 110.0, 7.0
    values = [v for row in bars.values() for v in row if v is not None]
    low = math.floor(4 * min(values)) / 4
    high = math.ceil(4 * max(values)) / 4

    def across(value: float) -> float:
        return left + width * (value - low) / (high - low)

    bottom = top + step * len(names)
    for k in range(round((high - low) * 4) + 1):
        x = across(low + k / 4)
        canvas.line("ground", (x, top), (x, bottom), style.FAINT, 0.15)
        if k % (2 if high - low > 2 else 1) == 0:
            canvas.text("labels", (x, bottom + 4.5), f"{low + k / 4:g}", TEXT, anchor="middle")
    for row, name in enumerate(names):
        y = top + step * (row + 0.5)
        canvas.text("labels", (left - 3, y + 1), name, TEXT, anchor="end")
        here = [v for v in (series[row] for series in bars.values()) if v is not None]
        ends = [across(v) for v in (min(here), max(here))]
        canvas.line("guides", (ends[0], y), (ends[1], y), style.GREY, 0.2)
        for n, (way, series) in reversed(list(enumerate(bars.items()))):
            value = series[row]
            if value is not None:
                # beside each other, so that equal ones are seen
                at = (across(value), y + 1.1 * (n - (len(bars) - 1) / 2))
                mark(canvas, at, n)
                if more[way][row] > 0:
                    left_of = value < (min(here) + max(here)) / 2
                    x = at[0] - 2.2 if left_of else at[0] + 2.2
                    anchor = "end" if left_of else "start"
                    canvas.text(
                        "labels", (x, at[1] + 0.9), f"{more[way][row]} more unserved", 2.4, anchor=anchor
                    )
    canvas.rect("frame", (left, top, left + width, bottom), "none", style.GREY, 0.25)
    canvas.text("labels", (left, 9), "Fittings for each served head, runs included", 4.2, bold=True)
    x = left
    for n, name in enumerate(bars):
        mark(canvas, (x + 1, 16), n)
        canvas.text("labels", (x + 4, 17), name, TEXT)
        x += 9 + text_width(name, TEXT)
    return canvas.svg(
        max(left + width + 6, x), bottom + 9, "Fittings for each served head", "Lower is better."
    )
