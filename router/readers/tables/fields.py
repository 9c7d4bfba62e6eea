"""What a table can say: our fields of heads, obstructions and pipes, and the plain English names of each.

A header is compared without case, blanks, ``_``, ``-`` and ``.``. The first name
that is there wins. That these names are usual is common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

Kind = Literal["heads", "obstructions", "pipes"]
What = Literal["length", "number", "angle", "text", "word", "size", "yes", "outline", "names"]


@dataclass(frozen=True)
class Field:
    """One field: its name with us, what its cells hold, its other names."""

    name: str
    what: What
    names: tuple[str, ...] = ()


HEADS = (
    Field("id", "text", ("tag", "mark", "head", "head id", "no", "number", "name")),
    Field("x", "length", ("x coordinate", "position x", "pos x")),
    Field("y", "length", ("y coordinate", "position y", "pos y")),
    Field("z", "length", ("elevation", "level", "z coordinate", "position z", "pos z", "elev")),
    Field("kind", "word", ("orientation", "type", "head kind", "head type")),
    Field("thread", "size", ("conn dn", "dn", "size", "thread size", "connection", "nominal size")),
    Field("k_factor", "number", ("k", "k value")),
    Field("dry", "yes", ("dry head", "dry type")),
    Field("facing", "angle", ("direction", "rotation", "angle")),
    Field("run", "text", ("run id",)),
    Field("line", "text", ("line id", "branch", "branch line", "branch id")),
    Field("shift", "length", ("may move", "tolerance")),
    Field("exposed", "length", ("exposed length", "exposed barrel")),
)
OBSTRUCTIONS = (
    Field("id", "text", ("tag", "mark", "obstruction", "no", "number", "name")),
    Field("kind", "text", ("type", "category")),
    Field("polygon", "outline", ("outline", "wkt", "geojson", "geometry", "corners", "points")),
    Field("bottom", "length", ("zmin", "z min", "underside", "bottom elevation", "lowest", "low", "soffit")),
    Field("top", "length", ("zmax", "z max", "upperside", "top elevation", "highest", "high")),
    Field("height", "length", ("depth", "thickness", "h")),
    Field("x", "length", ("centre x", "center x", "x centre", "x center", "cx")),
    Field("y", "length", ("centre y", "center y", "y centre", "y center", "cy")),
    Field("length", "length", ("l",)),
    Field("width", "length", ("w", "b")),
    Field("rotation", "angle", ("angle", "direction")),
    Field("xmin", "length", ("x min", "min x", "left")),
    Field("xmax", "length", ("x max", "max x", "right")),
    Field("ymin", "length", ("y min", "min y")),
    Field("ymax", "length", ("y max", "max y")),
    Field("clearance", "length", ("gap", "free space")),
)
PIPES = (
    Field("id", "text", ("tag", "mark", "pipe", "no", "number", "name")),
    *(Field(f"{axis}1", "length", (f"start {axis}", f"{axis} start")) for axis in "xyz"),
    *(Field(f"{axis}2", "length", (f"end {axis}", f"{axis} end")) for axis in "xyz"),
    Field("size", "size", ("dn", "nominal size", "pipe size")),
    Field("role", "word", ("kind", "type")),
    Field("line", "text", ("line id", "branch", "branch line", "branch id")),
    Field("heads", "names", ("head ids", "serves")),
)
FIELDS: dict[Kind, tuple[Field, ...]] = {"heads": HEADS, "obstructions": OBSTRUCTIONS, "pipes": PIPES}

_CORNER = re.compile(r"([xy])([1-9]\d{0,2})")
_SPOKEN_CORNER = re.compile(r"(?:corner|point|p)([1-9]\d{0,2})([xy])")


def field_of(kind: Kind, name: str) -> Field | None:
    """Give a field by its own name; corners ``x1``, ``y1`` ... of obstructions are fields without end.

    Returns
    -------
    Field or None
    """
    for field in FIELDS[kind]:
        if field.name == name:
            return field
    if kind == "obstructions" and _CORNER.fullmatch(name):
        return Field(name, "length")
    return None


def corner_of(key: str) -> str | None:
    """Give the corner's field that a header's key means: ``x1`` for itself and for ``corner1x``."""
    if _CORNER.fullmatch(key):
        return key
    spoken = _SPOKEN_CORNER.fullmatch(key)
    return f"{spoken[2]}{spoken[1]}" if spoken else None


def key_of(header: str) -> str:
    """Give what of a header is compared.

    Returns
    -------
    str
        NFKC, without case, blanks, ``_``, ``-``, ``.``.
    """
    text = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", header).casefold())
    return re.sub(r"[\s_.\-]+", "", text)
