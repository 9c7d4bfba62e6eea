"""Weights to try, read from what the user writes: ``level_change=100,500,2000``."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

from router.route.totals import prices_of
from router.scenario.model import Weights

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.scenario.model import Scenario

MOST = 64
"""Combinations that are routed at the most."""
PER = {"pipe": "points per m", "moved": "points per mm", "price": "points per unit of currency"}


def read_weights(texts: Sequence[str]) -> dict[str, list[float]]:
    """Read what follows ``--weights``, each time it is given.

    Raises
    ------
    ValueError
        Names what is wrong, with its unit, and what would be accepted.
    """
    out: dict[str, list[float]] = {}
    for text in texts:
        name, equals, values = text.partition("=")
        name = name.strip()
        if not equals:
            raise ValueError(f"--weights {text}: NAME=VALUE,VALUE... expected, as level_change=100,500,2000")
        if name not in Weights.model_fields:
            known = ", ".join(Weights.model_fields)
            raise ValueError(f"--weights {text}: {name!r} is no weight; known are {known}")
        if name in out:
            raise ValueError(f"--weights {text}: {name} is given twice; list its values in one place")
        out[name] = [_value(name, value.strip()) for value in values.split(",")]
        twice = next((v for v in out[name] if out[name].count(v) > 1), None)
        if twice is not None:
            raise ValueError(f"--weights {text}: {twice:g} {PER.get(name, 'points')} is given twice")
    count = math.prod(len(values) for values in out.values())
    if count > MOST:
        raise ValueError(f"--weights: {count:,} combinations; {MOST} at most can be tried at a time")
    return out


def _value(name: str, text: str) -> float:
    unit = PER.get(name, "points")
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"--weights {name}: {text!r} is no number; a number of {unit} expected") from None
    least, words = (1e-9, "above 0, up") if name == "unserved" else (0.0, "from 0")
    if not math.isfinite(value) or value < least or value > 1e9:
        raise ValueError(f"--weights {name}: {text} {unit}; a number {words} to 1,000,000,000 expected")
    return value


def combinations(weights: dict[str, list[float]]) -> list[dict[str, float]]:
    """Give every combination, the last weight's values changing fastest."""
    return [dict(zip(weights, values, strict=True)) for values in itertools.product(*weights.values())]


def check_used(scenario: Scenario, weights: dict[str, list[float]]) -> None:
    """Refuse a weight that changes nothing in this scenario.

    Raises
    ------
    ValueError
        Names the weight and why it has no say.
    """
    for name in weights:
        if name == "price" and scenario.prices is None:
            raise ValueError("--weights price: the scenario has no price table, so nothing has a price")
        one, other = (getattr(prices_of(weighed(scenario, {name: v})), name) for v in (1.0, 2.0))
        if one == other:
            raise ValueError(
                f"--weights {name}: the scenario's price table is its objective; {name} has no weight"
            )


def weighed(scenario: Scenario, weights: dict[str, float]) -> Scenario:
    """Give the scenario with some weights changed."""
    return scenario.model_copy(update={"weights": scenario.weights.model_copy(update=weights)})
