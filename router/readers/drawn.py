"""What a foreign file holds, whatever its format: heads, pipes and solids, in mm.

Every reader ends here, and ``router.readers.floor`` makes a scenario of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.scenario.model import HeadKind

Xy = tuple[float, float]
Xyz = tuple[float, float, float]


@dataclass(frozen=True)
class DrawnHead:
    """A head: its inlet in mm, thread as DN, facing in degrees anticlockwise from +x.

    ``line``: the line that it is said to be on. ``given``: further fields of a
    head's record in a scenario file, in mm (``k_factor``, ``dry``, ``run`` ...),
    with ``kind`` and ``thread`` where the file says them.
    """

    id: str
    at: Xyz
    kind: HeadKind
    thread: int
    line: str = ""
    facing: float | None = None
    given: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class DrawnPipe:
    """A straight pipe: the ends of its axis in mm, DN.

    ``role``: ``main``, ``branch``, ``head_arm`` (all that is between a line and a
    head), ``hose``, or empty where the file does not say. ``line``: name of the branch line.
    ``heads``: heads that it is said to serve. ``sure``: it is known to be a sprinkler pipe;
    one that is not, and leads to no head, is an obstruction.
    """

    id: str
    a: Xyz
    b: Xyz
    dn: int
    role: str = ""
    line: str = ""
    heads: tuple[str, ...] = ()
    sure: bool = True


@dataclass(frozen=True)
class DrawnSolid:
    """An obstruction: a plan polygon (not closed) and its lowest and highest elevation, mm.

    ``exact``: it is an obstruction of a scenario of ours, to be taken as it stands;
    others are left out where they cannot matter, and yield where a line that was drawn
    beside them runs through their boxes. ``guid``: GlobalId of the element that it is, or
    is a part of.
    """

    id: str
    kind: str
    corners: list[Xy]
    low: float
    high: float
    clearance: float | None = None
    exact: bool = False
    guid: str | None = None


@dataclass
class Drawn:
    """All that was found in one or more files.

    ``runs``, ``ceilings``, ``keep_out``: records as a scenario file holds them, mm;
    runs only from files that say so themselves, and then ``pipes`` are no lines but
    a person's route. ``settings``: other top-level fields of a scenario (``system``,
    ``rules`` ...), mm. ``shift``: what was taken off every place, mm, where the reader chose
    it by what it found. ``notes``: one sentence for everything decided or left out.
    ``hints``: what helps where no ``heads`` or no ``pipes`` were found.
    """

    source: str
    heads: list[DrawnHead] = field(default_factory=list)
    pipes: list[DrawnPipe] = field(default_factory=list)
    solids: list[DrawnSolid] = field(default_factory=list)
    ceilings: list[dict[str, Any]] = field(default_factory=list)
    keep_out: list[dict[str, Any]] = field(default_factory=list)
    runs: list[dict[str, Any]] = field(default_factory=list)
    settings: dict[str, Any] = field(default_factory=dict)
    shift: Xyz = (0.0, 0.0, 0.0)
    notes: list[str] = field(default_factory=list)
    hints: dict[str, str] = field(default_factory=dict)

    def hint(self, what: str) -> str:
        """Give a hint as the end of a message.

        Returns
        -------
        str
            Empty where there is none.
        """
        return f"; {self.hints[what]}" if what in self.hints else ""
