"""kill -9 between the temporary file and its name, and while a folder is replaced file by file."""

from __future__ import annotations

import os
import signal
import sys
import time
from typing import TYPE_CHECKING

import pytest

from router.deliver.folder import NOTE
from router.scenario.whole import PREFIX

from .conftest import left_behind
from .writers import CHECK, CUTLIST, FOLDERS, ROUTE

if TYPE_CHECKING:
    from pathlib import Path

    from .conftest import Commands

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="signals and limits of Linux")
PUT = "at=router.scenario.whole:Waiting.put"
OLD = b"what stood here"


def test_the_old_file_stays_and_the_next_run_sweeps(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    out = tmp_path / "r.json"
    out.write_bytes(OLD)
    args = ROUTE.args(minimal, routed, tmp_path)
    assert commands.start(*args, faults=f"{PUT} do=SIGKILL").code == -9
    assert out.read_bytes() == OLD
    assert len(left_behind(tmp_path)) == 1, "or the test killed it at another place"
    assert commands.start(*args).code == 0
    assert out.read_bytes() == routed.read_bytes()
    assert [path.name for path in tmp_path.iterdir()] == ["r.json"]


def test_what_a_living_process_writes_is_left_alone(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    """One stands still before its file has a name; another writes the same file; then the first goes on."""
    out = tmp_path / "r.json"
    args = ROUTE.args(minimal, routed, tmp_path)
    first = commands.start(*args, faults=f"{PUT} do=SIGSTOP")
    waiting = left_behind(tmp_path)
    assert len(waiting) == 1
    assert commands.start("check", minimal, routed, "--json", out).code == 0
    assert left_behind(tmp_path) == waiting
    assert out.read_bytes() != routed.read_bytes()
    os.kill(first.pid, signal.SIGCONT)
    assert commands.wait(first.pid).code == 0
    assert out.read_bytes() == routed.read_bytes(), "one whole result: the last one's"
    assert left_behind(tmp_path) == []


@pytest.mark.parametrize("name", FOLDERS)
def test_a_new_folder_is_there_as_a_whole_or_not(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path, name: str
) -> None:
    writer = FOLDERS[name]
    args, folder = writer.args(minimal, routed, tmp_path), tmp_path / writer.output
    assert commands.start(*args, faults="at=os:rename do=SIGKILL").code == -9
    assert not folder.exists()
    assert any(part.startswith(PREFIX) for part in left_behind(tmp_path))
    assert commands.start(*args).code in (0, 1)
    assert [path.name for path in tmp_path.iterdir()] == [writer.output]
    assert len(list(folder.iterdir())) > 1
    assert left_behind(tmp_path) == []
    assert folder.stat().st_mode & 0o777 == 0o755


def test_a_folder_of_two_runs_says_so(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    """Killed after some of the files; a person's own file is not touched, the same command mends it."""
    args, folder = CUTLIST.args(minimal, routed, tmp_path), tmp_path / "cuts"
    assert commands.start(*args).code == 0
    whole = {path.name: path.read_bytes() for path in folder.iterdir()}
    for name in whole:
        (folder / name).write_bytes(OLD)
    (folder / "mine.txt").write_bytes(OLD)
    # the first is the note
    assert commands.start(*args, faults=f"{PUT}:4 do=SIGKILL").code == -9
    changed = {name for name in whole if (folder / name).read_bytes() != OLD}
    assert len(changed) == 2
    assert all((folder / name).read_bytes() == whole[name] for name in changed)
    note = (folder / NOTE).read_text("utf-8")
    assert "do not use them together" in note
    assert all(f"  {name}\n" in note for name in whole)
    # who writes another thing there takes nothing back and mends nothing
    assert commands.start(*CHECK.args(minimal, routed, folder)).code == 0
    assert (folder / NOTE).read_text("utf-8") == note
    assert commands.start(*args).code == 0
    assert {name: (folder / name).read_bytes() for name in whole} == whole
    assert not (folder / NOTE).exists()
    assert (folder / "mine.txt").read_bytes() == OLD
    assert left_behind(tmp_path) == []


def test_two_runs_at_once_leave_the_files_of_one(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    """The first stands still amid its files; the second waits for it, and then replaces all of them."""
    other, theirs, folder = minimal.parent / "loading_dock.json", tmp_path / "their.json", tmp_path / "cuts"
    assert commands.start("route", other, "-o", theirs, "--quiet").code in (0, 1)
    assert commands.start(*CUTLIST.named("alone").args(other, theirs, tmp_path)).code == 0
    folder.mkdir()
    first = commands.start(*CUTLIST.args(minimal, routed, tmp_path), faults=f"{PUT}:4 do=SIGSTOP")
    second = commands.start(
        *CUTLIST.args(other, theirs, tmp_path), faults="at=router.deliver.folder:_take do=SIGSTOP"
    )
    os.kill(second.pid, signal.SIGCONT)
    time.sleep(1)  # it would be through by now if it did not wait
    assert len([path for path in folder.iterdir() if not path.name.startswith(".")]) == 3, (
        "note and two files"
    )
    os.kill(first.pid, signal.SIGCONT)
    assert commands.wait(first.pid).code == 0
    assert commands.wait(second.pid).code == 0
    found = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert found == {path.name: path.read_bytes() for path in (tmp_path / "alone").iterdir()}
