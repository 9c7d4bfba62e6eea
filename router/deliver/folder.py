"""A set of files in one folder: all of them are written, or none.

A folder that is new appears with all its files at once. In one that is there, files are replaced
one by one once all of them are on the disk; meanwhile a note stands there, so that a folder with
files of two runs, as a kill -9 may leave it, says so until the same is written again.
"""

from __future__ import annotations

import contextlib
import os
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from router.deliver.files import OutputError, cannot, written
from router.scenario.whole import (
    Waiting,
    fcntl,
    replace_file,
    sync_folder,
    temporary_folder,
    wait_beside,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

NOTE = "UNFINISHED.txt"
_HEAD = """\
branch-router was ended while it replaced the files named below. Each of them is whole, but some may be
of the last run and some of an older one: do not use them together. Run the same command again; this
note then goes away.
"""
_PATIENCE_S = 30.0
"""To replace files takes moments: who has the folder so long hangs."""


def check_folder(folder: Path, names: Iterable[str], keep: Iterable[Path] = ()) -> None:
    """Refuse a folder that could not be filled, before anything is computed.

    Parameters
    ----------
    folder
        Where the files go; it is made if only itself is missing.
    names
        Names of the files.
    keep
        Files that must not be overwritten: the inputs.

    Raises
    ------
    OutputError
        If the folder is a file, cannot be made or written to, one of the files is
        read-only, a folder or a device there, or would overwrite one of ``keep``.
    """
    keep = list(keep)
    try:
        if folder.exists():
            if not folder.is_dir():
                raise OutputError(f"{folder}: is a file; a folder expected")
            place = folder
        else:
            place = Path(os.path.realpath(folder)).parent
            if not place.exists():
                raise OutputError(f"{folder}: the folder {place} does not exist")
            if not place.is_dir():
                raise OutputError(f"{folder}: {place} is not a folder")
        if not os.access(place, os.W_OK | os.X_OK):
            raise OutputError(f"{folder}: the folder {place} may not be written to")
        for name in names:
            path = folder / name
            if path.exists() and not path.is_file():
                raise OutputError(f"{path}: is not a plain file, it cannot be replaced")
            if path.exists() and not os.access(path, os.W_OK):
                raise OutputError(f"{path}: is read-only, it cannot be replaced")
            for other in keep:
                if other.resolve() == path.resolve():
                    raise OutputError(f"{path}: would overwrite {other}, which this command reads too")
    except OSError as error:
        raise cannot(folder, error) from error


def save_all(folder: Path, files: Mapping[str, bytes], gone: Iterable[str] = ()) -> None:
    """Write files into a folder, all or none; the folder is made if it is missing.

    Parameters
    ----------
    folder
        Where they go.
    files
        Contents by name.
    gone
        Files of an earlier run that are not made anew: they are removed.

    Raises
    ------
    OutputError
        If one cannot be written; what stood there is put back.
    """
    try:
        if folder.exists() or not _made_whole(Path(os.path.realpath(folder)), files):
            _into(folder, files, sorted(set(gone) - set(files)))
    except OSError as error:
        raise cannot(folder, error) from error
    written.append(folder)


def _made_whole(folder: Path, files: Mapping[str, bytes]) -> bool:
    """Make a folder with all its files in it; not if it comes to be meanwhile."""
    with temporary_folder(folder.parent) as waiting:
        new = waiting / "new"
        new.mkdir()
        for name, content in files.items():
            with _named(folder / name):
                replace_file(new / name, content)
        sync_folder(new)
        try:
            os.rename(new, folder)
        except OSError:
            if folder.is_dir():
                return False
            raise
    sync_folder(folder.parent)
    return True


def _into(folder: Path, files: Mapping[str, bytes], gone: list[str]) -> None:
    """Replace files in a folder that is there."""
    waiting: dict[str, Waiting] = {}
    with temporary_folder(folder) as older:
        try:
            for name, content in files.items():
                with _named(folder / name):
                    waiting[name] = wait_beside(folder / name, content)
            with _nobody_else(folder):
                before = unfinished(folder)
                _write_note(folder, before | set(files) | set(gone))
                _replace_all(folder, waiting, gone, older, before)
                sync_folder(folder)
                _write_note(folder, before - set(files) - set(gone))
        finally:
            for one in waiting.values():
                one.drop()


def _replace_all(
    folder: Path, waiting: dict[str, Waiting], gone: list[str], older: Path, before: set[str]
) -> None:
    """Replace files; put all of them back if one cannot be."""
    kept: dict[str, Path | bytes | None] = {}
    try:
        for name in [*waiting, *gone]:
            kept[name] = _kept(folder / name, older / f"old.{name}")
        for name, one in waiting.items():
            with _named(folder / name):
                one.put()
        for name in gone:
            (folder / name).unlink(missing_ok=True)
    except BaseException:
        with contextlib.suppress(OSError):
            for name, old in kept.items():
                _put_back(Path(os.path.realpath(folder / name)), old)
            _write_note(folder, before)
        raise


def _kept(path: Path, place: Path) -> Path | bytes | None:
    """Keep what a file holds under a second name: no room is needed to put it back."""
    target = os.path.realpath(path)
    try:
        os.link(target, place)
    except OSError:  # nothing there; or another file system, or one without second names
        return Path(target).read_bytes() if os.path.exists(target) else None
    return place


def _put_back(target: Path, old: Path | bytes | None) -> None:
    if old is None:
        target.unlink(missing_ok=True)
    elif isinstance(old, bytes):
        replace_file(target, old)
    else:
        os.replace(old, target)


@contextmanager
def _named(path: Path) -> Iterator[None]:
    """Name the file, not only the folder, where it cannot be written."""
    try:
        yield
    except OSError as error:
        raise cannot(path, error) from error


@contextmanager
def _nobody_else(folder: Path) -> Iterator[None]:
    """Let two runs replace files in a folder one after the other, so that all are of one of them."""
    handle = -1
    if fcntl is not None:
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
    try:
        if handle >= 0:
            _take(handle, folder)
        yield
    finally:
        if handle >= 0:
            os.close(handle)


def _take(handle: int, folder: Path) -> None:
    assert fcntl is not None
    until = time.monotonic() + _PATIENCE_S
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError as error:
            if time.monotonic() > until:
                raise OutputError(
                    f"{folder}: another run has been writing there for {_PATIENCE_S:.0f} s"
                ) from error
            time.sleep(0.02)
        except OSError:
            return  # no locks there


def unfinished(folder: Path) -> set[str]:
    """Names of the files that a run was ended over while it replaced them.

    Returns
    -------
    set of str
    """
    try:
        text = (folder / NOTE).read_text(encoding="utf-8")
    except (OSError, ValueError):
        return set()
    return {line.strip() for line in text.splitlines() if line.startswith("  ")}


def _write_note(folder: Path, names: set[str]) -> None:
    path = folder / NOTE
    if names:
        lines = [f"  {name}\n" for name in sorted(names)]
        replace_file(path, (_HEAD + "".join(lines)).encode())
    else:
        path.unlink(missing_ok=True)
