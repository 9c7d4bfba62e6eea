"""A DXF file is loaded whole, or there is one error that says why not."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from router.readers.dxf.carrying import readable
from router.scenario.errors import Fault, ScenarioError

if TYPE_CHECKING:
    from pathlib import Path

    from ezdxf.document import Drawing

MAX_BYTES = 256 * 1024 * 1024
BINARY = b"Binary DXF\r\n\x1a\x00"
"""How the first 22 bytes of a binary DXF file end (DXF reference)."""

DWG = b"AC10"
"""The first bytes of the other, closed format."""


def stop(file: Path, message: str, value: str = "", unit: str = "", item: str = "") -> ScenarioError:
    """Make the one error of a file that cannot be used.

    Returns
    -------
    ScenarioError
    """
    return ScenarioError([Fault("(file)", readable(item), value, unit, readable(message))], str(file))


def load_dxf(file: Path, notes: list[str]) -> Drawing:
    """Load a drawing, text or binary.

    Parameters
    ----------
    file
        The file.
    notes
        Receives a sentence if the file is damaged and had to be mended.

    Raises
    ------
    ScenarioError
        If it cannot be read, is too large, is cut off, or is no DXF.
    """
    try:
        from ezdxf import filemanagement, recover
        from ezdxf.lldxf.const import DXFVersionError
    except ImportError as error:
        raise stop(file, "DXF needs the extra dxf: pip install 'branch-drop-router[dxf]'") from error
    _look(file)
    # Its warnings are in the error or the note; nothing else may go to the terminal.
    logging.getLogger("ezdxf").addHandler(logging.NullHandler())
    try:
        return filemanagement.readfile(file)
    except DXFVersionError as error:
        raise stop(file, f"not a DXF version that can be read: {_short(error)}") from error
    except MemoryError:
        raise
    except Exception as error:  # whatever a damaged file makes of a reader of ours or others
        first = _short(error)
    try:
        doc, auditor = recover.readfile(file)
    except MemoryError:
        raise
    except Exception as error:
        raise stop(file, f"damaged, cannot be read as DXF: {first}") from error
    if not len(doc.modelspace()):
        raise stop(file, f"damaged, and nothing in it could be saved: {first}")
    mended = len(auditor.fixes) + len(auditor.errors)
    notes.append(
        f"{file.name} is damaged ({first}); what could be saved was read, {mended} places mended: "
        "compare with the drawing"
    )
    return doc


def _short(error: Exception) -> str:
    text = readable(" ".join(str(error).split())) or type(error).__name__
    return text if len(text) <= 120 else text[:117] + "..."


def _look(file: Path) -> None:
    """Refuse what cannot be a whole DXF file before anything reads all of it."""
    try:
        if not file.is_file():
            raise stop(file, "no such file" if not file.exists() else "is not a plain file")
        size = file.stat().st_size
        if size > MAX_BYTES:
            most = f"the file is too large; at most {MAX_BYTES // 1024 // 1024} MB"
            raise stop(file, most, f"{size / 1024 / 1024:.0f}", "MB")
        with file.open("rb") as stream:
            head = stream.read(4096)
            stream.seek(max(0, size - 2048))
            tail = stream.read()
    except OSError as error:
        raise stop(file, f"cannot be read: {error.strerror or error}") from error
    if not head.strip():
        raise stop(file, "the file is empty; a drawing in DXF is expected")
    if head.startswith(DWG):
        raise stop(file, "is a DWG file, which is no open format; save the drawing as DXF")
    if head[:22].endswith(BINARY):
        whole = b"EOF\x00" in tail
    else:
        if b"\x00" in head or b"SECTION" not in head.upper():
            raise stop(file, "is not a DXF file: its first section is missing")
        whole = any(line.strip() == b"EOF" for line in tail.splitlines())
    if not whole:
        raise stop(file, "is cut off: its end (EOF) is missing", f"{size}", "bytes")
