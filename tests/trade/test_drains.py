"""Auxiliary drains by trapped volume against NFPA 13 (paraphrased; grades beside each).

Dry, 5 gal and over, two 1 in. valves and a 2 x 12 in. condensate nipple: 2019
edition 16.10.5.3 (A). Dry under 5 gal, and wet under 5, to 50 and from 50 gal: from
memory (C). A gallon is 231 cubic inches, exactly.
"""

from __future__ import annotations

from typing import Any

import pytest

from router.trade.drains import drain_for
from router.trade.tables import Tables

GALLON = 231 * 2.54**3 / 1000  # litres, by its definition


def named(kind: str, gallons: float, **tables: Any) -> tuple[str, str]:
    found = drain_for(kind, gallons * GALLON, tables=Tables(**tables))
    return found.name, found.counts_as


SMALL = ("valve_and_plug", "drain")
LARGE = ("two_valves_and_condensate_nipple", "large_drain")


@pytest.mark.parametrize("kind", ["dry", "preaction"])
@pytest.mark.parametrize(
    ("gallons", "found"), [(0, SMALL), (4.99, SMALL), (5.001, LARGE), (49, LARGE), (500, LARGE)]
)
def test_dry_and_preaction(kind: str, gallons: float, found: tuple[str, str]) -> None:
    assert named(kind, gallons) == found


@pytest.mark.parametrize(
    ("gallons", "name"),
    [
        (0, "nipple_and_cap"),
        (4.99, "nipple_and_cap"),
        (5.001, "wet_valve_and_plug"),
        (49.99, "wet_valve_and_plug"),
        (50.01, "piped_valve"),
    ],
)
def test_wet(gallons: float, name: str) -> None:
    assert named("wet", gallons) == (name, "wet_drain")


def test_the_limit_itself_takes_the_larger_drain() -> None:
    # 5 gal = 18.92705892 l, 50 gal = 189.2705892 l
    tables = Tables()
    assert drain_for("dry", 18.92705892, tables=tables).counts_as == "large_drain"
    assert drain_for("dry", 18.927058, tables=tables).counts_as == "drain"
    assert drain_for("wet", 189.2705892, tables=tables).name == "piped_valve"
    assert drain_for("wet", 189.270589, tables=tables).name == "wet_valve_and_plug"


@pytest.mark.parametrize(
    ("kind", "gallons", "parts", "grade"),
    [
        ("dry", 1, (("valve", 15, 1), ("plug", 15, 1)), "C"),
        ("dry", 6, (("valve", 25, 2), ("condensate nipple 12 in. long", 50, 1)), "A"),
        ("wet", 1, (("nipple", 15, 1), ("cap", 15, 1)), "C"),
        ("wet", 6, (("valve", 20, 1), ("plug", 20, 1)), "C"),
        ("wet", 60, (("valve piped to a place that can be reached", 25, 1),), "C"),
    ],
)
def test_parts_and_grades(
    kind: str, gallons: float, parts: tuple[tuple[str, int, int], ...], grade: str
) -> None:
    found = drain_for(kind, gallons * GALLON, tables=Tables())
    assert found.parts == parts
    assert found.grade == grade
    assert ("from memory" in found.source) == (grade == "C")


def test_texts_by_standard() -> None:
    def text(standard: Any) -> str:
        return drain_for("dry", 20, tables=Tables(standard)).text

    assert text("inch") == "two 1 in. valves and a 2 in. condensate nipple 12 in. long"
    assert text("metric") == "two DN25 valves and a DN50 condensate nipple 305 mm long"


def test_limits_and_sizes_may_be_given() -> None:
    assert named("dry", 3, overrides={"drain_volume_dry": {"two valves": 2.5}}) == LARGE
    own = Tables(overrides={"drain_wet": {"valve": 25}, "drain_volume_wet": {"valve": 1}})
    found = drain_for("wet", 1.5 * GALLON, tables=own)
    assert found.parts[0] == ("valve", 25, 1)
    assert "given in the scenario: valve" in found.source


@pytest.mark.parametrize("litres", [-0.1, float("nan"), float("inf")])
def test_a_volume_that_cannot_be(litres: float) -> None:
    with pytest.raises(ValueError, match="is not 0 or more"):
        drain_for("dry", litres, tables=Tables())


def test_a_system_that_there_is_not() -> None:
    with pytest.raises(ValueError, match="system kind 'deluge' is not one of wet, dry, preaction"):
        drain_for("deluge", 1, tables=Tables())
