"""A weaker rule never makes a route dearer."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any

import pytest

from metamorphic.quick import CASES, base, case
from metamorphic.relaxations import CLAIMS, relaxed
from metamorphic.solved import keeping, solved, unlike, worse

if TYPE_CHECKING:
    from collections.abc import Iterator

COMPARED = {name: claim for name, (claim, _) in CLAIMS.items() if claim != "none"}
MOST = 4
"""So many scenarios for each rule, if so many have it."""
COST = {"price": 7.0, "minutes": 4.0}
ADDED: dict[str, dict[str, Any]] = {
    "hanger_spacing": {"rules": {"hanger_spacing": 3000.0}},
    "hanger_to_end": {"rules": {"hanger_to_end": 600.0}},
    "stock_lengths": {"rules": {"stock_lengths": [6000.0]}},
    "arm_unsupported": {"rules": {"arm_unsupported": 350.0}},
    "styles": {"rules": {"styles": ["side_arm", "return_bend", "straight_drop", "sprig"]}},
    "outlet_spacing": {"rules": {"outlet_spacing": 200.0}},
    "hose_bend_radius": {
        "rules": {"allow_flexible": True, "hose_lengths": [900.0], "hose_bend_radius": 200.0}
    },
    "hose_max_bends": {"rules": {"allow_flexible": True, "hose_lengths": [900.0], "hose_max_bends": 1}},
    "pins.heads.style": {"pins": {"heads": {"first": {"style": "return_bend"}}}},
    "pins.heads.styles": {"pins": {"heads": {"first": {"styles": ["raised_arm", "return_bend"]}}}},
    "pins.heads.run": {"pins": {"heads": {"first": {"run": "first"}}}},
    "pins.heads.side": {"pins": {"heads": {"first": {"side": "top"}}}},
    "pins.heads.stations": {"pins": {"heads": {"first": {"stations": [300.0, 900.0]}}}},
    "pins.runs.level": {"pins": {"runs": {"first": {"level": "elevation"}}}},
    "pins.runs.no_offset": {"pins": {"runs": {"first": {"no_offset": True}}}},
    "weights.reducer": {"weights": {"reducer": 40.0}},
    "weights.price": {"weights": {"price": 20.0}, "prices": {"pipe": {"25": COST}}},
    "weights.changed_head": {"weights": {"changed_head": 4000.0}},
    "weights.changed_run": {"weights": {"changed_run": 4000.0}},
    "weights.changed_offset": {"weights": {"changed_offset": 4000.0}},
}
"""For rules that few cases have: a stricter side. ``first``: first head or run; ``elevation``: the run's."""


def stricter(data: dict[str, Any], rule: str) -> dict[str, Any]:
    """Lay what :data:`ADDED` says over a scenario; its own pins give way."""
    first = {"heads": data["heads"][0]["id"], "runs": data["runs"][0]["id"]}
    out = dict(data)
    for key, more in ADDED[rule].items():
        if key != "pins":
            out[key] = {**data.get(key, {}), **more}
            continue
        pinned = {}
        for kind, pins in more.items():
            pin = {field: _own(data, value) for field, value in pins["first"].items()}
            pinned[kind] = {first[kind]: pin}
        out["pins"] = pinned
    if rule == "pins.heads.run":
        out["heads"] = [{k: v for k, v in head.items() if k != "run"} for head in data["heads"]]
    return out


def _own(data: dict[str, Any], value: Any) -> Any:
    run = data["runs"][0]
    return (
        {"first": run["id"], "elevation": run["elevation"]}.get(value, value)
        if isinstance(value, str)
        else value
    )


def weakened(rule: str) -> Iterator[tuple[int | str, dict[str, Any] | None, dict[str, Any]]]:
    """Give cases with the rule: name, stricter data if that is not the case as it stands, weaker data."""
    first = sum(map(ord, rule)) % len(CASES)  # not the same few for every rule
    for name in (*CASES[first:], *CASES[:first]):
        strict, changed = case(name), None
        if rule == "weights.price" and isinstance(name, str):
            continue  # prices of many arcs take their time
        if rule in ADDED:
            strict = changed = stricter(strict, rule)
        weak = relaxed(strict, rule, len(str(name)) + first)
        if weak is not None:
            yield name, changed, weak


@pytest.mark.parametrize("rule", COMPARED)
def test_a_weaker_rule_is_never_for_the_worse(rule: str) -> None:
    compared = 0
    for name, changed, data in weakened(rule):
        strict = base(name) if changed is None else solved(changed)
        if strict is None:
            continue  # what was added does not go with the rest
        weak = solved(data)
        assert weak is not None, f"{name}: the reader refuses it"
        found = unlike(strict, weak) if COMPARED[rule] == "same" else worse(strict, weak)
        if found and COMPARED[rule] == "kept":
            found = worse(strict, keeping(weak, strict))
        assert found == "", f"{name}: {found}"
        compared += 1
        if compared == MOST:
            break
    assert compared > 0, "no case has it"


def test_weaker_rules_make_a_difference() -> None:
    """Else nothing was tried: most of these make some route cheaper."""
    cheaper = set()
    for rule in (
        "band",
        "reach",
        "clearance",
        "slide",
        "rise",
        "outlet_spacing",
        "obstruction gone",
        "keep-out zone gone",
        "styles",
    ):
        for name, changed, data in islice(weakened(rule), 3):
            strict, weak = base(name) if changed is None else solved(changed), solved(data)
            if strict is not None and weak is not None and weak.value < strict.value - 1:
                cheaper.add(rule)
                break
    assert len(cheaper) > 3, sorted(cheaper)
