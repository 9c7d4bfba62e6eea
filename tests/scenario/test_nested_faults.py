"""Faults deep inside lists and mappings name their own place, not that of what holds them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.scenario.model import Cost, HeadPin, JoiningUpTo, PriceTable, Rules, Scenario
from router.scenario.units import field_at

if TYPE_CHECKING:
    from collections.abc import Callable

    from pydantic import BaseModel

    from router.scenario import Fault

THREADED = {"up_to": 50, "joining": "threaded"}


@pytest.mark.parametrize(
    ("joining", "place", "message"),
    [
        ("glued", "system.joining", "'threaded', 'welded'"),
        (5, "system.joining", "'threaded', 'welded'"),
        ([], "system.joining", "at least 1"),
        ([{"up_to": 50, "joining": "glued"}], "system.joining[0].joining", "'threaded', 'welded'"),
        ([{"upto": 50, "joining": "welded"}], "system.joining[0].upto", "did you mean up_to?"),
        ({"up_to": 50, "joining": "welded"}, "system.joining", "or a list of up_to and joining"),
        (None, "system.joining", "or a list of up_to and joining"),
        ([THREADED, "welded"], "system.joining[1]", "an object with up_to and joining expected"),
        ([THREADED, 65], "system.joining[1]", "an object with up_to and joining expected"),
        ([THREADED, {"joining": "glued"}], "system.joining[1].joining", "'threaded', 'welded'"),
        ([THREADED, {"joining": ["welded"]}], "system.joining[1].joining", "'threaded', 'welded'"),
        ([THREADED, {}], "system.joining[1].joining", "joining is missing"),
        ([{"up_to": "5/9", "joining": "welded"}], "system.joining[0].up_to", "not a nominal pipe size"),
        ([{"up_to": True, "joining": "welded"}], "system.joining[0].up_to", "not a nominal pipe size"),
        ([THREADED, {"joining": "welded", "dn": 80}], "system.joining[1].dn", "known here: up_to, joining"),
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


@pytest.mark.parametrize("value", [["wet"], [], [["wet"]], [{"kind": "wet"}]])
@pytest.mark.parametrize(
    ("path", "place", "message"),
    [
        (("system", "kind"), "system.kind", "'wet', 'dry' or 'preaction' expected"),
        (("runs", 0, "joining"), "runs[0].joining", "'threaded', 'welded'"),
        (("heads", 1, "kind"), "heads[1].kind", "'pendent', 'upright' or 'sidewall' expected"),
        (("units",), "units", "'mm', 'm', 'in' or 'ft' expected"),
        (("runs", 1, "size"), "runs[1].size", "a nominal size"),
    ],
)
def test_a_list_where_one_word_is_wanted(
    small: dict[str, Any],
    faults_of: Callable[[Any], list[Fault]],
    path: tuple[str | int, ...],
    place: str,
    message: str,
    value: Any,
) -> None:
    small["system"] = {}
    here: Any = small
    for part in path[:-1]:
        here = here[part]
    here[path[-1]] = value
    faults = [fault for fault in faults_of(small) if fault.place == place]
    assert len(faults) == 1
    assert message in faults[0].message


def test_faults_of_several_ranges_at_once(
    small: dict[str, Any], faults_of: Callable[[Any], list[Fault]]
) -> None:
    small["system"] = {"joining": [{"up_to": 50, "joining": "glued"}, {"dn": 80, "joining": "welded"}]}
    places = [fault.place for fault in faults_of(small)]
    assert places == ["system.joining[0].joining", "system.joining[1].dn"]


COSTS = [
    # where in the price table, what is put there; place, part of the message
    (("fittings", "tee", "25"), {"prise": 1}, "prices.fittings.tee.25.prise", "did you mean price?"),
    (("fittings", "tee", "25"), {"cost": 1}, "prices.fittings.tee.25.cost", "known here: price, minutes"),
    (("fittings", "tee", "other"), {"x": 1}, "prices.fittings.tee.other.x", "known here: price, minutes"),
    (("pipe", "25"), {"each": 1}, "prices.pipe.25.each", "known here: price, minutes"),
    (("hanger",), {"each": 1}, "prices.hanger.each", "known here: price, minutes"),
    (("fittings", "tee", "25"), 3, "prices.fittings.tee.25", "an object with price and minutes expected"),
    (("pipe", "25"), 3, "prices.pipe.25", "an object with price and minutes expected"),
    (("fittings", "tee"), 3, "prices.fittings.tee", "an object expected"),
    (("fittings", "tee", "25"), {"price": "3"}, "prices.fittings.tee.25.price", "a number expected"),
    (("curency",), "EUR", "prices.curency", "did you mean currency?"),
]


@pytest.mark.parametrize(("path", "value", "place", "message"), COSTS, ids=[f"{c[2]}-{c[1]}" for c in COSTS])
def test_a_fault_in_a_price_table(
    small: dict[str, Any],
    faults_of: Callable[[Any], list[Fault]],
    path: tuple[str, ...],
    value: Any,
    place: str,
    message: str,
) -> None:
    for part in reversed(path):
        value = {part: value}
    small["prices"] = value
    (fault,) = faults_of(small)
    assert (fault.place, fault.item, fault.unit) == (place, "prices", "")
    assert message in fault.message


@pytest.mark.parametrize(
    ("path", "owner", "name"),
    [
        (("prices", "fittings", "tee", "25", "price"), Cost, "price"),
        (("prices", "pipe", "25", "minutes"), Cost, "minutes"),
        (("prices", "fittings", "tee", "25"), PriceTable, "fittings"),
        (("prices", "fittings"), PriceTable, "fittings"),
        (("pins", "heads", "style", "run"), HeadPin, "run"),  # a head may be called like a field
        (("system", "joining", 1, "up_to"), JoiningUpTo, "up_to"),
        (("rules", "tables", "a", "b"), Rules, "tables"),
    ],
)
def test_the_field_that_a_path_leads_to(
    path: tuple[str | int, ...], owner: type[BaseModel], name: str
) -> None:
    found = field_at(Scenario, path)
    assert found is not None
    assert found[:2] == (owner, name)
