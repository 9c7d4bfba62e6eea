"""Paper and scales that drawings come in.

ISO 216 (A series) and ASME Y14.1 (A to E; B is also called tabloid), trimmed sizes from memory.
Scales: ISO 5455 recommends 1:2, 1:5 and 1:10 with their multiples by ten; 1:25 is common practice in
buildings. Inch drawings take architectural scales: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from router.cutlist.lengths import feet_inches, to_units

if TYPE_CHECKING:
    from collections.abc import Callable

PAPERS: dict[str, tuple[float, float, str]] = {
    "A4": (297.0, 210.0, "ISO 216"),
    "A3": (420.0, 297.0, "ISO 216"),
    "A2": (594.0, 420.0, "ISO 216"),
    "A1": (841.0, 594.0, "ISO 216"),
    "A0": (1189.0, 841.0, "ISO 216"),
    "tabloid": (431.8, 279.4, "ASME Y14.1 B"),
    "ansi-c": (558.8, 431.8, "ASME Y14.1 C"),
    "ansi-d": (863.6, 558.8, "ASME Y14.1 D"),
    "ansi-e": (1117.6, 863.6, "ASME Y14.1 E"),
}
"""Name: width and height on its long side, mm; the standard."""

METRIC_SCALES = {n: f"1:{n}" for n in (10, 20, 25, 50, 100, 200, 500)}
INCH_SCALES = {
    12: "1\" = 1'-0\"",
    16: "3/4\" = 1'-0\"",
    24: "1/2\" = 1'-0\"",
    32: "3/8\" = 1'-0\"",
    48: "1/4\" = 1'-0\"",
    96: "1/8\" = 1'-0\"",
    192: "1/16\" = 1'-0\"",
    480: "1\" = 40'-0\"",
}
COARSEST_PLAN = 100
"""A plan that does not fit one sheet at this scale (inch: 1:96) is split over several."""


@dataclass(frozen=True)
class Paper:
    """A sheet lying on its long side, mm. ``inch``: lengths in feet and inches, architectural scales."""

    name: str
    width: float
    height: float
    standard: str
    inch: bool

    @property
    def scales(self) -> dict[int, str]:
        """Scales to choose from, finest first, and how each is written."""
        return INCH_SCALES if self.inch else METRIC_SCALES

    @property
    def write(self) -> Callable[[float], str]:
        """How a length in mm is written on the sheet."""
        return feet_text if self.inch else mm_text


def mm_text(value: float) -> str:
    """Write a length in mm.

    >>> mm_text(4180.4)
    '4,180'
    """
    return f"{value:,.0f}"


def feet_text(value: float) -> str:
    """Write a length in mm as feet, inches and sixteenths, as the cut list does.

    >>> print(feet_text(1219.2))
    4'-0"
    """
    return feet_inches(to_units(value, "inch"))


def paper_of(name: str | None, *, inch: bool) -> Paper:
    """Find a paper by name; ``None``: A3, or tabloid for inch drawings.

    Raises
    ------
    ValueError
        Names the paper and lists those that there are.
    """
    wanted = name or ("tabloid" if inch else "A3")
    for known, (width, height, standard) in PAPERS.items():
        if known.lower() == wanted.lower():
            return Paper(known, width, height, standard, inch)
    raise ValueError(f"--paper: {wanted!r} is no paper; one of {', '.join(PAPERS)} expected")
