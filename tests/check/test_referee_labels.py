"""What records say of kinds, make-up and unserved heads is true too (each was once not looked at)."""

from __future__ import annotations

from typing import Any

import pytest
from build import Draft, dry_line, line, shared, tree
from test_referee_claims import hose

from router.check import check_route
from router.route.model import Route


def rules(draft: Draft, record: dict[str, Any] | None = None) -> set[str]:
    route = Route.model_validate(draft.record() if record is None else record)
    return {f.rule for f in check_route(draft.scenario(), route).breaks}


def test_an_offset_names_the_pipe_between_its_elbows() -> None:
    draft = dry_line()
    draft.runs["R"]["level_changes"][0]["pieces"] = ["R/2"]
    assert rules(draft) == {"counts"}


@pytest.mark.parametrize("make", [dry_line, hose])
def test_a_barrel_and_a_hose_are_not_cut(make: Any) -> None:
    draft = make()
    piece = next(p for p in draft.pieces.values() if p["kind"] in ("barrel", "hose"))
    piece["make_up"] += 5.0
    assert rules(draft) == {"make_up"}


@pytest.mark.parametrize(
    ("make", "piece", "kind"),
    [
        (line, "T3/drop", "nipple"),
        (line, "T3/drop", "sprig"),
        (line, "T3/drop", "arm"),
        (line, "T3/arm", "nipple"),
        (line, "T2/nipple", "drop"),
        (line, "T2/nipple", "arm"),
        (shared, "T/H2arm", "drop"),
        (tree, "TB/nipple", "sprig"),
    ],
)
def test_pipes_are_called_what_they_are(make: Any, piece: str, kind: str) -> None:
    draft = make()
    draft.pieces[piece]["kind"] = kind
    assert "style_shape" in rules(draft)


@pytest.mark.parametrize(("field", "value"), [("takeoff", "T2"), ("run", "R"), ("style", "side_arm")])
def test_nothing_serves_an_unserved_head(field: str, value: str) -> None:
    draft = line()
    draft.given["heads"].append({"id": "H4", "at": (4000, 0, 2600)})
    draft.heads["H4"] = {"id": "H4", "served": False, "inlet": (4000, 0, 2600)}
    assert rules(draft) == set()
    draft.heads["H4"][field] = value
    assert rules(draft) == {"served"}


def test_an_unserved_head_stands_where_it_should() -> None:
    draft = line()
    draft.given["heads"].append({"id": "H4", "at": (4000, 0, 2600)})
    draft.heads["H4"] = {"id": "H4", "served": False, "inlet": (4000, 0.2, 2600)}
    assert rules(draft) == {"served"}


def test_the_arm_level_of_a_hose_is_that_of_its_level_leg() -> None:
    draft = hose()
    draft.takeoffs["T1"]["arm_level"] = 2900.0
    assert rules(draft) == {"counts"}
