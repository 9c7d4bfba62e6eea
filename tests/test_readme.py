"""The README tells the truth: its commands run as printed, its output is what they print."""

from __future__ import annotations

import os
import re
import shlex
import shutil
from pathlib import Path

import pytest
from shown_commands import start

from router.cli import app
from router.scenario import read_scenario

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SET_UP = ("python3 -m venv", ".venv/bin/pip install", ".venv/bin/python -m pytest", "make ")
"""Lines that set the project up or run these very tests; ``.ci/run`` takes the same way."""


def shell_lines() -> list[str]:
    """Every command that the README shows: in ``sh`` blocks and in blocks set in by four blanks."""
    lines: list[str] = []
    language: str | None = None
    for line in README.splitlines():
        if line.startswith("```"):
            language = None if language is not None else line[3:]
        elif language == "sh" or (language is None and line.startswith("    ")):
            lines.append(line.split("  #")[0].strip())
    return [line for line in lines if line]


COMMANDS = [line for line in shell_lines() if not line.startswith(SET_UP)]


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.S)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with the scenarios in it, where the commands may write."""
    place = tmp_path_factory.mktemp("readme")
    shutil.copytree(ROOT / "scenarios", place / "scenarios")
    return place


def test_every_command_runs_as_printed(folder: Path) -> None:
    for line in COMMANDS:
        done = start(line, folder, ROOT)
        assert done.returncode == 0, f"{line}\n{done.stdout}{done.stderr}"
    for name in ("route.json", "plan.svg", "scenario.schema.json", "route.schema.json", "workshop.json"):
        assert (folder / name).stat().st_size > 0


def test_every_command_is_shown() -> None:
    names = {
        command.name or command.callback.__name__ for command in app.registered_commands if command.callback
    }
    names |= {f"{group.name}" for group in app.registered_groups}
    shown = {shlex.split(line.replace(".venv/bin/", ""))[1] for line in COMMANDS}
    assert shown == names
    for name in names:
        assert re.search(rf"^\| `{name}[ `]", README, flags=re.M), f"{name} is not in the table"


def test_make_targets_exist() -> None:
    targets = set(re.findall(r"^(\w+):", (ROOT / "Makefile").read_text(encoding="utf-8"), flags=re.M))
    named = {line.split()[1] for line in shell_lines() if line.startswith("make ")}
    assert named
    assert named <= targets


def test_the_demos_answer_is_what_is_printed(folder: Path) -> None:
    """All but the time, which is not shown. With UPDATE_README=1 it is printed anew."""
    printed = start("branch-router route scenarios/loading_dock.json -o demo.json", folder, ROOT).stdout
    table = printed.split("\n\n")[0].splitlines()
    real = "".join(f"{line.rstrip()}\n" for line in table if not line.strip().startswith("time "))
    (shown,) = blocks("text")
    if os.environ.get("UPDATE_README"):
        (ROOT / "README.md").write_text(README.replace(shown, real), encoding="utf-8")
        return
    assert shown == real


def test_what_was_kept_is_what_is_printed(folder: Path) -> None:
    lines = [line for line in COMMANDS if "clinic" in line and " route " in f" {line} "]
    printed = [start(line, folder, ROOT).stdout for line in lines][-1]
    told = [line.rstrip() for line in printed[printed.index("kept:") :].splitlines()]
    last = next(n for n, line in enumerate(told) if line.startswith("keeping costs"))
    (shown,) = blocks("kept")
    assert shown.splitlines() == told[: last + 1]


def test_the_first_scenario_is_the_file(folder: Path) -> None:
    (shown,) = blocks("json")
    (folder / "shown.json").write_text(shown, encoding="utf-8")
    given, file = read_scenario(folder / "shown.json"), read_scenario(ROOT / "scenarios" / "minimal.json")
    assert given.model_copy(update={"story": file.story}) == file


def test_the_demo_target_says_where_things_are() -> None:
    """The same commands as ``make demo``, read from the Makefile; running it would set up an environment."""
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    recipe = text.split("demo: $(STAMP)\n")[1].split("\n\n")[0]
    for command in ("route", "check", "draw", "cutlist", "report"):
        assert f"$(BIN)/branch-router {command} scenarios/loading_dock.json" in recipe
    *_, route, picture, shop, report = recipe.splitlines()
    assert "build/demo/route.json" in route
    assert "build/demo/plan.svg" in picture
    assert "build/demo/shop/cutlist.xlsx" in shop
    assert "build/demo/report.html" in report
