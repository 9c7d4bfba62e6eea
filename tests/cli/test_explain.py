"""`branch-router explain`: one head, one run, all of a route."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from typer.testing import Result


def test_a_head(run: Callable[..., Result], minimal: Path, routed: Path, tmp_path: Path) -> None:
    file = tmp_path / "reasons.json"
    result = run("explain", minimal, routed, "H2", "--json", file, "--quiet")
    assert result.exit_code == 0, result.output
    assert "H2 is served by a side arm on B1" in result.output
    assert "lowered arm" in result.output
    reasons = json.loads(file.read_text(encoding="utf-8"))
    assert reasons["head"] == "H2"
    ways = {w["style"]: w for w in reasons["others"]}
    assert ways["lowered_arm"]["costs_more"] > 1000
    assert ways["level_cross"]["stopped_by"]["rule"] == "allow_cross"
    again = run("explain", minimal, routed, "H2", "--json", file, "--quiet")
    assert again.output == result.output
    assert json.loads(file.read_text(encoding="utf-8")) == reasons


def test_a_run(run: Callable[..., Result], minimal: Path, routed: Path) -> None:
    result = run("explain", minimal, routed, "B1", "--quiet")
    assert result.exit_code == 0, result.output
    assert "beam G1 needs level <= 3,058.3" in result.output


def test_all_of_a_route(run: Callable[..., Result], minimal: Path, routed: Path, tmp_path: Path) -> None:
    file = tmp_path / "all.json"
    result = run("explain", minimal, routed, "--json", file, "--quiet")
    assert result.exit_code == 0, result.output
    for name in ("H1", "H2", "H3", "B1"):
        assert name in result.output
    explained = json.loads(file.read_text(encoding="utf-8"))
    assert [h["head"] for h in explained["heads"]] == ["H1", "H2", "H3"]
    assert [r["run"] for r in explained["runs"]] == ["B1"]


def test_a_drawing(run: Callable[..., Result], minimal: Path, routed: Path, tmp_path: Path) -> None:
    """The best route, drawn as plain pipes, is explained alike."""
    drawing = tmp_path / "drawing.csv"
    assert run("export", routed, "-o", drawing).exit_code == 0
    result = run("explain", minimal, drawing, "H1", "--quiet")
    assert result.exit_code == 0, result.output
    assert "H1 is served by a straight drop on B1" in result.output
    assert "lowered arm" in result.output


def test_an_unserved_head(run: Callable[..., Result], minimal_data: dict[str, Any], tmp_path: Path) -> None:
    minimal_data["rules"] = {"styles": ["straight_drop"], "slide": 0}
    scenario, route = tmp_path / "s.json", tmp_path / "r.json"
    scenario.write_text(json.dumps(minimal_data), encoding="utf-8")
    assert run("route", scenario, "-o", route, "--quiet").exit_code == 1
    result = run("explain", scenario, route, "H2", "--quiet")
    assert result.exit_code == 0, result.output
    assert "H2 is not served" in result.output
    assert "these cannot all hold" in result.output
    assert "rules.styles: ['straight_drop', 'side_arm']" in result.output.replace("\n", " ")


def test_faults(run: Callable[..., Result], minimal: Path, routed: Path, tmp_path: Path) -> None:
    result = run("explain", minimal, routed, "H99")
    assert result.exit_code == 2
    assert "H99" in result.output
    assert "H1, H2, H3" in result.output
    result = run("explain", minimal, tmp_path / "none.json", "H1")
    assert result.exit_code == 2
    result = run("explain", minimal, routed, "H1", "--json", routed)
    assert result.exit_code == 2
    assert json.loads(routed.read_text(encoding="utf-8"))["format"] == "branch-drop-router/route"


def test_a_style_that_nobody_has(
    run: Callable[..., Result], minimal: Path, routed: Path, tmp_path: Path
) -> None:
    data = json.loads(routed.read_text(encoding="utf-8"))
    data["heads"][0]["style"] = "zigzag"
    strange = tmp_path / "strange.json"
    strange.write_text(json.dumps(data), encoding="utf-8")
    result = run("explain", minimal, strange)
    assert result.exit_code == 2
    assert "heads[0].style: head H1: zigzag: there is no such style" in result.output
