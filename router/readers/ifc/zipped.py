"""A packed model: its one member, unpacked within limits."""

from __future__ import annotations

import lzma
import struct
import zipfile
import zlib
from typing import TYPE_CHECKING

from router.readers.ifc.limits import MB, Limits
from router.readers.ifc.scan import stop
from router.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

BLOCK = 1024 * 1024
BROKEN = (NotImplementedError, ValueError, IndexError, RuntimeError, struct.error)
"""What zipfile makes of a damaged directory: it has no error of its own for all of it."""


def unpack(path: Path, target: Path, limits: Limits) -> None:
    """Write the one ``.ifc`` member of a packed model to a file.

    Names and folders in the archive are not used.

    Raises
    ------
    ScenarioError
        If it is no such archive, or holds more than the limits allow.
    """
    name = str(path)
    try:
        if path.exists() and not path.is_file():
            raise stop(name, "", "", "is not a plain file")
        with zipfile.ZipFile(path) as archive:
            members = [one for one in archive.infolist() if not one.is_dir()]
            models = [one for one in members if one.filename.lower().endswith(".ifc")]
            if len(models) != 1:
                if any(one.filename.lower().endswith(".ifcxml") for one in members):
                    raise stop(name, "", "", "holds XML (ifcxml), which is not read; save the model as .ifc")
                raise stop(name, str(len(models)), "models", "exactly one .ifc file in the archive expected")
            member = models[0]
            if member.flag_bits & 1:
                raise stop(name, "", "", "the archive is encrypted, which is not read")
            _allowed(name, member.file_size, member.compress_size, limits, "announces")
            with archive.open(member) as source, target.open("wb") as out:
                written = 0
                while block := source.read(BLOCK):
                    written += len(block)
                    _allowed(name, written, member.compress_size, limits, "unpacks to")
                    out.write(block)
    except ScenarioError:
        raise
    except (zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, *BROKEN) as error:
        raise stop(name, "", "", f"cannot be unpacked: {error}") from error
    except OSError as error:
        raise stop(name, "", "", f"cannot be read: {error.strerror or error}") from error


def _allowed(name: str, size: int, packed: int, limits: Limits, what: str) -> None:
    if size > limits.file_bytes:
        most = f"the archive {what} more than the {limits.file_bytes // MB} MB that are read"
        raise stop(name, f"{size / MB:.0f}", "MB", most)
    if size > MB and size > limits.ratio * max(packed, 1):
        ratio = f"{size / max(packed, 1):.0f}"
        raise stop(name, ratio, "times", f"the archive {what} over {limits.ratio:g} times its packed size")
