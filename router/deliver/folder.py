"""A set of files in one folder: all of them are written, or none."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from typing import TYPE_CHECKING

from router.deliver.files import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path


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
        a folder or a device there, or would overwrite one of ``keep``.
    """
    keep = list(keep)
    try:
        if folder.exists():
            if not folder.is_dir():
                raise OutputError(f"{folder}: is a file; a folder expected")
            place = folder
        else:
            place = folder.parent
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
            for other in keep:
                if other.resolve() == path.resolve():
                    raise OutputError(f"{path}: would overwrite {other}, which this command reads too")
    except OSError as error:
        raise OutputError(f"{folder}: cannot be written: {error.strerror or error}") from error


def save_all(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, all or none; the folder is made if it is missing.

    Raises
    ------
    OutputError
        If one cannot be written; what stood there is put back.
    """
    made = not folder.exists()
    try:
        if made:
            folder.mkdir()
        waiting = tempfile.mkdtemp(prefix=".writing.", dir=folder)
        try:
            _replace_all(folder, waiting, files)
        finally:
            shutil.rmtree(waiting, ignore_errors=True)
    except OSError as error:
        if made:
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise OutputError(f"{folder}: cannot be written: {error.strerror or error}") from error


def _replace_all(folder: Path, waiting: str, files: Mapping[str, bytes]) -> None:
    mask = os.umask(0)
    os.umask(mask)
    for name, content in files.items():
        path = os.path.join(waiting, name)
        with open(path, "wb") as stream:
            stream.write(content)
        os.chmod(path, 0o666 & ~mask)
    done: list[str] = []
    try:
        for name in files:
            old = os.path.join(waiting, f"old.{name}")
            done.append(name)
            if (folder / name).exists():
                os.replace(folder / name, old)
            os.replace(os.path.join(waiting, name), folder / name)
    except BaseException:
        for name in done:
            old, new = os.path.join(waiting, f"old.{name}"), os.path.join(waiting, name)
            with contextlib.suppress(OSError):
                if os.path.exists(old):
                    os.rename(old, folder / name)
                elif not os.path.exists(new):
                    os.unlink(folder / name)
        raise
