"""Distances between straight pipe axes (segments in space), vectorised."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray


def segment_distances(p0: FloatArray, p1: FloatArray, q0: FloatArray, q1: FloatArray) -> FloatArray:
    """Least distances between segments p0-p1 and q0-q1.

    All arguments broadcast to shape (n, 3), mm. The unconstrained closest pair
    is used where it lies on both segments; otherwise the least of the four
    end-to-segment distances is exact.
    """
    d1, d2, r = p1 - p0, q1 - q0, p0 - q0
    a = np.einsum("...i,...i->...", d1, d1)
    e = np.einsum("...i,...i->...", d2, d2)
    b = np.einsum("...i,...i->...", d1, d2)
    c = np.einsum("...i,...i->...", d1, r)
    f = np.einsum("...i,...i->...", d2, r)
    denominator = a * e - b * b
    safe = np.where(denominator > 1e-9 * np.maximum(a * e, 1e-12), denominator, 1.0)
    s = (b * f - c * e) / safe
    t = (a * f - b * c) / safe
    inside = (denominator > 1e-9 * np.maximum(a * e, 1e-12)) & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    gap = r + s[..., None] * d1 - t[..., None] * d2
    best = np.where(inside, np.sqrt(np.einsum("...i,...i->...", gap, gap)), np.inf)
    for point, start, direction, square in (
        (p0, q0, d2, e),
        (p1, q0, d2, e),
        (q0, p0, d1, a),
        (q1, p0, d1, a),
    ):
        rel = point - start
        u = np.clip(np.einsum("...i,...i->...", rel, direction) / np.where(square > 0, square, 1.0), 0, 1)
        rest = rel - u[..., None] * direction
        best = np.minimum(best, np.sqrt(np.einsum("...i,...i->...", rest, rest)))
    return np.asarray(best)
