"""``route --keep`` and ``check --keep``: what is said, what is written, what is refused."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

import pytest

from router.deliver.route_json import read_route

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from typer.testing import Result

    Run = Callable[..., Result]


@pytest.fixture
def older(run: Run, minimal: Path, tmp_path: Path) -> Path:
    file = tmp_path / "old.json"
    assert run("route", minimal, "-o", file).exit_code == 0
    return file


@pytest.fixture
def moved(minimal: Path, tmp_path: Path) -> Path:
    """The minimal scenario with a duct across the arm of H2."""
    data: dict[str, Any] = json.loads(minimal.read_text(encoding="utf-8"))
    data["obstructions"].append(
        {"id": "duct D9", "polygon": [[4700, 150], [4900, 150], [4900, 300], [4700, 300]],
         "elevations": [2800, 3450]}
    )  # fmt: skip
    file = tmp_path / "moved.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    return file


def test_nothing_changed(run: Run, minimal: Path, older: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.json"
    result = run("route", minimal, "--keep", older, "-o", new)
    assert result.exit_code == 0
    assert "nothing changed" in result.output
    assert "3 of 3 heads" in result.output
    assert "keeping costs nothing" in result.output
    assert read_route(new).pieces == read_route(older).pieces
    assert "kept" not in json.loads(older.read_text(encoding="utf-8"))


@pytest.mark.parametrize("suffix", [".json", ".csv"])
def test_what_changed_is_said_and_written(
    run: Run, moved: Path, older: Path, tmp_path: Path, suffix: str
) -> None:
    new, list_of = tmp_path / "new.json", tmp_path / f"changes{suffix}"
    result = run("route", moved, "--keep", older, "-o", new, "--changes", list_of)
    assert result.exit_code == 0, result.output
    assert "2 of 3 heads" in result.output
    assert "duct D9" in result.output
    text = list_of.read_text(encoding="utf-8")
    if suffix == ".json":
        data = json.loads(text)
        assert data["format"] == "branch-drop-router/changes"
        assert [(c["id"], c["against"]) for c in data["changes"]] == [("H2", "duct D9")]
    else:
        (row,) = csv.DictReader(io.StringIO(text))
        assert (row["id"], row["against"]) == ("H2", "duct D9")
    judged = run("check", moved, new, "--keep", older)
    assert judged.exit_code == 0, judged.output
    alone = run("check", moved, new)
    assert alone.exit_code == 0
    assert "taken from the route's own list" in alone.output


def test_the_same_bytes_again(run: Run, moved: Path, older: Path, tmp_path: Path) -> None:
    files = [tmp_path / f"new{n}.json" for n in range(2)]
    for file in files:
        assert run("route", moved, "--keep", older, "-o", file, "--quiet").exit_code == 0
    assert files[0].read_bytes() == files[1].read_bytes()


def test_a_drawing_can_be_kept(run: Run, minimal: Path, older: Path, tmp_path: Path) -> None:
    drawn, new = tmp_path / "drawn.csv", tmp_path / "new.json"
    assert run("export", older, "-o", drawn).exit_code == 0
    result = run("route", minimal, "--keep", drawn, "-o", new)
    assert result.exit_code == 0
    assert "nothing changed" in result.output


def test_another_route_with_the_list_of_this_one_is_refused(
    run: Run, moved: Path, older: Path, tmp_path: Path
) -> None:
    new = tmp_path / "new.json"
    assert run("route", moved, "--keep", older, "-o", new, "--quiet").exit_code == 0
    data = json.loads(new.read_text(encoding="utf-8"))
    data["kept"]["changes"] = []
    new.write_text(json.dumps(data), encoding="utf-8")
    result = run("check", moved, new, "--keep", older)
    assert result.exit_code == 1
    assert "H2 is other than before" in result.output


def test_what_cannot_be_used(run: Run, minimal: Path, older: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.json"

    def refused(*args: object) -> str:
        result = run("route", minimal, "-o", new, *args)
        assert result.exit_code == 2
        assert not new.exists()
        return " ".join(result.output.split())

    assert "no-such.json" in refused("--keep", tmp_path / "no-such.json")
    assert "not a route file" in refused("--keep", minimal)
    assert "there are changes only with --keep OLD" in refused("--changes", tmp_path / "c.csv")
    assert "would overwrite" in refused("--keep", older, "--changes", older)
    assert ".csv" in refused("--keep", older, "--changes", tmp_path / "c.txt")
    before = older.read_bytes()
    result = run("route", minimal, "-o", older, "--keep", older)
    assert result.exit_code == 2
    assert "would overwrite" in result.output
    assert older.read_bytes() == before
    data = json.loads(older.read_text(encoding="utf-8"))
    for head in data["heads"]:
        head["id"] = "X" + head["id"]
    other = tmp_path / "other.json"
    other.write_text(json.dumps(data), encoding="utf-8")
    assert "none of its heads is in the scenario" in refused("--keep", other)
