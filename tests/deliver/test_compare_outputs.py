"""What a reviewer gets of a comparison and of a verdict: table, JSON, picture."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from functools import cache
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from rich.console import Console

from router.building.route import route_scenario
from router.check import check_route, rules_in_force
from router.compare import Comparison, compare
from router.deliver.compare_draw import FIRST, SECOND, compare_svg, write_compare_svg
from router.deliver.compare_json import write_comparison
from router.deliver.compare_tables import comparison_table
from router.deliver.files import OutputError
from router.deliver.verdict_json import verdict_text, write_verdict
from router.route.model import Route
from router.scenario import read_scenario

if TYPE_CHECKING:
    from router.check import Finding
    from router.scenario.model import Scenario

SVG = "{http://www.w3.org/2000/svg}"


@cache
def scenario() -> Scenario:
    return read_scenario(Path(__file__).parents[2] / "scenarios" / "minimal.json")


@cache
def solved(*styles: str) -> Route:
    rules = scenario().rules.model_copy(update={"styles": list(styles) or None})
    return route_scenario(scenario().model_copy(update={"rules": rules}))[0]


def pair() -> tuple[tuple[str, Route], tuple[str, Route]]:
    return ("by us", solved()), ("with <bends>", solved("return_bend", "raised_arm", "lowered_arm"))


def broken(route: Route) -> Route:
    record = route.model_dump()
    record["fittings"] = record["fittings"][1:]
    return Route.model_validate(record)


def printed(comparison: Comparison, width: int = 160) -> str:
    console = Console(width=width, record=True, file=StringIO(), color_system=None)
    console.print(comparison_table(comparison, scenario().system.standard))
    return console.export_text()


def test_the_table_says_what_is_better_and_every_head_that_differs() -> None:
    found = compare(scenario(), pair())
    text = printed(found)
    assert "better: by us" in text
    for row in found.heads:
        assert row.id in text
    for word in ("elbow 90°", "pipe, kg", "water in it, l", "arm hangers", "drains"):
        assert word in text
    assert found.caution.split(".")[0] in text
    assert f"{found.routes[1].fittings_counted - found.routes[0].fittings_counted:+d}" in text


def test_the_table_of_three_routes_has_a_line_for_each_pair() -> None:
    a, b = pair()
    text = printed(compare(scenario(), [a, b, ("broken", broken(a[1]))]), 200)
    for names in ("by us / with <bends>", "by us / broken", "with <bends> / broken"):
        assert names in text
    assert "breaks:" in text


def test_the_picture_shows_both_routes_and_marks_the_heads() -> None:
    a, b = pair()
    root = ET.fromstring(compare_svg(scenario(), a, b))
    groups = {g.get("data-route"): g for g in root.iter(f"{SVG}g") if g.get("class") == "route"}
    assert set(groups) == {a[0], b[0]}
    for (name, _), look in ((a, FIRST), (b, SECOND)):
        colours = {line.get("stroke") for line in groups[name].iter(f"{SVG}line")}
        assert colours == {look.colour}
    changed = {g.get("data-head") for g in root.iter(f"{SVG}g") if g.get("class") == "head changed"}
    assert changed == {row.id for row in compare(scenario(), [a, b]).heads if row.changed}
    texts = [t.text or "" for t in root.iter(f"{SVG}text")]
    assert "Legend" in texts
    assert any(t.startswith("first: by us") for t in texts)
    assert any(t.startswith("second: with <bends>") for t in texts)
    assert any(t.endswith(" m") for t in texts), "no scale bar"
    assert any(t.startswith("Better: by us") for t in texts)
    assert any(t.startswith("Caution") for t in texts)


def test_the_picture_of_one_route_twice_marks_nothing() -> None:
    a, _ = pair()
    root = ET.fromstring(compare_svg(scenario(), a, ("again", a[1])))
    assert [g for g in root.iter(f"{SVG}g") if g.get("class") == "head changed"] == []


def test_pictures_are_the_same_bytes_and_written_whole(tmp_path: Path) -> None:
    a, b = pair()
    target = tmp_path / "both.svg"
    write_compare_svg(scenario(), a, b, target)
    assert target.read_text(encoding="utf-8") == compare_svg(scenario(), a, b)
    assert [p.name for p in tmp_path.iterdir()] == ["both.svg"]


def test_a_comparison_is_written_as_json(tmp_path: Path) -> None:
    found = compare(scenario(), pair())
    write_comparison(found, tmp_path / "c.json")
    assert Comparison.model_validate(json.loads((tmp_path / "c.json").read_text())) == found
    with pytest.raises(OutputError, match="cannot be written"):
        write_comparison(found, tmp_path / "nowhere" / "c.json")


def test_a_verdict_is_written_with_all_that_a_finding_says(tmp_path: Path) -> None:
    verdict = check_route(scenario(), broken(solved()))
    write_verdict(verdict, tmp_path / "v.json", rules_in_force(scenario()))
    data = json.loads((tmp_path / "v.json").read_text())
    assert (data["clean"], data["exit_code"]) == (False, 1)
    wanted = {"rule", "severity", "element", "measured", "limit", "unit", "place", "text", "source", "grade"}
    assert all(wanted <= set(finding) for finding in data["findings"])
    assert sum(data["findings_by_severity"].values()) == len(data["findings"])
    assert sum(data["breaks_by_rule"].values()) == data["findings_by_severity"]["breaks"]
    assert {rule["id"] for rule in data["rules_in_force"]} >= set(data["breaks_by_rule"])


def test_near_misses_and_notes_do_not_make_an_exit_code() -> None:
    verdict = check_route(scenario(), solved())
    near = verdict.model_copy(
        update={"findings": [f.model_copy(update={"severity": "near"}) for f in _some_breaks()]}
    )
    assert (verdict.exit_code, near.exit_code) == (0, 0)
    assert near.number("near") == len(near.findings) > 0
    assert json.loads(verdict_text(near))["clean"] is True


def _some_breaks() -> list[Finding]:
    return list(check_route(scenario(), broken(solved())).breaks)
