"""Why a head is not served: what stops each style's nearest attempt, in mm."""

from __future__ import annotations

from router.building.assemble import RunPlan
from router.building.prepare import Prepared
from router.building.tree import Tree
from router.route.model import Attempt


def explain_unserved(
    prepared: Prepared, trees: list[Tree], plans: dict[int, RunPlan], heads: list[int]
) -> dict[int, list[Attempt]]:
    """Attempts by head index."""
    return {}
