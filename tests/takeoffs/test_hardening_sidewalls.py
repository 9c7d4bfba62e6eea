"""A sidewall's vertical and lead keep their clearance to the run that they leave."""

from __future__ import annotations

from math import sqrt
from typing import Any

import pytest
from each_alone import refusals, sidewall
from small_lines import ARM, ARM_RADIUS, BIT, DROP, RUN_RADIUS, Z, clean_route, fails, line, offered, works

CLEAR = 70.0
OWN = RUN_RADIUS + ARM_RADIUS + CLEAR
"""From axis to axis: 107.78 mm, more than the make-up of either piece asks."""


def wall(at: tuple[float, float, float], facing: float, **more: Any) -> Any:
    return line("sidewall", at, head={"facing": facing}, rules={"piece_clearance": CLEAR}, **more)


def test_the_vertical_behind_the_head() -> None:
    works(wall((1500, OWN + BIT, 2800), 0))
    fails(wall((1500, OWN - BIT, 2800), 0))


@pytest.mark.parametrize("up", [1, -1])
def test_the_lead_over_or_under_the_line(up: int) -> None:
    # it comes back to 30 mm beside the line from its vertical, which is 98.25 mm further off
    drop = sqrt(OWN**2 - 30**2)
    assert drop > ARM + BIT
    works(wall((1500, 30, Z + up * (drop + BIT)), 270))
    fails(wall((1500, 30, Z + up * (drop - BIT)), 270))


def test_the_lead_is_measured_where_it_is_nearest() -> None:
    # a quarter of the way back: nearest at its end
    made = offered(wall((1500, 60, Z - 100), 270))
    assert made.branches[0].points[1][1] == pytest.approx(60 + DROP, abs=0.01)
    fails(wall((1500, 38, Z - 100), 270))  # sqrt(38^2 + 100^2) = 106.98


def test_a_facing_that_is_not_quite_square_to_anything() -> None:
    """Facing a little off the line's own direction: the lead comes nearer than its vertical."""
    for facing, lateral in ((-2.5, OWN + 2), (0.0, OWN + 0.2), (2.5, OWN + 0.2)):
        for rise in (-95, -100, 100, 95):
            clean_route(wall((1500, lateral, Z + rise), facing))


@pytest.mark.parametrize("forty", range(1))
def test_random_ones_are_never_refused(forty: int, monkeypatch: pytest.MonkeyPatch) -> None:
    laid = 0
    for seed in range(100 * forty, 100 * forty + 40):
        try:
            scenario = sidewall(seed)
        except ValueError:
            continue
        for style, broken in refusals(scenario, 6, seed, monkeypatch):
            assert not broken, (seed, broken)
            laid += style == "sidewall"
    assert laid > 20
