"""Which styles each system allows each head. Sources: see each case."""

from __future__ import annotations

from typing import Any

import pytest

from router.scenario.model import Head, Rules, System
from router.trade.styles import EXEMPTIONS, RULES, STYLES, allowed_styles

PENDENT = {"straight_drop", "side_arm", "return_bend", "raised_arm", "lowered_arm", "shared_nipple"}
UPRIGHT = {"sprig", "side_arm", "raised_arm", "lowered_arm", "shared_nipple"}
TOP = {"return_bend", "raised_arm", "shared_nipple"}
EVERYTHING: dict[str, Any] = {"allow_cross": True, "allow_flexible": True}


def allowed(system: dict[str, Any], head: dict[str, Any], **rules: Any) -> set[str]:
    found = allowed_styles(
        System(**system), Head.model_validate({"id": "H1", "at": (0, 0, 0), **head}), Rules(**rules)
    )
    assert tuple(found) == STYLES
    for reason in found.values():
        by_exemption = reason.text.split(":")[0] in {each.id for each in EXEMPTIONS}
        assert reason.allowed == (by_exemption or reason.text == "no rule refuses it")
        if not reason.allowed or by_exemption:
            assert reason.source
            assert reason.grade in "ABCD"
    return {style for style, reason in found.items() if reason.allowed}


CASES = [
    # common practice, no source: what feeds which head
    ({}, {"kind": "pendent"}, PENDENT),
    ({}, {"kind": "upright"}, UPRIGHT),
    ({}, {"kind": "sidewall"}, {"sidewall"}),
    # NFPA 13 (2016) 8.15.19: pendents on raw water stand on return bends off the top of the line
    ({"water": "raw"}, {"kind": "pendent"}, TOP),
    ({"water": "raw"}, {"kind": "upright"}, UPRIGHT),
    # ... except dry pendents and wet systems with K 11.2 or larger (from memory)
    ({"water": "raw"}, {"kind": "pendent", "dry": True}, PENDENT),
    ({"water": "raw"}, {"kind": "pendent", "k_factor": 11.1}, TOP),
    ({"water": "raw"}, {"kind": "pendent", "k_factor": 11.2}, PENDENT),
    ({"water": "raw", "kind": "dry"}, {"kind": "pendent", "k_factor": 11.2}, TOP),
    # NFPA 13 (2013) 7.3.2.5 (preaction; the same for dry from memory)
    ({"kind": "dry"}, {"kind": "pendent"}, TOP),
    ({"kind": "preaction"}, {"kind": "pendent"}, TOP),
    ({"kind": "dry", "heated": False}, {"kind": "pendent"}, set()),
    ({"kind": "dry", "heated": False}, {"kind": "pendent", "dry": True}, PENDENT),
    ({"kind": "dry"}, {"kind": "sidewall"}, {"sidewall"}),
    ({"kind": "dry", "heated": False}, {"kind": "sidewall"}, set()),
    ({"kind": "dry", "heated": False}, {"kind": "sidewall", "dry": True}, {"sidewall"}),
    # an arm below the line to an upright would hold water (common practice, no source)
    ({"kind": "dry", "heated": False}, {"kind": "upright"}, UPRIGHT - {"lowered_arm"}),
]


@pytest.mark.parametrize(("system", "head", "styles"), CASES)
def test_allowed_styles(system: dict[str, Any], head: dict[str, Any], styles: set[str]) -> None:
    assert allowed(system, head) == styles


def test_crosses_hoses_and_shared_nipples_are_the_scenarios_choice() -> None:
    pendent = {"kind": "pendent"}
    assert allowed({}, pendent, **EVERYTHING) == PENDENT | {"level_cross", "flexible_drop"}
    assert allowed({}, {"kind": "upright"}, **EVERYTHING) == UPRIGHT | {"level_cross", "flexible_drop"}
    assert allowed({}, {"kind": "sidewall"}, **EVERYTHING) == {"sidewall", "flexible_drop"}
    assert allowed({}, pendent, allow_shared_nipple=False) == PENDENT - {"shared_nipple"}


def test_hoses_stay_off_dry_heads_and_dry_systems() -> None:
    assert "flexible_drop" not in allowed({}, {"dry": True}, **EVERYTHING)
    assert "flexible_drop" not in allowed({"kind": "dry"}, {"kind": "upright"}, **EVERYTHING)
    assert "flexible_drop" not in allowed({"water": "raw"}, {}, **EVERYTHING)


def test_styles_only_narrow() -> None:
    assert allowed({}, {}, styles=["side_arm", "sprig"]) == {"side_arm"}
    assert allowed({}, {}, styles=[]) == set()


def test_the_reason_is_the_rule() -> None:
    found = allowed_styles(System(water="raw"), Head(id="H1", at=(0, 0, 0)), Rules())
    reason = found["side_arm"]
    assert reason.text.startswith("raw_water_top_of_line: ")
    assert "8.15.19" in reason.source
    assert reason.grade == "A"
    assert found["sprig"].text.startswith("style_for_head: ")


def test_an_exception_carries_its_own_source() -> None:
    # NFPA 13 (2016) 8.15.19.3 to .5: that there are three exceptions is published, which ones is from
    # memory but for deluge
    raw = System(water="raw")
    for head, name in (
        (Head(id="H1", at=(0, 0, 0), dry=True), "dry_pendent_on_raw_water"),
        (Head(id="H1", at=(0, 0, 0), k_factor=11.2), "large_k_on_raw_water"),
    ):
        found = allowed_styles(raw, head, Rules())
        reason = found["side_arm"]
        assert (reason.allowed, reason.text.split(":")[0], reason.grade) == (True, name, "C")
        assert "from memory" in reason.source
        assert found["return_bend"].text == "no rule refuses it"
    clean = allowed_styles(System(), Head(id="H1", at=(0, 0, 0), k_factor=11.2), Rules())
    assert clean["side_arm"].text == "no rule refuses it"


@pytest.mark.parametrize(("kind", "grade"), [("preaction", "A"), ("dry", "C")])
def test_the_list_for_preaction_is_surer_than_that_for_dry_pipe(kind: Any, grade: str) -> None:
    # NFPA 13 (2013) 7.3.2.5 was seen; 7.2.2 for dry pipe is from memory, in substance the same
    for heated in (True, False):
        reason = allowed_styles(System(kind=kind, heated=heated), Head(id="H1", at=(0, 0, 0)), Rules())[
            "side_arm"
        ]
        assert not reason.allowed
        assert reason.grade == grade
        assert ("7.3.2.5" if kind == "preaction" else "from memory") in reason.source


def test_unknown_style_is_named() -> None:
    with pytest.raises(ValueError, match=r"rules\.styles: no style 'side_drop'; styles: straight_drop"):
        allowed_styles(System(), Head(id="H1", at=(0, 0, 0)), Rules(styles=["side_drop"]))


def test_every_rule_refuses_something() -> None:
    systems = [
        System(kind=kind, water=water, heated=heated)
        for kind in ("wet", "dry", "preaction")
        for water in ("clean", "raw")
        for heated in (True, False)
    ]
    heads = [
        Head(id="H1", at=(0, 0, 0), kind=kind, dry=dry)
        for kind in ("pendent", "upright", "sidewall")
        for dry in (True, False)
    ]
    rules = [Rules(styles=["sprig"]), Rules(allow_flexible=True), Rules(allow_shared_nipple=False)]
    said = {
        reason.text.split(":")[0]
        for system in systems
        for head in heads
        for rule in rules
        for reason in allowed_styles(system, head, rule).values()
        if not reason.allowed
    }
    assert said == {rule.id for rule in RULES}
