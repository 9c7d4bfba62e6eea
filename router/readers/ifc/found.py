"""What the reading process gives back for each file: plain records, lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from shapely.errors import ShapelyError

if TYPE_CHECKING:
    from router.readers.drawn import Xyz

Part = tuple[list[tuple[float, float]], float, float]
"""A plan polygon without holes (not closed), and its lowest and highest elevation."""


class Unusable(Exception):
    """Why an element cannot be taken."""


DAMAGED = (AttributeError, TypeError, ValueError, LookupError, RuntimeError, ArithmeticError, ShapelyError)
"""What comes of a description that lacks what the standard asks for, or holds something else."""


@dataclass
class Thing:
    """What is common to all elements. ``words``: all texts that may say what it is."""

    guid: str
    file: str
    step: int
    ifc_class: str
    name: str = ""
    tag: str = ""
    words: str = ""

    def label(self) -> str:
        """Name the element for a message.

        Returns
        -------
        str
        """
        return f"{self.ifc_class} #{self.step}" + (f' "{self.name}"' if self.name else "")


@dataclass
class FoundHead(Thing):
    """A head. ``linked``: GlobalIds of pipes that its ports lead to. ``ours``: text of our own set."""

    at: Xyz = (0.0, 0.0, 0.0)
    port: Xyz | None = None
    front: Xyz = (1.0, 0.0, 0.0)
    kind: str = ""
    dry: bool = False
    thread: Any = None
    k_factor: float | None = None
    linked: list[str] = field(default_factory=list)
    ours: str | None = None


@dataclass
class FoundPipe(Thing):
    """A pipe. ``a``, ``b``: its axis up to the fittings' centres; ``drawn``: as its body reaches.

    ``radius``: of its body; ``hollow``: that radius is surely the outer one.
    ``size``: DN that a property or name says, else 0. ``parts``: its body where that is
    more than a round bar along ``drawn``. ``run``, ``piece``: properties of our own sets.
    """

    a: Xyz | None = None
    b: Xyz | None = None
    drawn: tuple[Xyz, Xyz] | None = None
    radius: float = 0.0
    hollow: bool = False
    size: int = 0
    flexible: bool = False
    systems: str = ""
    fire: bool = False
    linked: list[str] = field(default_factory=list)
    parts: list[Part] = field(default_factory=list)
    run: dict[str, Any] | None = None
    piece: dict[str, Any] | None = None


@dataclass
class FoundSolid(Thing):
    """A body. ``which``: the list of ours that it belongs to, with its text ``ours``."""

    kind: str = "other"
    fitting: bool = False
    parts: list[Part] = field(default_factory=list)
    which: str = ""
    ours: str | None = None
    systems: str = ""
    fire: bool = False
    linked: list[str] = field(default_factory=list)


@dataclass
class FileFound:
    """All of one file.

    ``storeys``: names of all. ``terminals``, ``unclassified``: types of such that are no heads.
    ``skipped``: reason to the labels of some of its elements and their number.
    """

    file: str
    schema: str = ""
    unit: str = ""
    settings: str | None = None
    map_conversion: str = ""
    fittings: int = 0
    storeys: list[str] = field(default_factory=list)
    terminals: list[str] = field(default_factory=list)
    unclassified: list[str] = field(default_factory=list)
    heads: list[FoundHead] = field(default_factory=list)
    pipes: list[FoundPipe] = field(default_factory=list)
    solids: list[FoundSolid] = field(default_factory=list)
    skipped: dict[str, tuple[int, list[str]]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def skip(self, reason: str, label: str) -> None:
        """Count an element that is left out; the first few are named where they have a name."""
        count, names = self.skipped.get(reason, (0, []))
        self.skipped[reason] = (count + 1, [*names, label] if count < 3 and label else names)


def from_plain(data: dict[str, Any]) -> FileFound:
    """Rebuild what :func:`dataclasses.asdict` and JSON made of a :class:`FileFound`.

    Returns
    -------
    FileFound
    """
    found = FileFound(**{**data, "heads": [], "pipes": [], "solids": []})
    found.skipped = {reason: (count, names) for reason, (count, names) in data["skipped"].items()}
    for row in data["heads"]:
        row.update(at=tuple(row["at"]), front=tuple(row["front"]), port=_point(row["port"]))
        found.heads.append(FoundHead(**row))
    for row in data["pipes"]:
        drawn = row["drawn"] and (tuple(row["drawn"][0]), tuple(row["drawn"][1]))
        row.update(a=_point(row["a"]), b=_point(row["b"]), drawn=drawn, parts=_parts(row["parts"]))
        found.pipes.append(FoundPipe(**row))
    for row in data["solids"]:
        row.update(parts=_parts(row["parts"]))
        found.solids.append(FoundSolid(**row))
    return found


def _point(value: list[float] | None) -> Xyz | None:
    return None if value is None else (value[0], value[1], value[2])


def _parts(rows: list[Any]) -> list[Part]:
    return [([(x, y) for x, y in corners], low, high) for corners, low, high in rows]
