"""The exposed barrel of a dry head, just inside and just outside what its listing asks for.

What a listing asks for is invented here. Take-out of a 1-1/4 x 1 in. tee to its outlet: 1.67 in.,
ASME B16.3 class 150 (from memory, checked in part).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from build import IN, Draft, dry_line

from router.check import check_route, rules_in_force

if TYPE_CHECKING:
    from router.check import Finding

TEE_AT = 2700 + 0.004 * 2500
"""Level of the tee of H1 in `dry_line`, with its pitch; its barrel ends at 2300."""
BARREL = TEE_AT - 2300 - 1.67 * IN


def exposed(least: float, **scenario: Any) -> Draft:
    draft = dry_line(**scenario)
    draft.given["heads"][0]["exposed"] = least
    return draft


def found(draft: Draft) -> list[Finding]:
    return check_route(draft.scenario(), draft.route()).by_rule("exposed_barrel")


def ceiling(elevation: float, name: str = "C", x: float = 2500) -> dict[str, Any]:
    polygon = [(x - 100, -100), (x + 100, -100), (x + 100, 100), (x - 100, 100)]
    return {"id": name, "polygon": polygon, "elevation": elevation}


@pytest.mark.parametrize(("past", "severity"), [(0.0, "near"), (0.09, "near"), (0.2, "breaks")])
def test_to_the_end_of_the_barrel_without_a_ceiling(past: float, severity: str) -> None:
    (finding,) = found(exposed(BARREL + past))
    assert (finding.severity, finding.element) == (severity, "H1")
    assert finding.measured == pytest.approx(BARREL, abs=1e-6)
    assert finding.grade == "B"
    assert found(exposed(BARREL - 4)) == []


@pytest.mark.parametrize(("past", "severity"), [(0.0, "near"), (0.2, "breaks")])
def test_to_the_ceiling(past: float, severity: str) -> None:
    least = TEE_AT - 2450 - 1.67 * IN
    (finding,) = found(exposed(least + past, ceilings=[ceiling(2450)]))
    assert finding.severity == severity
    assert finding.measured == pytest.approx(least, abs=1e-6)
    assert "ceiling C" in finding.text


def test_the_lowest_ceiling_over_the_head_counts() -> None:
    least = TEE_AT - 2400 - 1.67 * IN
    both = [ceiling(2500, "high"), ceiling(2400, "low")]
    (finding,) = found(exposed(least + 0.2, ceilings=both))
    assert finding.measured == pytest.approx(least, abs=1e-6)
    assert "ceiling low" in finding.text


def test_a_ceiling_elsewhere_or_below_the_barrel_does_not_count() -> None:
    for other in (ceiling(2450, x=3500), ceiling(2200)):
        (finding,) = found(exposed(BARREL + 0.2, ceilings=[other]))
        assert finding.measured == pytest.approx(BARREL, abs=1e-6)


def test_heads_that_ask_for_nothing() -> None:
    assert found(dry_line()) == []
    rule = next(r for r in rules_in_force(dry_line().scenario()) if r.id == "exposed_barrel")
    assert rule.limit == "no head asks for it"


def test_in_force() -> None:
    draft = exposed(150)
    draft.given["heads"][1]["exposed"] = 300
    rule = next(r for r in rules_in_force(draft.scenario()) if r.id == "exposed_barrel")
    assert rule.limit == "2 heads, 150.0 to 300.0 mm"
    assert "given in the scenario" in rule.source


@pytest.mark.parametrize("below", [2300.0, 2200.0])
def test_a_ceiling_below_the_barrel_hides_none_that_cuts_it(below: float) -> None:
    # a canopy under the head, at its end or lower: the barrel still counts down to the ceiling that it cuts
    least = TEE_AT - 2450 - 1.67 * IN
    both = [ceiling(2450, "tiles"), ceiling(below, "canopy")]
    for past, severity in ((0.0, "near"), (0.2, "breaks")):
        (finding,) = found(exposed(least + past, ceilings=both))
        assert finding.severity == severity
        assert finding.measured == pytest.approx(least, abs=1e-6)
        assert "ceiling tiles" in finding.text


def test_a_ceiling_of_three_corners_counts() -> None:
    least = TEE_AT - 2450 - 1.67 * IN
    triangle = {**ceiling(2450), "polygon": [(2400, -100), (2700, 0), (2400, 100)]}
    (finding,) = found(exposed(least + 0.2, ceilings=[triangle]))
    assert finding.measured == pytest.approx(least, abs=1e-6)
