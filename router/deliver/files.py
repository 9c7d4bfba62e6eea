"""Where outputs go: refused before the work begins, written whole or not at all."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from router.scenario.write import write_bytes

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path


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
        a folder or a device, or one of ``keep``.
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
        if not path.parent.exists():
            raise OutputError(f"{path}: the folder {path.parent} does not exist")
        if not path.parent.is_dir():
            raise OutputError(f"{path}: {path.parent} is not a folder")
        if not os.access(path.parent, os.W_OK | os.X_OK):
            raise OutputError(f"{path}: the folder {path.parent} may not be written to")
        for other in keep:
            if other.resolve() == path.resolve():
                raise OutputError(f"{path}: would overwrite {other}, which this command reads or writes too")
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror or error}") from error


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
    try:
        write_bytes(path, content)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror or error}") from error
