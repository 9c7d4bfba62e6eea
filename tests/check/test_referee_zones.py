"""Zones and ceilings at their smallest: nothing is in a zone that is no wider than the tolerance."""

from __future__ import annotations

from typing import Any

import pytest
from build import dry_line, line

from router.check import check_route


def zone(half: float, high: float, of: str, at: float = 1150.0) -> dict[str, Any]:
    """A zone about a station of the run, ``half`` wide either way, from 2800 to ``high``."""
    polygon = [(at - half, -50), (at + half, -50), (at + half, 50), (at - half, 50)]
    return {"id": "Z", "polygon": polygon, "elevations": (2800, high), "of": of}


@pytest.mark.parametrize(
    ("half", "high", "broken"),
    [(50.0, 2900.0, 1), (0.2, 2900.0, 1), (0.05, 2900.0, 0), (50.0, 2800.15, 0)],
)
def test_a_change_of_level_in_a_zone(half: float, high: float, broken: int) -> None:
    # the offset of `dry_line` goes from 1000 to 1300; at 1150 it is at 2854.6, at 1200 at 2804.8
    draft = dry_line(keep_out=[zone(half, high, "level_changes")])
    found = check_route(draft.scenario(), draft.route()).by_rule("keep_out")
    assert [(f.severity, f.element) for f in found] == [("breaks", "R/dip")] * broken


@pytest.mark.parametrize(
    ("low", "high", "broken"), [(2854.0, 2855.2, 1), (2854.55, 2854.7, 0), (2854.0, 2854.65, 1)]
)
def test_a_zone_no_higher_than_the_tolerance_holds_nothing(low: float, high: float, broken: int) -> None:
    # at 1150 the axis is at 3000 - 150 + 0.004 x 1150 = 2854.6
    given = {**zone(20.0, high, "level_changes"), "elevations": (low, high)}
    draft = dry_line(keep_out=[given])
    assert len(check_route(draft.scenario(), draft.route()).by_rule("keep_out")) == broken


@pytest.mark.parametrize(("alignment", "broken"), [(0.0, 1), (0.4, 1), (0.6, 0), (3.0, 0)])
def test_a_vertical_out_of_line_is_no_last_vertical(alignment: float, broken: int) -> None:
    # the drop of H2 leans by 0.5; only a vertical may pass the ceiling to its head
    draft = line(
        rules={"alignment": alignment},
        ceilings=[
            {"id": "C", "polygon": [(2900, 400), (3100, 400), (3100, 600), (2900, 600)], "elevation": 2700}
        ],
    )
    inlet = (3000.0, 500.5, 2600.0)
    draft.given["heads"][1]["at"] = draft.heads["H2"]["inlet"] = inlet
    draft.fittings["T2/red"]["at"] = draft.pieces["T2/drop"]["end"] = inlet
    found = check_route(draft.scenario(), draft.route()).by_rule("ceiling")
    assert [(f.severity, f.element) for f in found] == [("breaks", "T2/drop")] * broken
