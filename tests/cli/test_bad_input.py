"""Bad input and closed output places: one clear error, exit code 2, nothing written."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from typer.testing import Result

    Run = Callable[..., Result]


def refused(result: Result, *parts: object) -> None:
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    for part in parts:
        assert str(part) in result.output, result.output


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


COMMANDS: dict[str, tuple[str, ...]] = {
    "validate": ("validate", "{}"),
    "route": ("route", "{}", "-o", "out.json"),
    "check": ("check", "{}", "{}", "--json", "out.json"),
    "rules": ("rules", "{}"),
    "draw": ("draw", "{}", "{}", "-o", "out.svg"),
    "import": ("import", "csv", "{}", "-o", "out.json"),
}
INPUTS: dict[str, bytes | None] = {
    "missing.json": None,
    "empty.json": b"",
    "binary.json": b"\x80\x04\x95\xff",
    "cut.json": b'{"name": "a", "runs": [',
    "list.json": b"[1, 2]",
    "text.txt": b"just words",
}


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("name", [*INPUTS, "folder.json"])
def test_unusable_inputs(run: Run, here: Path, command: str, name: str) -> None:
    content = INPUTS.get(name)
    if name == "folder.json":
        (here / name).mkdir()
    elif content is not None:
        (here / name).write_bytes(content)
    before = sorted(here.iterdir())
    refused(run(*(part.replace("{}", name) for part in COMMANDS[command])), name)
    assert sorted(here.iterdir()) == before


OUTPUTS = [
    ("nowhere/out.json", "the folder nowhere does not exist"),
    ("folder.json", "is a folder"),
    ("out.txt", "ends in .txt; .json expected"),
    ("out", "has no ending; .json expected"),
    ("file/out.json", "is not a folder"),
    ("scenario.json", "would overwrite"),
    ("here/../scenario.json", "would overwrite"),
    ("x" * 300 + ".json", "cannot be written"),
    ("fifo.json", "is not a plain file"),
]


@pytest.mark.parametrize(("output", "says"), OUTPUTS, ids=[text for _, text in OUTPUTS])
@pytest.mark.parametrize("option", ["-o", "--times", "--json"])
def test_unusable_outputs(run: Run, here: Path, minimal: Path, option: str, output: str, says: str) -> None:
    (here / "scenario.json").write_bytes(minimal.read_bytes())
    (here / "here").mkdir()
    (here / "folder.json").mkdir()
    (here / "file").write_text("")
    os.mkfifo(here / "fifo.json")
    before = sorted(here.iterdir())
    more = () if option == "-o" else ("-o", "other.json")
    command = (
        ("check", "scenario.json", "scenario.json") if option == "--json" else ("route", "scenario.json")
    )
    result = run(*command, *(() if option == "--json" else more), option, output)
    refused(result, output, says)
    assert sorted(here.iterdir()) == before
    assert (here / "scenario.json").read_bytes() == minimal.read_bytes()


def test_times_and_route_in_one_file(run: Run, here: Path, minimal: Path) -> None:
    refused(run("route", minimal, "-o", "a.json", "--times", "a.json"), "a.json: would overwrite a.json")
    assert list(here.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_closed_folder(run: Run, here: Path, minimal: Path) -> None:
    (here / "closed").mkdir(mode=0o500)
    refused(run("route", minimal, "-o", "closed/a.json"), "may not be written to")


def test_a_full_disk_leaves_the_old_route(
    run: Run, here: Path, minimal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (here / "r.json").write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    refused(run("route", minimal, "-o", "r.json", "--quiet"), "r.json: cannot be written: No space left")
    assert [path.name for path in here.iterdir()] == ["r.json"]
    assert (here / "r.json").read_text() == "old"


@pytest.mark.parametrize("value", ["0", "-3", "nan", "inf"])
def test_time_limits_that_are_none(run: Run, here: Path, minimal: Path, value: str) -> None:
    refused(run("route", minimal, "-o", "r.json", "--time-limit", value), "--time-limit", f"{value} s")
    assert list(here.iterdir()) == []


def test_usage_errors_are_exit_code_2(run: Run, minimal: Path) -> None:
    refused(run("route", minimal), "--output")
    refused(run("route", minimal, "-o", "r.json", "--colour", "red"), "--colour")
    refused(run("schema", "house"), "house")
    refused(run("paint"), "paint")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            lambda d: d["pieces"][0].update(length="long"),
            'pieces[0].length: piece P0001: "long" mm: a number expected',
        ),
        (lambda d: d["pieces"][0].update(dn=25.5), "pieces[0].dn: piece P0001: 25.5: "),
        (lambda d: d["runs"][0].update(pitch=None), "runs[0].pitch: run B1: null mm/m: a number expected"),
        (lambda d: d["heads"][1].pop("served"), "heads[1].served: head H2: served is missing"),
        (lambda d: d["heads"][1].update(colour=3), "heads[1].colour: head H2: 3: unknown field"),
        (lambda d: d.update(version=9), "version: 9: a newer branch-router wrote this route file"),
        (lambda d: d.update(format="x"), 'format: "x": not a route file'),
        (lambda d: d["pieces"][0].update(start=[0, 0]), "pieces[0].start[2]: piece P0001: too few values"),
        (lambda d: d.update(pieces={}), "pieces: {}: a list expected"),
        (lambda d: d["counts"]["pipe_m"].update({"25": "much"}), 'counts.pipe_m.25: "much"'),
    ],
)
def test_a_faulty_route(
    run: Run, here: Path, minimal: Path, routed: Path, change: Callable[[Any], Any], says: str
) -> None:
    data = json.loads(routed.read_text(encoding="utf-8"))
    change(data)
    (here / "r.json").write_text(json.dumps(data, indent=1), encoding="utf-8")
    for command in (("check",), ("draw", "-o", "plan.svg")):
        refused(run(command[0], minimal, "r.json", *command[1:]), "r.json: 1 fault", "line ", says)
    assert [path.name for path in here.iterdir()] == ["r.json"]


def test_many_faults_of_a_route_are_counted(run: Run, here: Path, minimal: Path, routed: Path) -> None:
    data = json.loads(routed.read_text(encoding="utf-8"))
    data["fittings"] = [{}] * 30
    (here / "r.json").write_text(json.dumps(data), encoding="utf-8")
    result = run("check", minimal, "r.json")
    refused(result, "r.json: 240 faults", "and 220 more")
    assert len(result.output.splitlines()) == 22


def test_a_scenario_in_place_of_a_route_and_the_other_way(
    run: Run, here: Path, minimal: Path, routed: Path
) -> None:
    refused(run("check", minimal, minimal), "format", "not a route file", "branch-drop-router/route")
    refused(run("validate", routed), "format", "branch-drop-router/scenario")
