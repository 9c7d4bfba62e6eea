"""Where outputs go: refused before the work begins, written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from router.scenario.whole import Waiting, sync_folder, wait_beside

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

written: list[Path] = []
"""What this process has written, in order: whoever ends a command early says what is there."""


class OutputError(ValueError):
    """An output that cannot be written; the message names the file and the reason."""


def check_output(path: Path, suffixes: tuple[str, ...], keep: Iterable[Path] = ()) -> None:
    """Refuse an output that could not be written, before anything is computed.

    Parameters
    ----------
    path
        The file to be written.
    suffixes
        Accepted endings, as ``(".json",)``.
    keep
        Files that it must not overwrite: the inputs, and other outputs.

    Raises
    ------
    OutputError
        If the ending is another one, the folder is missing or closed, the place is
        read-only, a folder or a device, or one of ``keep``.
    """
    wanted = " or ".join(suffixes)
    try:
        if path.is_dir():
            raise OutputError(f"{path}: is a folder; a file name ending in {wanted} expected")
        if path.suffix.lower() not in suffixes:
            found = f"ends in {path.suffix}" if path.suffix else "has no ending"
            raise OutputError(f"{path}: {found}; {wanted} expected")
        if path.exists() and not path.is_file():
            raise OutputError(f"{path}: is not a plain file; a file name ending in {wanted} expected")
        if path.exists() and not os.access(path, os.W_OK):
            raise OutputError(f"{path}: is read-only, it cannot be replaced")
        # a link stays a link: what it points to is written
        folder = Path(os.path.realpath(path)).parent if path.is_symlink() else path.parent
        if not folder.exists():
            raise OutputError(f"{path}: the folder {folder} does not exist")
        if not folder.is_dir():
            raise OutputError(f"{path}: {folder} is not a folder")
        if not os.access(folder, os.W_OK | os.X_OK):
            raise OutputError(f"{path}: the folder {folder} may not be written to")
        for other in keep:
            if other.resolve() == path.resolve():
                raise OutputError(f"{path}: would overwrite {other}, which this command reads or writes too")
    except OSError as error:
        raise cannot(path, error) from error


def cannot(path: Path, error: OSError) -> OutputError:
    """Make the message that an output cannot be written.

    Returns
    -------
    OutputError
        Names the file and the reason.
    """
    return OutputError(f"{path}: cannot be written: {error.strerror or error}")


def save(path: Path, text: str) -> None:
    """Write a text file (UTF-8, plain line ends), whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written; what stood there stays.
    """
    save_bytes(path, text.encode("utf-8"))


def save_bytes(path: Path, content: bytes) -> None:
    """Write a binary file, whole or not at all.

    Raises
    ------
    OutputError
        If it cannot be written; what stood there stays.
    """
    save_together({path: content})


def save_together(contents: Mapping[Path, bytes]) -> None:
    """Write files, anywhere, each whole: all wait on the disk before the first is replaced.

    Raises
    ------
    OutputError
        If one cannot be written, for want of room say; then all that stood there stays.
    """
    waiting: list[Waiting] = []
    path = None
    try:
        for path, content in contents.items():
            waiting.append(wait_beside(path, content))
        for path, one in zip(contents, waiting, strict=True):
            one.put()
            written.append(path)
    except OSError as error:
        assert path is not None
        raise cannot(path, error) from error
    finally:
        for one in waiting:
            one.drop()
    for folder in dict.fromkeys(one.target.parent for one in waiting):
        sync_folder(folder)
