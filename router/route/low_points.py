"""Where a dry run cannot drain back to its supply."""

from __future__ import annotations

from itertools import pairwise

SLACK_MM = 0.1


def trapped(corners: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Low points that water cannot leave towards the supply.

    Parameters
    ----------
    corners
        (station, elevation) of the run's corners from its supply end, mm.

    Returns
    -------
    list of (from, to)
        Station ranges: from where the pipe falls to where it is that high again,
        falls anew after a rise, or ends.
    """
    found: list[tuple[float, float]] = []
    falls_at: float | None = None
    crest, risen = 0.0, True
    for (sa, za), (sb, zb) in pairwise(corners):
        if zb < za - SLACK_MM:
            if falls_at is not None and risen:
                found.append((falls_at, sa))
                falls_at = None
            if falls_at is None:
                falls_at, crest = sa, za
            risen = False
        elif zb > za + SLACK_MM:
            risen = True
            if falls_at is not None and zb >= crest - SLACK_MM:
                part = min(max((crest - za) / (zb - za), 0.0), 1.0)
                found.append((falls_at, sa + part * (sb - sa)))
                falls_at = None
    if falls_at is not None and corners:
        found.append((falls_at, corners[-1][0]))
    return [(round(a, 3), round(b, 3)) for a, b in found]
