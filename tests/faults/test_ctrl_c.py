"""Ctrl-C at every command: while it reads, and with all on the disk that only wants its name."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest

from router.deliver.folder import NOTE

from .writers import CUTLIST, EVERY, FILES, ROUTE

if TYPE_CHECKING:
    from pathlib import Path

    from .conftest import Commands

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="signals and limits of Linux")
OLD = b"what stood here"
NOTHING = "interrupted; nothing was written"


@pytest.mark.parametrize("name", EVERY)
def test_while_it_is_written(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path, name: str
) -> None:
    writer = EVERY[name]
    out = tmp_path / writer.output
    if name in FILES:
        out.write_bytes(OLD)
    place = "os:replace" if name in FILES else "os:rename"
    done = commands.start(*writer.args(minimal, routed, tmp_path), faults=f"at={place} do=SIGINT")
    assert done.code == 130, done.err
    assert done.last == NOTHING
    if name in FILES:
        assert out.read_bytes() == OLD
        assert [path.name for path in tmp_path.iterdir()] == [writer.output]
    else:
        assert list(tmp_path.iterdir()) == []


def test_while_a_model_is_read(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    """By another process, which hears it too; the temporary folder of both goes."""
    temporary = tmp_path / "tmp"
    temporary.mkdir()
    done = commands.start(
        *FILES["import-ifc"].args(minimal, routed, tmp_path),
        faults="at=router.readers.ifc.process:_follow do=SIGINT",
        env={"TMPDIR": str(temporary)},
    )
    assert (done.code, done.last) == (130, NOTHING)
    assert list(temporary.iterdir()) == []
    assert list(tmp_path.iterdir()) == [temporary]


def test_amid_the_files_of_a_folder(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    """Some have their name already: they are put back."""
    args, folder = CUTLIST.args(minimal, routed, tmp_path), tmp_path / "cuts"
    folder.mkdir()
    for name in ("cut_list.csv", "totals.csv"):
        (folder / name).write_bytes(OLD)
    done = commands.start(*args, faults="at=router.scenario.whole:Waiting.put:6 do=SIGINT")
    assert (done.code, done.last) == (130, NOTHING)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == {
        "cut_list.csv": OLD,
        "totals.csv": OLD,
    }
    assert not (folder / NOTE).exists()


def test_once_it_is_written(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    """Then it must not say that nothing was."""
    args = [word for word in ROUTE.args(minimal, routed, tmp_path) if word != "--quiet"]
    done = commands.start(*args, faults="at=router.cli.finding:route_table do=SIGINT")
    assert done.code == 130
    assert done.last == f"interrupted; written before that: {tmp_path / 'r.json'}"
    assert (tmp_path / "r.json").read_bytes() == routed.read_bytes()
