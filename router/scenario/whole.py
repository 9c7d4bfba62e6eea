"""A file is replaced whole or not at all, whatever ends the work: an error, Ctrl-C, kill -9, a power cut.

The new content goes to a file beside the old one, to the disk, and only then under the name.
What a process that was killed leaves behind carries our prefix and no lock, so the next one that
writes into the folder removes it; a lock is held as long as its owner lives, whatever happens to it.
"""

from __future__ import annotations

import contextlib
import errno
import importlib
import os
import secrets
import shutil
import stat
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import ModuleType

fcntl: ModuleType | None = None
"""Locks. Windows has none of these; there, what is open cannot be removed, which does the same."""
with contextlib.suppress(ImportError):
    fcntl = importlib.import_module("fcntl")

PREFIX = ".branch-router-"
"""Begins all temporary names. The name of the file is not in them: it may be as long as a name can be."""
_OWNER = "owner"
"""In a temporary folder, the file that is locked."""
_TRIES = 5
_NO_SYNC = {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EBADF}
"""A file system that cannot be told to write at once says so."""


@dataclass
class Waiting:
    """New content of one file, on the disk beside it and not under its name yet."""

    stream: IO[bytes]
    place: Path
    target: Path
    content: bytes

    def put(self) -> None:
        """Give it the name.

        Raises
        ------
        OSError
            If it cannot; what stood there stays.
        """
        for left in reversed(range(_TRIES)):
            if fcntl is None:
                self.stream.close()
            try:
                os.replace(self.place, self.target)
            except FileNotFoundError:
                # where locks do not reach (some network folders), another machine may take it for left behind
                if not left:
                    raise
                self.drop()
                again = wait_beside(self.target, self.content)
                self.stream, self.place = again.stream, again.place
            else:
                self.stream.close()
                return

    def drop(self) -> None:
        """Remove it, unless it has its name."""
        with contextlib.suppress(OSError):
            self.stream.close()
        with contextlib.suppress(OSError):
            self.place.unlink()


def replace_file(file: Path, content: bytes) -> None:
    """Write a file whole or not at all.

    A link stays a link: its target is replaced. The file's permissions stay. Another name of
    the same file (a hard link) keeps the older content.

    Raises
    ------
    OSError
        If it cannot be written, is read-only or no plain file; what stood there stays.
    """
    waiting = wait_beside(file, content)
    try:
        waiting.put()
    finally:
        waiting.drop()
    sync_folder(waiting.target.parent)


def wait_beside(file: Path, content: bytes) -> Waiting:
    """Write new content of a file beside it, and to the disk.

    Raises
    ------
    OSError
        If it cannot be written, or the file could not be replaced.
    """
    target = Path(os.path.realpath(file))
    before = _may_be_replaced(target)
    sweep(target.parent)
    # what is not for everybody's eyes is not while it waits either
    stream, place = _begin(target.parent, 0o666 if before is None else 0o600)
    waiting = Waiting(stream, place, target, content)
    try:
        stream.write(content)
        stream.flush()
        if before is not None:
            _same_owner(stream, before)
        _sync(stream.fileno())
    except BaseException:
        waiting.drop()
        raise
    return waiting


def _may_be_replaced(target: Path) -> os.stat_result | None:
    """Look at what is there; a file that somebody made read-only is not replaced in spite of it."""
    try:
        before = target.stat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(before.st_mode):
        raise OSError(errno.EINVAL, "is not a plain file", str(target))
    if not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, "is read-only", str(target))
    return before


def _same_owner(stream: IO[bytes], before: os.stat_result) -> None:
    """Let permissions, and where that may be done owner and group, be what they were."""
    if fcntl is None:
        return
    with contextlib.suppress(OSError):
        os.fchown(stream.fileno(), before.st_uid, before.st_gid)
    os.fchmod(stream.fileno(), stat.S_IMODE(before.st_mode))


def _begin(folder: Path, mode: int) -> tuple[IO[bytes], Path]:
    """Open a new temporary file and lock it."""
    while True:
        place = folder / f"{PREFIX}{secrets.token_hex(6)}.part"
        handle = os.open(place, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
        stream = os.fdopen(handle, "wb")
        if _locked(handle, place):
            return stream, place
        stream.close()  # it was taken for left behind just before the lock was there


def _locked(handle: int, place: Path, *, wait: bool = True) -> bool:
    """Lock an open file; whether that was possible and the file is still there."""
    if fcntl is None:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return wait  # no locks here: write without one, and remove nothing
    try:
        return os.path.samestat(os.fstat(handle), os.stat(place, follow_symlinks=False))
    except OSError:
        return False


@contextmanager
def temporary_folder(folder: Path) -> Iterator[Path]:
    """Give a new folder in a folder, for oneself alone; it goes in the end.

    If its owner is killed, the next one that comes there sweeps it away.

    Raises
    ------
    OSError
        If it cannot be made.
    """
    sweep(folder)
    while True:
        place = folder / f"{PREFIX}{secrets.token_hex(6)}"
        place.mkdir(0o700)
        try:
            handle = os.open(place / _OWNER, os.O_RDWR | os.O_CREAT, 0o600)
        except FileNotFoundError:
            continue  # taken for left behind
        except OSError:
            place.rmdir()
            raise
        if _locked(handle, place / _OWNER):
            break
        os.close(handle)
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)
        os.close(handle)
        shutil.rmtree(place, ignore_errors=True)


def sweep(folder: Path) -> None:
    """Remove what processes that are dead left behind in a folder; never raises."""
    try:
        found = [entry for entry in os.scandir(folder) if entry.name.startswith(PREFIX)]
    except OSError:
        return
    for entry in found:
        with contextlib.suppress(OSError):
            if hasattr(os, "geteuid") and entry.stat(follow_symlinks=False).st_uid != os.geteuid():
                continue
            _remove_if_dead(Path(entry.path), is_folder=entry.is_dir(follow_symlinks=False))


def _remove_if_dead(place: Path, *, is_folder: bool) -> None:
    owned = place / _OWNER if is_folder else place
    flags = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0)
    handle = os.open(owned, flags | os.O_CREAT if is_folder else flags, 0o600)
    try:
        if not _locked(handle, owned, wait=False):
            return
        if fcntl is None:
            os.close(handle)
            handle = -1
            owned.unlink()  # fails where somebody has it open
        if is_folder:
            shutil.rmtree(place, ignore_errors=True)
        else:
            place.unlink(missing_ok=True)
    finally:
        if handle >= 0:
            os.close(handle)


def _sync(handle: int) -> None:
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _NO_SYNC:
            raise


def sync_folder(folder: Path) -> None:
    """Have the names in a folder written to the disk, where that can be asked for; never raises."""
    if fcntl is None:
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
