"""``alternatives`` on the command line: a folder of routes, list and picture, all or none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest

import router.alternatives.find
from router.check import Finding, Verdict, check_route

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Callable

    from typer.testing import Result

    from router.route.model import Route
    from router.scenario.model import Scenario

    Run = Callable[..., Result]
    Spawn = Callable[..., subprocess.CompletedProcess[str]]

ROOT = Path(__file__).parents[2]
CORRIDOR = ROOT / "scenarios" / "plant_corridor.json"
README_POINTS = [(60, 0), (58, 1), (56, 3), (55, 5), (54, 7)]


def listed(folder: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads((folder / "alternatives.json").read_text(encoding="utf-8"))
    return data


def of_route(folder: Path, name: str) -> dict[str, float]:
    route = json.loads((folder / name).read_text(encoding="utf-8"))
    return {term["name"]: term["amount"] for term in route["objective"]["terms"]}


@pytest.fixture(scope="module")
def corridor(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Give the folder of the corridor's front, and what was printed; not to be changed."""
    from typer.testing import CliRunner

    from router.cli import app

    folder = tmp_path_factory.mktemp("front") / "choices"
    done = CliRunner(env={"COLUMNS": "200"}).invoke(app, ["alternatives", str(CORRIDOR), "-o", str(folder)])
    assert done.exit_code == 0, done.output
    return folder, done.output


def test_the_readmes_points(corridor: tuple[Path, str]) -> None:
    folder, printed = corridor
    data = listed(folder)
    assert data["proven"] is True
    assert data["scenario"] == "Plant corridor"
    assert [(p["first"], p["second"]) for p in data["points"]] == README_POINTS
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "60 fittings and no\nlevel change, 58 and 1, 56 and 3, 55 and 5, or 54 and 7" in readme
    assert "5 points, none of which beats another" in printed
    assert "not an approval" in printed


def test_routes_are_what_the_list_says(corridor: tuple[Path, str], run: Run) -> None:
    folder, _ = corridor
    data = listed(folder)
    names = sorted(path.name for path in folder.iterdir())
    routes = [p["route"] for p in data["points"]]
    assert names == sorted(["alternatives.json", "front.svg", *routes])
    for point in data["points"]:
        amounts = of_route(folder, point["route"])
        assert amounts == point["amounts"]
        assert (amounts["fitting"], amounts["level_change"]) == (point["first"], point["second"])
        assert run("check", CORRIDOR, folder / point["route"]).exit_code == 0


def test_routes_are_dearer_than_the_best_by_what_they_say(corridor: tuple[Path, str]) -> None:
    folder, _ = corridor
    data = listed(folder)
    for point in data["points"]:
        route = json.loads((folder / point["route"]).read_text(encoding="utf-8"))
        best = point["chosen_by_own_weights"]
        assert route["status"] == ("optimal" if best else "feasible")
        assert route["objective"]["bound"] == pytest.approx(data["own"]["value"], abs=0.05)
    assert [p["chosen_by_own_weights"] for p in data["points"]].count(True) == 1


def test_the_picture_shows_every_point(corridor: tuple[Path, str]) -> None:
    folder, _ = corridor
    root = ElementTree.fromstring((folder / "front.svg").read_text(encoding="utf-8"))
    titles = [e.text or "" for e in root.iter() if e.tag.endswith("title")]
    for first, second in README_POINTS:
        assert any(f"{first} fittings, {second} level changes" in title for title in titles)


def test_a_handful_has_both_ends(run: Run, tmp_path: Path) -> None:
    done = run("alternatives", CORRIDOR, "-o", tmp_path / "few", "--most", 3, "--quiet")
    assert done.exit_code == 0, done.output
    points = listed(tmp_path / "few")["points"]
    assert [p["route"] for p in points if p["route"]] == ["route_1.json", "route_2.json", "route_3.json"]
    assert points[0]["route"]
    assert points[-1]["route"]
    assert len(points) == len(README_POINTS)


def test_what_other_terms_decide_stands_beside_the_front(run: Run, tmp_path: Path) -> None:
    """With fittings for nothing the scenario's choice has more of them than it must."""
    data = json.loads((ROOT / "scenarios" / "clinic_corridor.json").read_text(encoding="utf-8"))
    data["weights"] = {"fitting": 0, "level_change": 0}
    file = tmp_path / "free.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    done = run("alternatives", file, "-o", tmp_path / "out")
    assert done.exit_code == 0, done.output
    found = listed(tmp_path / "out")
    own = found["own"]
    assert all(own["first"] >= p["first"] and own["second"] >= p["second"] for p in found["points"])
    assert own["route"] == "route_own.json"
    assert own["chosen_by_own_weights"]
    assert not any(p["chosen_by_own_weights"] for p in found["points"])
    assert "for other terms' sake" in done.output
    assert of_route(tmp_path / "out", "route_own.json") == own["amounts"]


def test_a_sweep_tells_equal_routes(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "tried"
    args = ("--weights", "level_change=100,1000,3000", "--weights", "reducer=0,1")
    done = run("alternatives", CORRIDOR, "-o", folder, *args)
    assert done.exit_code == 0, done.output
    data = listed(folder)
    assert data["kind"] == "sweep"
    assert [row["weights"] for row in data["sweep"]] == [
        {"level_change": float(a), "reducer": float(b)} for a in (100, 1000, 3000) for b in (0, 1)
    ]
    assert [row["point"] for row in data["sweep"]] == [0, 0, 1, 1, 2, 2]
    assert "6 combinations of weights, 3 different routes" in done.output
    assert done.output.count("the same") >= 3
    for point in data["points"]:
        assert of_route(folder, point["route"]) == point["amounts"]


def test_a_sweep_finds_what_route_finds(run: Run, tmp_path: Path) -> None:
    run("alternatives", CORRIDOR, "-o", tmp_path / "s", "--quiet", "--weights", "level_change=1000,3000")
    for n, weight in enumerate((1000, 3000)):
        data = json.loads(CORRIDOR.read_text(encoding="utf-8")) | {"weights": {"level_change": weight}}
        (tmp_path / "w.json").write_text(json.dumps(data), encoding="utf-8")
        assert run("route", tmp_path / "w.json", "-o", tmp_path / "r.json", "--quiet").exit_code == 0
        assert of_route(tmp_path, "r.json") == listed(tmp_path / "s")["points"][n]["amounts"]


@pytest.mark.parametrize("args", [(), ("--weights", "fitting=300,1000")], ids=["front", "sweep"])
def test_the_same_bytes_in_any_process(spawn: Spawn, tmp_path: Path, args: tuple[str, ...]) -> None:
    folders = [tmp_path / seed for seed in ("1", "31337")]
    for folder in folders:
        done = spawn("alternatives", CORRIDOR, "-o", folder, "--quiet", *args, PYTHONHASHSEED=folder.name)
        assert done.returncode == 0, done.stderr
    first, second = ({p.name: p.read_bytes() for p in folder.iterdir()} for folder in folders)
    assert first == second


NINE = ",".join(map(str, range(9)))
BAD = {
    "an unknown term": (("--of", "fittings,elbows"), "--of fittings,elbows: 'elbows' is no term to trade"),
    "one term": (("--of", "fittings"), "two terms are needed, 1 is given"),
    "three terms": (("--of", "fittings,pipe,drains"), "two terms are needed, 3 are given"),
    "a term twice": (("--of", "pipe,pipe"), "'pipe' is given twice"),
    "an unknown weight": (("--weights", "elbow=3"), "'elbow' is no weight"),
    "no value": (("--weights", "fitting"), "NAME=VALUE"),
    "a negative weight": (("--weights", "level_change=100,-5"), "-5 points"),
    "not a number": (("--weights", "pipe=1,long"), "'long' is no number; a number of points per m expected"),
    "no price for heads": (("--weights", "unserved=0"), "unserved: 0 points; a number above 0, up to"),
    "not finite": (("--weights", "fitting=nan"), "nan points"),
    "an empty value": (("--weights", "fitting=1,,2"), "'' is no number"),
    "a weight twice": (("--weights", "fitting=1", "--weights", "fitting=2"), "fitting is given twice"),
    "a value twice": (("--weights", "fitting=1,1.0"), "1 points is given twice"),
    "too many": (
        ("--weights", f"fitting={NINE}", "--weights", f"pipe={NINE}"),
        "81 combinations; 64 at most",
    ),
    "a weight without a say": (("--weights", "price=1,2"), "no price table"),
    "no routes": (("--most", "0"), "0 routes"),
    "too many routes": (("--most", "51"), "51 routes"),
    "most of a sweep": (("--most", "3", "--weights", "fitting=500,1000"), "3 routes"),
    "no time": (("--time-limit", "0"), "0 s"),
    "time that never ends": (("--time-limit", "inf"), "inf s"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_bad_input(run: Run, minimal: Path, tmp_path: Path, case: str) -> None:
    args, message = BAD[case]
    done = run("alternatives", minimal, "-o", tmp_path / "out", *args)
    assert done.exit_code == 2, done.output
    assert message in done.output
    assert "Traceback" not in done.output
    assert not (tmp_path / "out").exists()


def test_a_weight_that_prices_push_aside(run: Run, minimal_data: dict[str, Any], tmp_path: Path) -> None:
    minimal_data["prices"] = {"as_objective": True, "currency": "EUR", "pipe": {"1": {"price": 9.0}}}
    (tmp_path / "s.json").write_text(json.dumps(minimal_data), encoding="utf-8")
    done = run("alternatives", tmp_path / "s.json", "-o", tmp_path / "out", "--weights", "fitting=1,2")
    assert done.exit_code == 2
    assert "price table is its objective" in done.output, done.output


def test_places_that_cannot_be_written_to(run: Run, minimal: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("kept", encoding="utf-8")
    done = run("alternatives", minimal, "-o", tmp_path / "file")
    assert done.exit_code == 2
    assert "is a file; a folder expected" in done.output
    assert (tmp_path / "file").read_text(encoding="utf-8") == "kept"
    done = run("alternatives", minimal, "-o", tmp_path / "no" / "where")
    assert done.exit_code == 2
    assert "does not exist" in done.output
    (tmp_path / "route_2.json").mkdir()
    done = run("alternatives", minimal, "-o", tmp_path)
    assert done.exit_code == 2
    assert "is not a plain file" in done.output
    assert not (tmp_path / "alternatives.json").exists()


def test_the_scenario_is_not_overwritten(run: Run, minimal_data: dict[str, Any], tmp_path: Path) -> None:
    file = tmp_path / "route_1.json"
    file.write_text(json.dumps(minimal_data), encoding="utf-8")
    done = run("alternatives", file, "-o", tmp_path)
    assert done.exit_code == 2
    assert "would overwrite" in done.output
    assert json.loads(file.read_text(encoding="utf-8")) == minimal_data


def test_a_head_that_no_route_serves(run: Run, minimal_data: dict[str, Any], tmp_path: Path) -> None:
    minimal_data["heads"].append({"id": "H4", "at": [4000, 9000, 2700]})
    (tmp_path / "s.json").write_text(json.dumps(minimal_data), encoding="utf-8")
    done = run("alternatives", tmp_path / "s.json", "-o", tmp_path / "out")
    assert done.exit_code == 1, done.output
    assert "1 of 4 heads not served" in done.output
    assert {p["served"] for p in listed(tmp_path / "out")["points"]} == {3}


def test_nothing_is_written_where_the_referee_refuses(
    run: Run, minimal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def strict(scenario: Scenario, route: Route) -> Verdict:
        verdict = check_route(scenario, route)
        text = "too near, made for a test"
        broken = Finding(rule="spacing", severity="breaks", element="P1", text=text, source="", grade="D")
        return verdict.model_copy(update={"findings": [*verdict.findings, broken]})

    monkeypatch.setattr(router.alternatives.find, "check_route", strict)
    done = run("alternatives", minimal, "-o", tmp_path / "out")
    assert done.exit_code == 3, done.output
    assert "too near, made for a test" in done.output
    assert "route_1.json" in done.output
    assert not (tmp_path / "out").exists()


def test_a_limit_that_leaves_no_time_at_all(run: Run, tmp_path: Path) -> None:
    done = run("alternatives", CORRIDOR, "-o", tmp_path / "out", "--time-limit", "0.000001")
    assert done.exit_code == 1, done.output
    assert "the time limit of 1e-06 s was up before anything was known; nothing was written" in done.output
    assert not (tmp_path / "out").exists()


def test_routes_of_an_earlier_run_do_not_stay_beside_the_new_ones(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    assert run("alternatives", CORRIDOR, "-o", folder, "--quiet").exit_code == 0
    other = folder / "route_99.json"
    other.write_text("mine", encoding="utf-8")
    assert run("alternatives", CORRIDOR, "-o", folder, "--most", "1", "--quiet").exit_code == 0
    named = {p["route"] for p in listed(folder)["points"]} | {listed(folder)["own"]["route"]}
    found = {p.name for p in folder.glob("route_*.json")}
    assert found == {name for name in named if name} | {"route_99.json"}
    assert other.read_text(encoding="utf-8") == "mine"
