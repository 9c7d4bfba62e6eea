"""A handful of points that show a front: its ends, what was asked for, the knee, an even spread."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence


def handful(points: Sequence[tuple[float, float]], most: int, wanted: Collection[int] = ()) -> list[int]:
    """Choose at most ``most`` points of a front.

    The ends come first, then those ``wanted``, then the knee (the point farthest
    below the line between the ends), then always the one that lies farthest from
    all that are chosen. Both terms are measured in parts of their range.

    Parameters
    ----------
    points
        Along the front.
    most
        1 or more.
    wanted
        Indices of points that come before others.

    Returns
    -------
    list of int
        Indices, ascending.
    """
    count = len(points)
    if count <= most:
        return list(range(count))
    scaled = _scaled(points)
    (x0, y0), (x1, y1) = scaled[0], scaled[-1]
    # rounded: of a straight front no point is its knee
    below = [round((x1 - x0) * (y0 - y) - (x - x0) * (y0 - y1), 9) for x, y in scaled]
    knee = max(range(count), key=lambda n: (below[n], -n))
    order = list(dict.fromkeys([0, count - 1, *sorted(wanted), *([knee] if below[knee] > 0 else [])]))
    chosen = order[:most]
    while len(chosen) < most:
        far = max(
            (n for n in range(count) if n not in chosen),
            key=lambda n: (min(_apart(scaled[n], scaled[m]) for m in chosen), -n),
        )
        chosen.append(far)
    return sorted(chosen)


def _scaled(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    low = [min(p[k] for p in points) for k in (0, 1)]
    span = [max(p[k] for p in points) - low[k] or 1.0 for k in (0, 1)]
    return [((x - low[0]) / span[0], (y - low[1]) / span[1]) for x, y in points]


def _apart(a: tuple[float, float], b: tuple[float, float]) -> float:
    return round((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2, 9)
