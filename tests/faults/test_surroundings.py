"""What is around a command: standard output, places for temporary files and caches, memory."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from router.scenario import whole

from .writers import CHECK, COORDINATION, CUTLIST, ROUTE

if TYPE_CHECKING:
    from pathlib import Path

    from .conftest import Commands

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="signals and limits of Linux")
OLD = b"what stood here"


@pytest.fixture
def unread(tmp_path: Path) -> str:
    """Give a pipe whose reader has left."""
    os.mkfifo(tmp_path / "pipe")
    return str(tmp_path / "pipe")


@pytest.mark.parametrize("name", ["check", "schema", "route"])
def test_a_reader_who_leaves(commands: Commands, minimal: Path, routed: Path, unread: str, name: str) -> None:
    """The exit code still says how it went; nothing is printed about it."""
    every: dict[str, list[object]] = {
        "check": ["check", minimal, routed],
        "schema": ["schema"],
        "route": ["route", minimal, "-o", f"{unread}.json"],
    }
    # opened here so that the command can open it, and closed before it prints
    reader = os.open(unread, os.O_RDONLY | os.O_NONBLOCK)
    started = commands.start(*every[name], out=unread, faults="at=router.deliver.patient:_plug do=SIGSTOP")
    os.close(reader)
    os.kill(started.pid, signal.SIGCONT)
    done = commands.wait(started.pid)
    assert done.code == 0, done.err
    assert "pipe" not in done.err.replace(unread, "").lower()
    if name == "route":
        assert routed.read_bytes() == open(f"{unread}.json", "rb").read()  # noqa: SIM115


@pytest.mark.parametrize("args", [["schema"], ["check"], ["route"]])
def test_output_to_a_full_disk(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path, args: list[str]
) -> None:
    files: dict[str, list[object]] = {
        "check": [minimal, routed],
        "route": [minimal, "-o", tmp_path / "r.json"],
    }
    rest = files.get(args[0], [])
    done = commands.start(*args, *rest, out="/dev/full")
    assert done.code == 2
    written = f"; written before that: {tmp_path / 'r.json'}" if args == ["route"] else ""
    assert done.last == f"standard output: cannot be written: No space left on device{written}"


def test_messages_to_a_full_disk(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    done = commands.start("route", minimal, "-o", tmp_path / "r.json", err="/dev/full")
    assert done.code == 0
    assert (tmp_path / "r.json").read_bytes() == routed.read_bytes()
    assert commands.start("validate", tmp_path / "none.json", err="/dev/full").code == 2


def test_no_standard_streams_at_all(commands: Commands, minimal: Path, routed: Path, tmp_path: Path) -> None:
    done = commands.start("route", minimal, "-o", tmp_path / "r.json", faults="closed=1")
    assert done.code == 0
    assert (tmp_path / "r.json").read_bytes() == routed.read_bytes()


def test_nowhere_for_caches_and_temporary_files(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    """A file system that is read-only; compiled code has no place either."""
    closed = tmp_path / "closed"
    closed.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "ro", "tmpfs", str(closed)]
    mounted = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    if not mounted and os.geteuid() == 0:
        pytest.skip("root may write everywhere, and a read-only file system cannot be mounted here")
    closed.chmod(0o555) if not mounted else None
    env = dict.fromkeys(("HOME", "TMPDIR", "XDG_CACHE_HOME", "NUMBA_CACHE_DIR"), str(closed))
    try:
        for writer in (ROUTE, CUTLIST, CHECK):
            args = writer.args(minimal, routed, tmp_path)
            assert commands.start(*args, env=env, faults="compiled=1").code == 0
        assert (tmp_path / "r.json").read_bytes() == routed.read_bytes()
        assert list(closed.iterdir()) == []
    finally:
        if mounted:
            subprocess.run(["umount", str(closed)], check=True)


def test_a_full_disk_for_compiled_code(
    commands: Commands, minimal: Path, routed: Path, tmp_path: Path
) -> None:
    (tmp_path / "cache").mkdir()
    env = {"NUMBA_CACHE_DIR": str(tmp_path / "cache")}
    done = commands.start(*ROUTE.args(minimal, routed, tmp_path), env=env, faults="compiled=1 cache-full=1")
    assert done.code == 0, done.err
    assert (tmp_path / "r.json").read_bytes() == routed.read_bytes()


@pytest.mark.parametrize(
    "where",
    ["router.building.route:solve", "router.cli.finding:check_route", "router.scenario.whole:Waiting.put"],
)
def test_out_of_memory(commands: Commands, minimal: Path, routed: Path, tmp_path: Path, where: str) -> None:
    """While it solves, judges and writes."""
    out = tmp_path / "r.json"
    out.write_bytes(OLD)
    args = ROUTE.args(minimal, routed, tmp_path)
    done = commands.start(*args, faults=f"at={where} do=HOG")
    assert done.code == 2
    assert done.last == "cannot route: out of memory; nothing was written"
    assert out.read_bytes() == OLD
    assert [path.name for path in tmp_path.iterdir()] == ["r.json"]


def test_the_reader_of_models_ends_with_its_parent(commands: Commands, tmp_path: Path) -> None:
    """Killed with -9 while the model is read; the next one that reads sweeps its temporary folder."""
    temporary = tmp_path / "tmp"
    temporary.mkdir()
    args = ["import", "ifc", str(COORDINATION / "sprinklers.ifc"), "-o", str(tmp_path / "i.json")]
    env = {"TMPDIR": str(temporary)}
    faults = "at=router.deliver.reading:Reading.tell do=ORPHAN"
    assert commands.start(*args, env=env, faults=faults).code == -9, "and commands looks whether it goes on"
    assert len(list(temporary.iterdir())) == 1
    assert commands.start(*args, env=env).code == 0
    assert list(temporary.iterdir()) == []


def test_a_power_cut(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The content is on the disk before it has the name, and the name before it is said to be written.

    A power cut cannot be had here; this is the order that POSIX asks for: fsync, rename, fsync of
    the folder.
    """
    file, calls = tmp_path / "r.json", []
    sync, put = os.fsync, os.replace

    def synced(handle: int) -> None:
        what = os.path.realpath(f"/proc/self/fd/{handle}")
        calls.append("folder" if what == str(tmp_path) else f"content {os.path.getsize(what)}")
        sync(handle)

    def replaced(old: str, new: str) -> None:
        calls.append("name")
        put(old, new)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "replace", replaced)
    whole.replace_file(file, b"new content")
    assert calls == ["content 11", "name", "folder"]
