"""What a cut list holds. All lengths in mm unless a name says units.

A unit is 1 mm, or 1/16 in. in scenarios of the inch standard.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from router.route.model import Hanger, LowSection, PieceKind, Xyz
    from router.trade.sizes import Standard

Preparation = Literal["threaded", "grooved", "bevel"]


@dataclass(frozen=True)
class End:
    """One end of a piece.

    ``stands``: what it goes into, as ``tee F0005`` or ``head H3``; ``less``: how
    much the pipe stops short of the centre there (take-out less engagement, mm);
    ``grade``: how sure that is, empty where nothing is taken out.
    """

    stands: str
    preparation: Preparation
    less: float = 0.0
    grade: str = ""


@dataclass(frozen=True)
class Outlet:
    """A hole that the fabricator makes in uncut pipe.

    ``station``: from the cut's start end to the outlet's centre, mm; ``clock``:
    degrees clockwise from the top, looking along the pipe from its start.
    """

    fitting: str
    station: float
    dn: int
    direction: str
    clock: float


@dataclass(frozen=True)
class Cut:
    """One length of pipe as it is cut.

    ``tag``: the piece's id, with a letter where a piece is made of several cuts;
    ``mark``: shared by all cuts that are alike; ``centres``: centre to centre of
    the whole piece; ``exact``: the bare length; ``units``: it rounded.
    """

    tag: str
    piece: str
    run: str
    takeoff: str
    kind: PieceKind
    dn: int
    centres: float
    exact: float
    units: int
    ends: tuple[End, End]
    grade: str
    outlets: tuple[Outlet, ...] = ()
    note: str = ""
    mark: str = ""


@dataclass(frozen=True)
class Ordered:
    """What is ordered to length: a dry head's barrel or a hose.

    ``centres``: along its axis from the fitting's centre; ``face``: from the
    fitting's face. ``stock``: the stock length of a hose, ``None`` if none is long enough.
    """

    tag: str
    kind: Literal["barrel", "hose"]
    run: str
    takeoff: str
    head: str
    dn: int
    centres: float
    face: float
    stock: float | None
    starts: str


@dataclass(frozen=True)
class Group:
    """Cuts that are alike: same size, rounded length, ends and outlets."""

    mark: str
    dn: int
    units: int
    preparations: tuple[Preparation, Preparation]
    tags: tuple[str, ...]
    outlets: tuple[Outlet, ...] = ()


@dataclass(frozen=True)
class Bar:
    """A stock length and the cuts that come out of it, longest first."""

    number: int
    dn: int
    stock_units: int
    cuts: tuple[Cut, ...]
    saw_cuts: int
    left_units: int


@dataclass(frozen=True)
class StockSize:
    """How one size is cut from stock.

    ``bought_units`` is the whole length bought, ``least_units`` a bound below
    which no cutting plan can stay; ``proven`` if they are equal. ``fewest``: no
    plan needs fewer bars than that.
    """

    dn: int
    bars: int
    fewest: int
    bought_units: int
    least_units: int
    cut_units: int
    proven: bool


@dataclass(frozen=True)
class FittingLine:
    """So many fittings of a kind and sizes. ``bushings``: what each needs besides, (outer, inner) DN."""

    kind: str
    word: str
    sizes: str
    joining: str
    quantity: int
    ids: tuple[str, ...]
    bushings: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class Coupling:
    """A joint of two pipes without a fitting: counted apart, never as a fitting."""

    kind: Literal["coupling", "grooved coupling", "girth weld"]
    dn: int
    why: str
    at: str


@dataclass(frozen=True)
class Total:
    """One line of the totals; ``price`` and ``minutes`` are ``None`` without a price table."""

    what: str
    size: str
    quantity: float
    unit: str
    price: float | None = None
    minutes: float | None = None


@dataclass(frozen=True)
class HangerLine:
    """A hanger with the size that it holds."""

    hanger: Hanger
    dn: int | None
    station: float | None
    """From the piece's start, mm."""


@dataclass(frozen=True)
class CutList:
    """All that the shop needs of a route."""

    scenario: str
    standard: Standard
    caution: str
    saw_units: int
    stock_units: tuple[int, ...]
    cuts: list[Cut]
    ordered: list[Ordered]
    groups: list[Group]
    bars: list[Bar]
    stock: list[StockSize]
    not_nested: list[Cut]
    fittings: list[FittingLine]
    couplings: list[Coupling]
    hangers: list[HangerLine]
    drains: list[LowSection]
    totals: list[Total]
    currency: str = ""
    remarks: list[str] = field(default_factory=list)


def place(at: Xyz) -> tuple[float, float, float]:
    """Give a place as a key: to a hundredth of a millimetre."""
    return (round(at[0], 2) + 0.0, round(at[1], 2) + 0.0, round(at[2], 2) + 0.0)
