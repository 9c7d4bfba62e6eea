"""Two or more judged routes of one scenario, side by side.

Public names: :func:`compare`, :class:`Comparison` and the records that it is made of.
"""

from router.compare.compare import compare
from router.compare.records import (
    Comparison,
    HeadDifference,
    HeadInRoute,
    HeadRow,
    Pair,
    Ranking,
    RouteFigures,
)

__all__ = [
    "Comparison",
    "HeadDifference",
    "HeadInRoute",
    "HeadRow",
    "Pair",
    "Ranking",
    "RouteFigures",
    "compare",
]
