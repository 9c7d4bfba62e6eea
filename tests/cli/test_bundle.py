"""Where the program shows itself to be wrong nothing is handed out but a bundle to see it again."""

from __future__ import annotations

import json
import zipfile
from typing import TYPE_CHECKING, Any

import pytest

import router.building.solution
from router.check import check_route
from router.deliver import reproducer
from router.deliver.files import OutputError, save_bytes
from router.deliver.reproducer import bundle_place
from router.deliver.route_json import read_route
from router.model.doubt import DoubtError
from router.profiles.frame import MakeUp
from router.scenario import read_scenario

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from typer.testing import Result

    Run = Callable[..., Result]

OLD = b"what stood there before\n"


@pytest.fixture
def tight(tmp_path: Path) -> Path:
    """Two heads as near to each other as their tees allow: less is seen by the referee."""
    file = tmp_path / "tight.json"
    heads = [{"id": f"H{k}", "at": [1500 + 115 * k, 400 * (-1) ** k, 2600]} for k in range(2)]
    runs = [{"id": "B", "plan": [[0, 0], [3000, 0]], "elevation": 3000, "size": 32}]
    file.write_text(
        json.dumps({"name": "tight", "runs": runs, "heads": heads, "rules": {"slide": 0.0}}), encoding="utf-8"
    )
    return file


@pytest.fixture
def careless(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the search reckon with less room between fittings than they take."""
    half = MakeUp.half

    def less(self: MakeUp, *args: Any) -> float:
        return half(self, *args) - 10.0

    monkeypatch.setattr(MakeUp, "half", less)


def names(bundle: Path) -> set[str]:
    with zipfile.ZipFile(bundle) as archive:
        assert archive.testzip() is None
        return set(archive.namelist())


@pytest.mark.usefixtures("careless")
def test_a_route_that_the_referee_refuses_is_not_written_but_bundled(
    run: Run, tmp_path: Path, tight: Path
) -> None:
    output = tmp_path / "route.json"
    output.write_bytes(OLD)
    result = run("route", tight, "-o", output)
    bundle = bundle_place(output)
    assert result.exit_code == 3, result.output
    assert "outlet_spacing: " in result.output
    assert f"please report it with this bundle: {bundle}" in result.output
    assert output.read_bytes() == OLD
    assert sorted(p.name for p in tmp_path.iterdir()) == ["route.json", "route.refused.zip", "tight.json"]
    assert names(bundle) == {
        "about.txt", "scenario.json", "refused/route.json", "refused/route_findings.json", "given/1.json",
    }  # fmt: skip
    first = bundle.read_bytes()
    run("route", tight, "-o", output)
    assert bundle.read_bytes() == first


def test_a_bundle_shows_the_fault_again_and_its_end(run: Run, tmp_path: Path, tight: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        half = MakeUp.half
        patch.setattr(MakeUp, "half", lambda self, *args: half(self, *args) - 10.0)
        run("route", tight, "-o", tmp_path / "route.json")
    with zipfile.ZipFile(tmp_path / "route.refused.zip") as archive:
        archive.extractall(tmp_path / "bundle")
    scenario = read_scenario(tmp_path / "bundle" / "scenario.json")
    refused = read_route(tmp_path / "bundle" / "refused" / "route.json")
    assert "outlet_spacing" in {f.rule for f in check_route(scenario, refused).breaks}
    findings = json.loads((tmp_path / "bundle" / "refused" / "route_findings.json").read_text())
    assert findings["clean"] is False
    assert (tmp_path / "bundle" / "given" / "1.json").read_bytes() == tight.read_bytes()
    about = (tmp_path / "bundle" / "about.txt").read_text()
    assert "outlet_spacing: " in about
    # the search as it is finds something else for the same scenario: one head too many for the place
    again = run("route", tmp_path / "bundle" / "scenario.json", "-o", tmp_path / "again.json")
    assert again.exit_code == 1, again.output
    assert read_route(tmp_path / "again.json").counts.served == 1


@pytest.mark.usefixtures("careless")
def test_alternatives_that_the_referee_refuses_are_bundled(run: Run, tmp_path: Path, tight: Path) -> None:
    result = run("alternatives", tight, "-o", tmp_path / "front")
    assert result.exit_code == 3, result.output
    assert "please report it with this bundle: " in result.output
    assert not (tmp_path / "front").exists()
    assert any(name.startswith("refused/") for name in names(tmp_path / "front.refused.zip"))


def test_two_ways_that_disagree_are_bundled(
    run: Run, tmp_path: Path, tight: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def doubt(*args: Any, **kwargs: Any) -> Any:
        raise DoubtError("B: proven to cost 1 points, but with presolve flipped the model finds 2")

    monkeypatch.setattr(router.building.solution, "_solve_at_once", doubt)
    result = run("route", tight, "-o", tmp_path / "route.json")
    assert result.exit_code == 3, result.output
    assert "two ways to the same answer disagree; nothing was written" in result.output
    assert not (tmp_path / "route.json").exists()
    assert names(tmp_path / "route.refused.zip") == {"about.txt", "scenario.json", "given/1.json"}


def test_a_failure_is_bundled_with_where_it_was(
    run: Run, tmp_path: Path, tight: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: Any, **kwargs: Any) -> Any:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(router.building.solution, "_solve_at_once", fail)
    result = run("route", tight, "-o", tmp_path / "route.json", "--quiet")
    assert result.exit_code == 4, result.output
    assert "Traceback" not in result.output
    assert "ZeroDivisionError: division by zero (test_bundle.py line" in result.output
    with zipfile.ZipFile(tmp_path / "route.refused.zip") as archive:
        assert "Traceback" in archive.read("about.txt").decode()


@pytest.mark.usefixtures("careless")
def test_a_bundle_that_cannot_stand_beside_the_output_goes_to_the_temporary_folder(
    run: Run, tmp_path: Path, tight: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "elsewhere"))

    def closed(path: Path, content: bytes) -> None:
        if path.parent == tmp_path:
            raise OutputError(f"{path}: cannot be written: No space left on device")
        save_bytes(path, content)

    monkeypatch.setattr(reproducer, "save_bytes", closed)
    result = run("route", tight, "-o", tmp_path / "route.json")
    assert result.exit_code == 3
    (bundle,) = (tmp_path / "elsewhere").iterdir()
    assert f"this bundle: {bundle}" in result.output
    assert "refused/route.json" in names(bundle)


def test_a_doubt_in_another_command_ends_it_with_the_same_code(
    run: Run, routed: Path, minimal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def doubt(*args: Any, **kwargs: Any) -> Any:
        raise DoubtError("B: the solver finds that no choice fits, with presolve flipped one does")

    monkeypatch.setattr("router.explain.part.solve", doubt)
    result = run("explain", minimal, routed, "H1")
    assert result.exit_code == 3, result.output
    assert "two ways to the same answer disagree" in result.output
