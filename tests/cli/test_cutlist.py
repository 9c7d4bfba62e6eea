"""``cutlist`` on the command line: a folder of tables, all or none."""

from __future__ import annotations

import csv
import json
import os
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest

from router.deliver.cutlist import FILES

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Callable
    from pathlib import Path

    from typer.testing import Result

    Run = Callable[..., Result]


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_all_tables_are_written(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    done = run("cutlist", minimal, routed, "-o", folder)
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES)
    data = json.loads(routed.read_text(encoding="utf-8"))
    cuts = rows(folder / "cut_list.csv")
    assert [(cut["tag"], float(cut["exact mm"])) for cut in cuts] == [
        (piece["id"], round(piece["make_up"], 1)) for piece in data["pieces"]
    ]
    barred = " ".join(bar["tags"] for bar in rows(folder / "stock_list.csv")).split()
    assert sorted(barred) == sorted(cut["tag"] for cut in cuts)
    assert sum(int(line["quantity"]) for line in rows(folder / "fittings.csv")) == len(data["fittings"])
    assert len(rows(folder / "hangers.csv")) == len(data.get("hangers", []))
    book = openpyxl.load_workbook(folder / "cutlist.xlsx")
    assert [f"{name}.csv" for name in book.sheetnames] == list(FILES[:-1])
    assert "bars" in done.output
    assert "First-pass coordination aid" in done.output


def test_a_drawing_does_as_well(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    assert run("export", routed, "-o", tmp_path / "d.csv").exit_code == 0
    assert run("cutlist", minimal, tmp_path / "d.csv", "-o", tmp_path / "drawn").exit_code == 0
    assert run("cutlist", minimal, routed, "-o", tmp_path / "routed").exit_code == 0
    for name in ("pieces_grouped.csv", "fittings.csv"):
        drawn, ours = rows(tmp_path / "drawn" / name), rows(tmp_path / "routed" / name)
        for row in (*drawn, *ours):
            row.pop("tags")
        assert drawn == ours


def test_the_same_bytes_in_every_process(
    spawn: Callable[..., subprocess.CompletedProcess[str]], minimal: Path, routed: Path, tmp_path: Path
) -> None:
    for seed in ("1", "2"):
        done = spawn("cutlist", minimal, routed, "-o", tmp_path / seed, PYTHONHASHSEED=seed)
        assert done.returncode == 0, done.stderr
    for name in FILES:
        assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes(), name


def test_a_route_that_breaks_a_rule_is_said(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    data: dict[str, Any] = json.loads(routed.read_text(encoding="utf-8"))
    data["pieces"][0]["make_up"] += 30.0
    (tmp_path / "r.json").write_text(json.dumps(data), encoding="utf-8")
    done = run("cutlist", minimal, tmp_path / "r.json", "-o", tmp_path / "shop")
    assert done.exit_code == 0
    assert "break" in done.output
    assert "before anything is cut" in done.output
    assert any(data["pieces"][0]["id"] in row["note"] for row in rows(tmp_path / "shop" / "notes.csv"))


def test_the_readme_shows_real_rows(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    readme = (minimal.parents[1] / "README.md").read_text(encoding="utf-8")
    shown = readme.split("```csv\n")[1].split("```")[0].splitlines()
    assert run("cutlist", minimal, routed, "-o", tmp_path / "shop").exit_code == 0
    written = [
        line
        for name in ("pieces_grouped.csv", "stock_list.csv")
        for line in (tmp_path / "shop" / name).read_text(encoding="utf-8").splitlines()
    ]
    assert len(shown) > 3
    assert [line for line in shown if line and line not in written] == []


def refused(done: Result, *parts: object) -> None:
    assert done.exit_code == 2, done.output
    assert "Traceback" not in done.output
    for part in parts:
        assert str(part) in done.output, done.output


def test_places_that_cannot_be_written(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "taken" / "totals.csv").mkdir(parents=True)
    refused(run("cutlist", minimal, routed, "-o", tmp_path / "file"), "is a file; a folder expected")
    refused(run("cutlist", minimal, routed, "-o", tmp_path / "no" / "shop"), "does not exist")
    refused(run("cutlist", minimal, routed, "-o", tmp_path / "file" / "shop"), "is not a folder")
    refused(run("cutlist", minimal, routed, "-o", tmp_path / "taken"), "totals.csv: is not a plain file")
    assert [path.name for path in (tmp_path / "taken").iterdir()] == ["totals.csv"]


def test_inputs_are_not_overwritten(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    assert run("export", routed, "-o", tmp_path / "cut_list.csv").exit_code == 0
    before = (tmp_path / "cut_list.csv").read_bytes()
    refused(run("cutlist", minimal, tmp_path / "cut_list.csv", "-o", tmp_path), "would overwrite")
    assert (tmp_path / "cut_list.csv").read_bytes() == before


def test_bad_inputs_write_nothing(run: Run, minimal: Path, routed: Path, tmp_path: Path) -> None:
    (tmp_path / "bad.json").write_text("{")
    refused(run("cutlist", minimal, tmp_path / "bad.json", "-o", tmp_path / "shop"), "bad.json")
    refused(run("cutlist", tmp_path / "bad.json", routed, "-o", tmp_path / "shop"), "bad.json")
    data = json.loads(minimal.read_text(encoding="utf-8"))
    for rule, value, says in (("stock_lengths", [0], "0 mm"), ("saw_cut", -2, "-2 mm")):
        (tmp_path / "s.json").write_text(json.dumps({**data, "rules": {rule: value}}), encoding="utf-8")
        refused(run("cutlist", tmp_path / "s.json", routed, "-o", tmp_path / "shop"), rule, says)
    assert not (tmp_path / "shop").exists()


@pytest.mark.parametrize("at", range(1, 9, 2))
def test_a_full_disk_leaves_the_old_tables(
    run: Run, minimal: Path, routed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    """The disk fills up at the n-th file: nothing of the new list stays, all of the old one does."""
    folder = tmp_path / "shop"
    folder.mkdir()
    for name in FILES[::2]:
        (folder / name).write_text(f"old {name}")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    real, calls = os.replace, 0

    def failing(*args: Any) -> None:
        nonlocal calls
        calls += 1
        if calls == at:
            raise OSError(28, "No space left on device")
        real(*args)

    monkeypatch.setattr(os, "replace", failing)
    refused(run("cutlist", minimal, routed, "-o", folder), "cannot be written: No space left")
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    calls = 0
    refused(run("cutlist", minimal, routed, "-o", tmp_path / "new"), "cannot be written: No space left")
    assert not (tmp_path / "new").exists()
