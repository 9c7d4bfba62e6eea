"""Drawings as others make them, built with plain ezdxf."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ezdxf.filemanagement import new

from router.readers.dxf import DxfMapping, read_dxf

if TYPE_CHECKING:
    from pathlib import Path

    from ezdxf.document import Drawing

    from router.readers.drawn import Drawn

INCH, FOOT, MM, M = 1, 2, 4, 6


def blank(units: int = MM) -> tuple[Drawing, Any]:
    doc = new("R2010", units=units)
    return doc, doc.modelspace()


def mapped(**layers: dict[str, Any]) -> DxfMapping:
    return DxfMapping.model_validate({"layers": layers})


def read(doc: Drawing, folder: Path, mapping: DxfMapping | None = None, **top: Any) -> Drawn:
    path = folder / "foreign.dxf"
    doc.saveas(path)
    if mapping is not None and top:
        mapping = mapping.model_copy(update=top)
    return read_dxf(path, mapping)


HEADS: dict[str, Any] = {"holds": "heads", "elevation": 2700}
RUNS: dict[str, Any] = {"holds": "runs", "elevation": 3000, "size": 40}
SOLIDS: dict[str, Any] = {"holds": "obstructions", "elevations": (2800, 3100), "kind": "duct"}
