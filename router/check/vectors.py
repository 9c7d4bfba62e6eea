"""Small vectors, in plain Python: the referee handles them one at a time."""

from __future__ import annotations

from math import acos, degrees, dist, hypot, sqrt

Xyz = tuple[float, float, float]
Xy = tuple[float, float]


def minus(a: Xyz, b: Xyz) -> Xyz:
    """Return ``a - b``, mm."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def dot(a: Xyz, b: Xyz) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def unit(a: Xyz) -> Xyz | None:
    """Return unit vector, ``None`` for a vector without length."""
    length = sqrt(dot(a, a))
    if not 1e-9 < length < 1e15:
        return None
    return (a[0] / length, a[1] / length, a[2] / length)


def opposite(a: Xyz) -> Xyz:
    """Return ``-a``."""
    return (-a[0], -a[1], -a[2])


def angle(a: Xyz, b: Xyz) -> float:
    """Angle between two vectors in degrees, 0 to 180; 180 where one has no length."""
    (ax, ay, az), (bx, by, bz) = a, b  # written out: it is asked some twenty times a head
    la, lb = sqrt(ax * ax + ay * ay + az * az), sqrt(bx * bx + by * by + bz * bz)
    if not (1e-9 < la < 1e15 and 1e-9 < lb < 1e15):
        return 180.0
    cosine = (ax / la) * (bx / lb) + (ay / la) * (by / lb) + (az / la) * (bz / lb)
    return degrees(acos(-1.0 if cosine < -1.0 else min(cosine, 1.0)))


def flat_length(a: Xyz, b: Xyz) -> float:
    """Plan distance, mm."""
    return hypot(a[0] - b[0], a[1] - b[1])


def middle(a: Xyz, b: Xyz) -> Xyz:
    """Point half way."""
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2)


def along(a: Xyz, b: Xyz, point: Xyz) -> tuple[float, float]:
    """Nearest point of segment ``a b``: its parameter (0 to 1) and how far ``point`` is from it, mm."""
    v = minus(b, a)
    square = dot(v, v)
    t = max(0.0, min(1.0, dot(minus(point, a), v) / square)) if square > 0.0 else 0.0
    return t, dist(point, (a[0] + t * v[0], a[1] + t * v[1], a[2] + t * v[2]))
