"""What may be out of line by `alignment` still leans no more than the tolerance of a right angle."""

from __future__ import annotations

from collections import Counter
from math import radians, tan
from typing import Any

import pytest
from each_alone import off_the_line, refusals
from small_lines import BIT, Z, candidates, clean_route, fails, line, refused, works

TAN = tan(radians(3.0))


def drop(style: str, lateral: float, length: float, **rules: Any) -> Any:
    up = 1 if style == "sprig" else -1
    return line(style, (1500, lateral, Z + up * length), rules={"alignment": 200.0, **rules})


@pytest.mark.parametrize("style", ["straight_drop", "sprig"])
def test_a_straight_pipe_to_the_head(style: str) -> None:
    works(drop(style, 400 * TAN - BIT, 400))
    fails(drop(style, 400 * TAN + BIT, 400))
    works(drop(style, 400 * tan(radians(1.0)) - BIT, 400, square_tolerance_deg=1.0))
    fails(drop(style, 400 * tan(radians(1.0)) + BIT, 400, square_tolerance_deg=1.0))
    fails(drop(style, 60, 150))
    works(drop(style, 3, 150, alignment=3.0))
    fails(drop(style, 3 + BIT, 150, alignment=3.0))


@pytest.mark.parametrize("tolerance", [0.0, 45.0])
def test_extreme_tolerances(tolerance: float) -> None:
    works(drop("straight_drop", 0, 150, square_tolerance_deg=tolerance))
    for lateral in (0.01, 149, 150, 151):
        clean_route(drop("straight_drop", lateral, 150, square_tolerance_deg=tolerance))


def test_a_head_that_cannot_be_straight_has_an_arm() -> None:
    """Beside the line by less than the alignment, but by enough for a square arm."""
    made, route = works(line("side_arm", (1500, 150, Z - 300), rules={"alignment": 200.0}))
    assert (made.side, route.takeoffs[0].dogleg) == ("left", False)


@pytest.mark.parametrize("style", ["shared_nipple", "level_cross"])
def test_two_arms_on_one_fitting(style: str) -> None:
    def pair(apart: float, **rules: Any) -> Any:
        heads = ((1500.0, 400.0, 2600.0), (1500.0 + apart, -200.0, 2600.0))
        return line(style, *heads, rules={"alignment": 50.0, **rules})

    works(pair(200 * TAN - BIT))  # from the first's station: the second's arm leans
    works(pair(200 * TAN + 2))  # too much; from the second's station the longer arm leans
    refused(pair(400 * TAN + BIT))
    works(pair(5.0, alignment=5.0))
    refused(pair(5.0 + BIT, alignment=5.0))


def test_hangers_of_arms_are_counted_as_the_referee_counts_them() -> None:
    """NFPA 13: 24 in. of arm without a hanger; here 0.07 mm more, a tolerance of 0.1 is for all lengths."""
    for more, hangers in ((0.07, 0), (0.2, 1)):
        _, route = works(line("side_arm", (1500, 609.6 + more, 2600)))
        assert route.counts.arm_hangers == hangers


def test_an_arm_over_a_pitched_run_keeps_its_clearance() -> None:
    """At 40 mm per m what is 130 mm over the line is 129.9 mm from its axis."""
    for style in ("lowered_arm", "return_bend"):
        scenario = line(
            style, (1500, 400, 2600), system={"kind": "wet", "pitch_branch": 80.0},
            rules={"piece_clearance": 97.0}, run={"band": None},
        )  # fmt: skip
        assert candidates(scenario)
        clean_route(scenario)


@pytest.mark.parametrize("forty", range(1))
def test_random_heads_near_a_line_are_never_refused(forty: int, monkeypatch: pytest.MonkeyPatch) -> None:
    laid: Counter[str] = Counter()
    for seed in range(100 * forty, 100 * forty + 40):
        for style, broken in refusals(off_the_line(seed), 5, seed, monkeypatch):
            assert not broken, (seed, style, broken)
            laid[style] += 1
    assert sum(laid.values()) > 60
    assert laid.keys() >= {"side_arm", "return_bend", "raised_arm", "lowered_arm", "sprig"}, laid
