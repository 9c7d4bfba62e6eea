"""How far a pipe may lean that counts as square to the run, or as upright."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray
    from router.scenario.model import Rules

ROUNDED = 0.002
"""mm. What leans less than the tolerance by this still does when its places are rounded."""
UPRIGHT_DEG = 44.0
"""Whatever the tolerance: what leans more is not upright."""


def leaning(rules: Rules, length: FloatArray | float) -> FloatArray:
    """Give how far out of line the end of a pipe may be that is to be square (or upright), mm.

    By the tolerance of a right angle alone: the referee allows a pitched run's
    pitch on top of it. ``length``: square to the run (or upright), mm.
    """
    share = np.tan(np.radians(min(rules.square_tolerance_deg, UPRIGHT_DEG)))
    return np.asarray(np.maximum(share * np.maximum(length, 0.0) - ROUNDED, 1e-6))


def degrees_off(along: FloatArray, length: FloatArray) -> FloatArray:
    """Give the angle of a pipe that is ``along`` (mm) out of line over ``length``, degrees; 0 where exact."""
    wide = np.where(along > 0.0, along + ROUNDED, 0.0)
    return np.asarray(np.degrees(np.arctan2(wide, length)))
