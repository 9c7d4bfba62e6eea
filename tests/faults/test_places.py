"""Where an output goes: links, read-only places, long names, permissions."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from .conftest import NOBODY, left_behind
from .writers import CUTLIST, ROUTE, SHEETS

if TYPE_CHECKING:
    from pathlib import Path

    from .conftest import Commands

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="signals and limits of Linux")
OLD = b"what stood here"
AS_NOBODY = NOBODY if os.geteuid() == 0 else None
"""Nothing is read-only to root: as root, the command is run as somebody else."""


def own(*paths: Path) -> None:
    """Give files to whom the command is run as."""
    if AS_NOBODY is not None:
        for path in paths:
            os.chown(path, AS_NOBODY, AS_NOBODY)


def test_a_link_stays_a_link(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    """Its target is replaced, in the folder of the target; so are linked files of a folder."""
    shelf, desk = tmp_path / "shelf", tmp_path / "desk"
    shelf.mkdir()
    desk.mkdir()
    (shelf / "issued.json").write_bytes(OLD)
    (desk / "r.json").symlink_to("../shelf/issued.json")
    assert commands.start(*ROUTE.args(minimal, routed, desk)).code == 0
    assert os.readlink(desk / "r.json") == "../shelf/issued.json"
    assert (shelf / "issued.json").read_bytes() == routed.read_bytes()
    (desk / "cuts").symlink_to(shelf)
    (shelf / "totals.csv").symlink_to(tmp_path / "theirs.csv")
    assert commands.start(*CUTLIST.args(minimal, routed, desk)).code == 0
    assert (shelf / "totals.csv").is_symlink()
    assert "saw cuts" in (tmp_path / "theirs.csv").read_text("utf-8")
    assert (desk / "cuts").is_symlink()
    assert left_behind(tmp_path) == []


def test_a_link_to_where_nothing_can_be(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    (tmp_path / "r.json").symlink_to(tmp_path / "none" / "r.json")
    done = commands.start(*ROUTE.args(minimal, routed, tmp_path))
    assert done.code == 2
    assert done.last == f"{tmp_path / 'r.json'}: the folder {tmp_path / 'none'} does not exist"


def test_another_name_of_the_file_keeps_the_older_content(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    (tmp_path / "issued.json").write_bytes(OLD)
    os.link(tmp_path / "issued.json", tmp_path / "r.json")
    assert commands.start(*ROUTE.args(minimal, routed, tmp_path)).code == 0
    assert (tmp_path / "issued.json").read_bytes() == OLD
    assert (tmp_path / "r.json").read_bytes() == routed.read_bytes()


def test_a_pipe_is_no_place(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "r.json")
    done = commands.start(*ROUTE.args(minimal, routed, tmp_path))
    assert done.code == 2
    assert "is not a plain file" in done.last


def test_names_as_long_as_a_name_can_be(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    longest = "r" * 250 + ".json"
    assert commands.start(*ROUTE.named(longest).args(minimal, routed, tmp_path)).code == 0
    assert (tmp_path / longest).read_bytes() == routed.read_bytes()
    done = commands.start(*ROUTE.named("r" + longest).args(minimal, routed, tmp_path))
    assert done.code == 2
    assert done.last.endswith("cannot be written: File name too long")


@pytest.mark.parametrize(("umask", "new"), [(0o022, 0o644), (0o077, 0o600)])
def test_permissions(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path, umask: int, new: int
) -> None:
    """Of a new file as the umask says, of an older one as they were."""
    older = tmp_path / "older.json"
    older.write_bytes(OLD)
    older.chmod(0o664)
    assert commands.start(*ROUTE.args(minimal, routed, tmp_path), umask=umask).code == 0
    assert commands.start(*ROUTE.named("older.json").args(minimal, routed, tmp_path), umask=umask).code == 0
    assert (tmp_path / "r.json").stat().st_mode & 0o777 == new
    assert older.stat().st_mode & 0o777 == 0o664


def test_what_is_read_only_is_not_replaced(
    commands: Commands, minimal: Path, routed: Path, place: Path
) -> None:
    """An issued route that somebody protected; a folder that nobody may write to; one file of a folder."""
    file, folder = place / "r.json", place / "cuts"
    folder.mkdir()
    for path in (file, folder / "totals.csv"):
        path.write_bytes(OLD)
        path.chmod(0o444)
    own(file, folder, folder / "totals.csv", place)
    (place / "route.json").write_bytes(routed.read_bytes())
    for writer, what in ((ROUTE, file), (CUTLIST, folder / "totals.csv")):
        done = commands.start(*writer.args(minimal, place / "route.json", place), uid=AS_NOBODY)
        assert done.code == 2
        assert done.last == f"{what}: is read-only, it cannot be replaced"
    place.chmod(0o555)
    for writer, what in ((ROUTE.named("new.json"), place / "new.json"), (SHEETS, place / "sheets")):
        done = commands.start(*writer.args(minimal, place / "route.json", place), uid=AS_NOBODY)
        assert done.code == 2
        assert done.last == f"{what}: the folder {place} may not be written to"
    place.chmod(0o755)
    assert file.read_bytes() == (folder / "totals.csv").read_bytes() == OLD
    assert {path.name for path in place.rglob("*")} == {"r.json", "cuts", "totals.csv", "route.json"}


def test_a_read_only_file_system(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("a file system cannot be mounted here; test_what_is_read_only_is_not_replaced is done")
    try:
        (disk / "r.json").write_bytes(OLD)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        for writer in (ROUTE, CUTLIST):
            done = commands.start(*writer.args(minimal, routed, disk))
            assert done.code == 2
            assert done.last.startswith(f"{disk}{os.sep}")
            assert "read-only" in done.last or "may not be written to" in done.last
        assert [(path.name, path.read_bytes()) for path in disk.iterdir()] == [("r.json", OLD)]
    finally:
        subprocess.run(["umount", str(disk)], check=True)
