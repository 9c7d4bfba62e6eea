"""No room for what a command writes: a limit of the largest file, and a file system that is really full."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

from router.deliver.folder import NOTE

from .conftest import left_behind
from .writers import CUTLIST, EVERY, FILES, FOLDERS, ROUTE, SHEETS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from .conftest import Commands

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="signals and limits of Linux")
TOO_LARGE = "cannot be written: File too large"
NO_ROOM = "cannot be written: No space left on device"
OLD = b"what stood here"


@contextmanager
def small_disk(folder: Path, *, kb: int = 64, room: int = 8192) -> Iterator[Path]:
    """Give a file system of so many KB, full but for so many bytes."""
    made = folder / "disk"
    made.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={kb}k", "tmpfs", str(made)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("a file system cannot be mounted here; test_no_file_can_grow is done instead")
    try:
        (made / "filling").write_bytes(b"x" * (kb * 1024 - room))
        yield made
    finally:
        subprocess.run(["umount", str(made)], check=True)


@pytest.mark.parametrize("name", FILES)
def test_no_file_can_grow(commands: Commands, minimal: Path, routed: Path, tmp_path: Path, name: str) -> None:
    writer = FILES[name]
    out = tmp_path / writer.output
    out.write_bytes(OLD)
    size = {"csv": 200, "import-ifc": 3000}.get(name, 512)
    done = commands.start(*writer.args(minimal, routed, tmp_path), faults=f"size={size}")
    assert done.code == 2, done.err
    if name == "import-ifc":
        assert "no room for temporary files, which reading needs: File too large" in done.err
    else:
        assert done.last == f"{out}: {TOO_LARGE}"
    assert out.read_bytes() == OLD
    assert [path.name for path in tmp_path.iterdir()] == [writer.output]


@pytest.mark.parametrize("name", FOLDERS)
@pytest.mark.parametrize("there", [True, False])
def test_no_file_of_a_folder_can_grow(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path, name: str, there: bool
) -> None:
    """The largest of them does not fit; it is not the first."""
    writer = FOLDERS[name]
    folder = tmp_path / writer.output
    if there:
        folder.mkdir()
        (folder / "cut_list.csv").write_bytes(OLD)
    size = {"cutlist": 2000, "sheets": 20_000, "alternatives": 2000}[name]
    done = commands.start(*writer.args(minimal, routed, tmp_path), faults=f"size={size}")
    assert done.code == 2, done.err
    assert done.last.startswith(f"{folder}{os.sep}"), "the file is named, not only the folder"
    assert done.last.endswith(TOO_LARGE)
    if there:
        assert [(path.name, path.read_bytes()) for path in folder.iterdir()] == [("cut_list.csv", OLD)]
    else:
        assert list(tmp_path.iterdir()) == []


def test_every_writer_on_a_full_disk(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    """Temporary files, if any, have to go there too."""
    with small_disk(tmp_path, room=0) as disk:
        for name, writer in EVERY.items():
            done = commands.start(*writer.args(minimal, routed, disk))
            assert done.code == 2, (name, done.err)
            assert done.last.startswith(str(disk / writer.output)), done.err
            assert done.last.endswith(NO_ROOM), done.err
            assert [path.name for path in disk.iterdir()] == ["filling"], name


def test_room_for_some_of_the_files_only(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    with small_disk(tmp_path, kb=160, room=60 * 1024) as disk:
        cuts, sheets = CUTLIST.args(minimal, routed, disk), SHEETS.args(minimal, routed, disk)
        assert commands.start(*cuts).code == 0
        before = {path.name: path.read_bytes() for path in (disk / "cuts").iterdir()}
        (disk / "more").write_bytes(b"x" * 8192)
        for args in (cuts, sheets):
            done = commands.start(*args)
            assert done.code == 2
            assert done.last.endswith(NO_ROOM)
            assert {path.name: path.read_bytes() for path in (disk / "cuts").iterdir()} == before
            assert left_behind(disk) == []
            assert not (disk / "sheets").exists()
        assert not (disk / "cuts" / NOTE).exists()
        for name in ("filling", "more"):
            (disk / name).unlink()
        assert commands.start(*cuts).code == 0, "once there is room again"


def test_a_second_output_without_room(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    """What was written before is named, so that nobody looks for it in vain."""
    args = [*ROUTE.args(minimal, routed, tmp_path), "--times", str(tmp_path / "t.json")]
    with small_disk(tmp_path, room=0) as disk:
        args[-1] = str(disk / "t.json")
        done = commands.start(*args)
    assert done.code == 2
    assert done.last == f"{disk / 't.json'}: {NO_ROOM}; written before that: {tmp_path / 'r.json'}"
    assert (tmp_path / "r.json").read_bytes() == routed.read_bytes()
