"""Faults deep inside lists and mappings name their own place, not that of what holds them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.scenario import Fault


@pytest.mark.parametrize(
    ("joining", "place", "message"),
    [
        ("glued", "system.joining", "'threaded', 'welded'"),
        (5, "system.joining", "'threaded', 'welded'"),
        ([], "system.joining", "at least 1"),
        ([{"up_to": 50, "joining": "glued"}], "system.joining[0].joining", "'threaded', 'welded'"),
        ([{"upto": 50, "joining": "welded"}], "system.joining[0].upto", "did you mean up_to?"),
    ],
)
def test_joining_by_size(
    small: dict[str, Any],
    faults_of: Callable[[Any], list[Fault]],
    joining: Any,
    place: str,
    message: str,
) -> None:
    small["system"] = {"joining": joining}
    (fault,) = faults_of(small)
    assert (fault.place, fault.item) == (place, "system")
    assert message in fault.message


def test_an_unknown_field_of_a_price(small: dict[str, Any], faults_of: Callable[[Any], list[Fault]]) -> None:
    small["prices"] = {"fittings": {"tee": {"25": {"prise": 1}}}}
    (fault,) = faults_of(small)
    assert (fault.place, fault.item) == ("prices.fittings.tee.25.prise", "prices")
    assert "did you mean price?" in fault.message
