"""The transforms reach every field, and undo what they do."""

from __future__ import annotations

import copy
from math import hypot
from typing import TYPE_CHECKING, Any, get_args, get_origin

import pytest

from metamorphic.fields import ANGLE, HEAD, KINDS, LENGTHS, OTHER_ID, RUN, SIDE, inner, kind_of, records
from metamorphic.made_mixed import mixed
from metamorphic.relaxations import CLAIMS, OTHERS, RULES
from metamorphic.transforms import backwards, mirrored, renamed, reordered, shifted, turned
from router.scenario.model import Length, Rules, Scenario

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

EVERY = [(record, name, info) for record in records() for name, info in record.model_fields.items()]
LISTED = {
    (record, name) for kind in KINDS.values() for record, names in kind.items() for name in names.split()
}


def is_marked(info: FieldInfo) -> bool:
    """Whether a field bears the length marker, here or within a union."""
    marks = [*info.metadata]
    rest = [info.annotation]
    while rest:
        part = rest.pop()
        marks += getattr(part, "__metadata__", ())
        rest += get_args(part)
    return any(isinstance(mark, Length) or mark is Length for mark in marks)


@pytest.mark.parametrize(
    ("record", "name", "info"), EVERY, ids=lambda v: getattr(v, "__name__", None) or str(v)[:24]
)
def test_every_field_is_classified(record: type, name: str, info: FieldInfo) -> None:
    kind = kind_of(record.__name__, name)
    within, _ = inner(info)
    if within is not None and kind is None:
        return  # its own fields are looked at
    assert kind is not None, f"{record.__name__}.{name}: say in tests/metamorphic/fields.py what it is"
    # a length that is not marked would not be converted, another number that is would be
    assert (kind in LENGTHS) == is_marked(info), f"{record.__name__}.{name} is {kind}"


def test_nothing_is_classified_that_is_not_there() -> None:
    assert {(record.__name__, name) for record, name, _ in EVERY} >= LISTED


def test_every_number_that_is_no_length_is_named_as_such() -> None:
    """Floats in any shape: each is a length, an angle, or stands among the plain ones."""

    def holds(annotation: Any) -> bool:
        return annotation is float or any(holds(part) for part in get_args(annotation))

    for record, name, info in EVERY:
        if holds(info.annotation) and get_origin(info.annotation) is not dict:
            assert kind_of(record.__name__, name), f"{record.__name__}.{name}"


def test_every_rule_says_how_it_is_made_weaker_or_why_not() -> None:
    assert set(RULES) <= set(Rules.model_fields)
    assert set(Rules.model_fields) | set(OTHERS) == set(CLAIMS)
    assert {name for name, claim in CLAIMS.items() if claim[0] != "none"} == set(RULES) | set(OTHERS)


SEEDS = [seed for seed in range(30) if mixed(seed) is not None]


def numbers(data: Any) -> list[float]:
    if isinstance(data, dict):
        return [v for value in data.values() for v in numbers(value)]
    if isinstance(data, list):
        return [v for value in data for v in numbers(value)]
    return [data] if isinstance(data, float | int) else []


@pytest.mark.parametrize("seed", SEEDS[:8])
def test_transforms_are_undone_and_leave_their_input(seed: int) -> None:
    data = mixed(seed)
    assert data is not None
    before = copy.deepcopy(data)
    assert numbers(turned(turned(data, 90), 270)) == pytest.approx(numbers(data))
    assert numbers(turned(turned(data, 17.3), 360 - 17.3)) == pytest.approx(numbers(data), abs=1e-6)
    assert numbers(shifted(shifted(data, 3.5, -7, 11), -3.5, 7, -11)) == pytest.approx(numbers(data))
    assert numbers(mirrored(mirrored(data, "x"), "x")) == pytest.approx(numbers(data))
    twice = renamed(renamed(data, lambda name: f"a {name}"), lambda name: name[2:])
    assert twice == data
    half_turn = mirrored(mirrored(data, "x"), "y")
    assert numbers(half_turn) == pytest.approx(numbers(turned(data, 180)))
    reordered(data, seed)
    assert data == before


def test_what_moves_and_what_does_not() -> None:
    """By hand, on one of each."""
    data = {
        "name": "one of each",
        "runs": [
            {"id": "A", "plan": [[0.0, 0.0], [1000.0, 0.0]], "elevation": 3000.0, "band": [2900.0, 3100.0]}
        ],
        "heads": [
            {"id": "H", "at": [500.0, 200.0, 2700.0], "kind": "sidewall", "facing": 90.0, "shift": 40.0}
        ],
        "ceilings": [{"id": "C", "polygon": [[0.0, 0.0], [9.0, 0.0], [9.0, 9.0]], "elevation": 2800.0}],
        "pins": {
            "heads": {"H": {"side": "left", "stations": [1.0, 2.0]}},
            "runs": {"A": {"levels": [{"stations": [3.0, 4.0], "level": 3000.0}], "no_offset": True}},
        },
    }
    quarter = turned(data, 90)
    assert quarter["runs"][0]["plan"] == [[0, 0], [0, 1000]]
    assert quarter["heads"][0]["at"] == [-200, 500, 2700]
    assert quarter["heads"][0]["facing"] == 180
    assert quarter["pins"] == data["pins"]
    up = shifted(data, 1.0, 2.0, 4.0)
    assert up["runs"][0]["plan"] == [[1, 2], [1001, 2]]
    assert (up["runs"][0]["elevation"], up["runs"][0]["band"]) == (3004, [2904, 3104])
    assert (up["heads"][0]["at"], up["heads"][0]["shift"]) == ([501, 202, 2704], 40)
    assert up["ceilings"][0] == {"id": "C", "polygon": [[1, 2], [10, 2], [10, 11]], "elevation": 2804}
    assert up["pins"]["runs"]["A"]["levels"] == [{"stations": [3, 4], "level": 3004}]
    flipped = mirrored(data, "y")
    assert (flipped["heads"][0]["at"], flipped["heads"][0]["facing"]) == ([500, -200, 2700], 270)
    assert flipped["pins"]["heads"]["H"]["side"] == "right"
    assert mirrored(data, "x")["heads"][0]["facing"] == 90
    name = backwards(data)
    other = renamed(data, name)
    assert sorted(data_ids(other)) == [name(old) for old in sorted(data_ids(data), reverse=True)]
    assert set(other["pins"]["heads"]) == {name("H")}
    assert set(other["pins"]["runs"]) == {name("A")}


def data_ids(data: dict[str, Any]) -> list[str]:
    return [item["id"] for key in ("runs", "heads", "ceilings") for item in data[key]]


def test_turning_keeps_lengths() -> None:
    data = mixed(SEEDS[0])
    assert data is not None
    for old, new in zip(data["runs"], turned(data, 33.3)["runs"], strict=True):
        (x0, y0), (x1, y1) = old["plan"][:2]
        (u0, v0), (u1, v1) = new["plan"][:2]
        assert hypot(u1 - u0, v1 - v0) == pytest.approx(hypot(x1 - x0, y1 - y0))


def test_kinds_that_the_transforms_treat() -> None:
    """What is neither a length nor one of these stays as it is under every transform."""
    assert set(KINDS) == {*LENGTHS, ANGLE, SIDE, RUN, HEAD, OTHER_ID, "plain"}
    assert Scenario in records()
