"""Drawings on the command line: export, infer, check, draw and compare take them as they take routes."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from router.cli import app

if TYPE_CHECKING:
    from pathlib import Path

SCENARIO = "scenarios/minimal.json"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with route.json and drawing.csv of the minimal scenario."""
    folder = tmp_path_factory.mktemp("drawings")
    run = CliRunner()
    assert run.invoke(app, ["route", SCENARIO, "-o", str(folder / "route.json"), "--quiet"]).exit_code == 0
    export = ["export", str(folder / "route.json"), "-o", str(folder / "drawing.csv")]
    assert run.invoke(app, export).exit_code == 0
    return folder


def test_a_drawing_is_judged_and_drawn_like_a_route(made: Path) -> None:
    run = CliRunner()
    checked = run.invoke(app, ["check", SCENARIO, str(made / "drawing.csv")])
    assert checked.exit_code == 0, checked.output
    assert "no rule broken" in checked.output
    drawn = run.invoke(app, ["draw", SCENARIO, str(made / "drawing.csv"), "-o", str(made / "plan.svg")])
    assert drawn.exit_code == 0
    assert (made / "plan.svg").read_text().startswith("<")


def test_infer_writes_the_same_counts(made: Path) -> None:
    done = CliRunner().invoke(
        app, ["infer", SCENARIO, str(made / "drawing.csv"), "-o", str(made / "drawn.json")]
    )
    assert done.exit_code == 0, done.output
    ours, drawn = (json.loads((made / n).read_text()) for n in ("route.json", "drawn.json"))
    assert drawn["counts"]["fittings"] == ours["counts"]["fittings"]
    assert drawn["status"] == "feasible"
    assert drawn["objective"]["bound"] == 0


def test_compare_says_that_equal_routes_are_equal(made: Path) -> None:
    done = CliRunner().invoke(
        app,
        [
            "compare", SCENARIO, str(made / "route.json"), str(made / "drawing.csv"),
            "--json", str(made / "both.json"), "--picture", str(made / "both.svg"),
        ],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "better: none is called so" in done.output
    found = json.loads((made / "both.json").read_text())
    assert [r["name"] for r in found["routes"]] == ["route", "drawing"]
    assert found["routes"][0]["fittings"] == found["routes"][1]["fittings"]
    assert (made / "both.svg").exists()


def test_compare_exits_1_and_prefers_no_broken_route(made: Path) -> None:
    rows = (made / "drawing.csv").read_text().splitlines()
    # an arm: the drop beyond it then hangs on nothing
    cells = [row.split(",") for row in rows]
    drop = next(i for i, c in enumerate(cells) if "head_arm" in c and c[2] == c[5])
    (made / "broken.csv").write_text("\n".join(rows[:drop] + rows[drop + 1 :]) + "\n")
    done = CliRunner().invoke(app, ["compare", SCENARIO, str(made / "broken.csv"), str(made / "route.json")])
    assert done.exit_code == 1
    assert "better: route" in done.output


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x1,y1,z1,x2,y2,z2,size\n0,0,0,1000,zero,0,25\n", ["y2", "zero"]),
        ("x1,y1,z1,x2,y2\n0,0,0,1,1\n", ["z2"]),
    ],
)
def test_a_faulty_drawing_is_one_clear_error(made: Path, text: str, words: list[str]) -> None:
    bad = made / "bad.csv"
    bad.write_text(text)
    done = CliRunner().invoke(app, ["infer", SCENARIO, str(bad), "-o", str(made / "never.json")])
    assert done.exit_code == 2
    assert all(word in done.output for word in words), done.output
    assert not (made / "never.json").exists()


def test_one_route_is_not_enough_to_compare(made: Path) -> None:
    done = CliRunner().invoke(app, ["compare", SCENARIO, str(made / "route.json")])
    assert done.exit_code == 2
    assert "two routes" in done.output
