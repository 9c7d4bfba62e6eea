"""A small picture of each style, seen along the line: the line end-on, its takeoff, the head."""

from __future__ import annotations

from router.deliver.draw_style import BLUE, GREEN, GREY, INK, ORANGE
from router.deliver.report.html import Html

Points = tuple[tuple[float, float], ...]

_LINE = (36.0, 34.0)
_PATHS: dict[str, tuple[Points, ...]] = {
    "straight_drop": ((_LINE, (36, 70)),),
    "side_arm": ((_LINE, (78, 34), (78, 70)),),
    "return_bend": ((_LINE, (36, 16), (78, 16), (78, 70)),),
    "raised_arm": ((_LINE, (36, 12), (92, 12), (92, 70)),),
    "lowered_arm": ((_LINE, (36, 58), (92, 58), (92, 70)),),
    "shared_nipple": (((60, 34), (60, 16)), ((60, 16), (24, 16), (24, 70)), ((60, 16), (96, 16), (96, 70))),
    "level_cross": (((60, 34), (24, 34), (24, 70)), ((60, 34), (96, 34), (96, 70))),
    "sprig": (((36, 56), (36, 24)),),
    "sidewall": ((_LINE, (82, 34)),),
    "flexible_drop": (),
    "run_takeoff": ((_LINE, (104, 34)),),
}
_BOX = {"raised_arm": (56, 22, 22, 24), "lowered_arm": (56, 22, 22, 26)}


def style_picture(style: str) -> Html:
    """Draw a style; an unknown one has no picture.

    Returns
    -------
    Html
        An SVG of 120 x 84, hidden from screen readers: the words stand beside it.
    """
    if style not in _PATHS:
        return Html("")
    parts = []
    if style in _BOX:
        left, top, w, h = _BOX[style]
        parts.append(
            f'<rect x="{left}" y="{top}" width="{w}" height="{h}" fill="#dedede" stroke="{GREY}"/>'
            f'<path d="M{left} {top + h}l{w} -{h}" stroke="{GREY}" stroke-width=".7"/>'
        )
    for path in _PATHS[style]:
        shown = " ".join(f"{x},{y}" for x, y in path)
        parts.append(
            f'<polyline points="{shown}" fill="none" stroke="{GREEN}" stroke-width="4" '
            'stroke-linejoin="round"/>'
        )
        parts += [_fitting(at) for at in path[1:-1]]
        if style not in ("run_takeoff",):
            end = path[-1]
            if len(_PATHS[style]) == 1 or end[1] >= 70:
                parts.append(_head(end, style))
    if style == "flexible_drop":
        parts.append(
            f'<path d="M36 34C60 34 80 30 80 70" fill="none" stroke="{ORANGE}" stroke-width="4" '
            'stroke-dasharray="5 2"/>' + _head((80, 70), style)
        )
    x, y = {"shared_nipple": (60, 34), "level_cross": (60, 34), "sprig": (36, 56)}.get(style, _LINE)
    if style == "shared_nipple":
        parts.append(_fitting((60, 16)))
    parts.append(f'<circle cx="{x}" cy="{y}" r="8" fill="#fff" stroke="{BLUE}" stroke-width="4"/>')
    body = "".join(parts)
    return Html(
        f'<svg class="style-picture" viewBox="0 0 120 84" width="120" height="84" aria-hidden="true" '
        f'focusable="false">{body}</svg>'
    )


def _fitting(at: tuple[float, float]) -> str:
    x, y = at
    return f'<rect x="{x - 4}" y="{y - 4}" width="8" height="8" fill="{INK}"/>'


def _head(at: tuple[float, float], style: str) -> str:
    x, y = at
    if style == "sidewall":
        shape = f"M{x} {y - 7}l11 7l-11 7z"
    elif style == "sprig":
        shape = f"M{x - 7} {y}l7 -11l7 11z"
    else:
        shape = f"M{x - 7} {y}l7 11l7 -11z"
    return f'<path d="{shape}" fill="{INK}"/>'
