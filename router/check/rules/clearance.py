"""Pipes and plugged openings keep clear of obstructions, surface to surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.check.distances import Prisms
from router.check.findings import NEAR_MM, PRACTICE, TOLERANCE_MM
from router.check.plugs import bodies, plugged
from router.check.rule import Judge

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.check.findings import Finding, RuleInForce
    from router.check.network import Network
    from router.check.survey import Survey

_J = Judge("clearance", *PRACTICE)


def in_force(survey: Survey) -> RuleInForce:
    """Say what the rule asks in this scenario."""
    own = [item for item in survey.scenario.obstructions if item.clearance is not None]
    more = f"; {len(own)} obstructions with their own" if own else ""
    return _J.in_force(
        "every pipe and every plugged opening of a fitting keeps its clearance to every obstruction",
        f"{survey.rules.clearance:g} mm{more}",
    )


def check(survey: Survey, net: Network) -> Iterator[Finding]:
    """Yield pipes and plugs that are too close to an obstruction, or nearly."""
    items = survey.scenario.obstructions
    if not items:
        return
    prisms = Prisms([item.polygon for item in items], [item.elevations for item in items])
    needs = np.array([survey.rules.clearance if item.clearance is None else item.clearance for item in items])
    every = bodies(survey, plugged(survey, net))
    widest = every.radii + max(float(needs.max()), 0.0) + NEAR_MM + TOLERANCE_MM
    which, prism = prisms.near(every.axes, widest)
    away, place = prisms.distance(every.axes[which], prism)
    gaps = away - every.radii[which]
    for row in np.lexsort((prism, which)):
        item = items[prism[row]]
        need = float(needs[prism[row]])
        if gaps[row] >= need + NEAR_MM:
            continue
        words = every.words[which[row]]
        yield from _J.at_least(
            every.names[which[row]],
            f"clearance of {words}" if words else "clearance",
            float(gaps[row]),
            need,
            place=(float(place[row, 0]), float(place[row, 1]), float(place[row, 2])),
            against=item.id,
        )
