"""Pitch, hangers, hose and pipe schedules against NFPA 13 (paraphrased, 2016 unless said)."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from router.scenario.model import System
from router.trade.tables import Tables

# NFPA 13 (2016) Table 23.7.2.2.1, light hazard, steel
LIGHT = {25: 2, 32: 3, 40: 5, 50: 10, 65: 30, 80: 60, 90: 100}
# NFPA 13 (2016) 23.7.3, ordinary hazard, steel (5 and 6 in. from memory)
ORDINARY = {25: 2, 32: 3, 40: 5, 50: 10, 65: 20, 80: 40, 90: 65, 100: 100, 125: 160, 150: 275}


@pytest.mark.parametrize(("hazard", "printed"), [("light", LIGHT), ("ordinary", ORDINARY)])
def test_schedules(hazard: str, printed: dict[int, int]) -> None:
    tables = Tables()
    assert tables.schedule(hazard) == printed
    sizes = list(printed)
    for dn, larger in pairwise(sizes):
        assert tables.size_for_heads(printed[dn], hazard) == dn
        assert tables.size_for_heads(printed[dn] + 1, hazard) == larger


def test_beyond_the_schedule() -> None:
    tables = Tables()
    assert tables.size_for_heads(101, "light") == 100  # NFPA 13: 4 in. is limited by area
    with pytest.raises(ValueError, match="276 heads are more than the ordinary hazard"):
        tables.size_for_heads(276, "ordinary")
    with pytest.raises(ValueError, match="hazard 'extra' is not one of light, ordinary"):
        tables.schedule("extra")


def test_metric_schedule_skips_the_size_that_is_not_made() -> None:
    tables = Tables("metric")
    assert 90 not in tables.schedule("ordinary")
    assert tables.size_for_heads(41, "ordinary") == 100


def test_pitch() -> None:
    tables = Tables()
    dry, wet = System(kind="dry"), System()
    # NFPA 13: 1/2 in. per 10 ft for branch lines, printed as 4 mm/m; 1/4 in. for mains, 2 mm/m
    for inches, kinds in ((0.5, ["branch"]), (0.25, ["cross_main", "main"])):
        for kind in kinds:
            assert tables.pitch(kind, dry) == pytest.approx(inches * 1000 / 120, rel=0.05)
    assert tables.pitch("branch", System(kind="preaction")) == tables.pitch("branch", dry)
    assert tables.pitch("branch", wet) == 0  # NFPA 13 (2016) 8.16.2.2
    # refrigerated: 1/2 in. per 10 ft for both (from memory)
    assert tables.pitch("main", System(kind="dry", refrigerated=True)) == 4
    with pytest.raises(ValueError, match="run kind 'riser'"):
        tables.pitch("riser", wet)


@pytest.mark.parametrize(
    ("kind", "refrigerated", "run", "inches_per_10_ft", "printed"),
    [
        # NFPA 13 (2016) 8.16.2.2: a wet system may be level
        ("wet", False, "branch", 0, 0),
        ("wet", False, "main", 0, 0),
        # NFPA 13: dry and preaction, branch lines 1/2 in. per 10 ft (4 mm/m), mains 1/4 in. (2 mm/m)
        ("dry", False, "branch", 1 / 2, 4),
        ("dry", False, "cross_main", 1 / 4, 2),
        ("dry", False, "main", 1 / 4, 2),
        ("preaction", False, "branch", 1 / 2, 4),
        ("preaction", False, "main", 1 / 4, 2),
        # refrigerated space: 1/2 in. per 10 ft for both (from memory)
        ("dry", True, "branch", 1 / 2, 4),
        ("dry", True, "main", 1 / 2, 4),
        ("preaction", True, "cross_main", 1 / 2, 4),
    ],
)
def test_pitch_limits(
    kind: Any, refrigerated: bool, run: str, inches_per_10_ft: float, printed: float
) -> None:
    found = Tables().pitch(run, System(kind=kind, refrigerated=refrigerated))
    assert found == printed
    # the printed metric values are rounded down from the inches, by 4 %
    assert found == pytest.approx(inches_per_10_ft / 120 * 1000, rel=0.05)


def test_the_systems_own_pitch_goes_first() -> None:
    system = System(kind="dry", pitch_branch=6.0, pitch_main=0.0)
    assert Tables().pitch("branch", system) == 6
    assert Tables().pitch("main", system) == 0
    assert Tables().pitch("cross_main", system) == 0


def test_hangers() -> None:
    # NFPA 13: 24 in. (600 mm) of unsupported arm-over
    assert Tables().arm_unsupported() == pytest.approx(24 * 25.4)
    assert Tables("metric").arm_unsupported() == 600
    # to a pendent below a ceiling over 100 psi (6.9 bar): 12 in., printed as 300 mm
    assert Tables().arm_unsupported(over_100_psi=True) == pytest.approx(12 * 25.4)
    assert Tables("metric").arm_unsupported(over_100_psi=True) == 300
    # last hanger to end head 36, 48, 60 in.; spacing 12 ft, 15 ft (the step from memory)
    assert [Tables().hanger_to_end(dn) / 25.4 for dn in (25, 32, 40)] == pytest.approx([36, 48, 60])
    assert [Tables().hanger_spacing(dn) / 304.8 for dn in (25, 40)] == pytest.approx([12, 15])
    with pytest.raises(ValueError, match="hanger_spacing has no row DN15"):
        Tables().hanger_spacing(15)


def test_hose() -> None:
    # one listed hose: 3 bends for 2 to 3 ft, 4 bends for 4 to 6 ft
    tables = Tables()
    assert tables.hose_max_bends(36 * 25.4) == 3
    assert tables.hose_max_bends(48 * 25.4) == 4
    assert tables.hose_lengths() == sorted(tables.hose_lengths())
    assert tables.hose_bend_radius() == pytest.approx(7 * 25.4)
    assert tables.source("hose_bend_radius")[1] == "D"
