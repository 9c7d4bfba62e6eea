"""Which auxiliary drain a trapped low section needs, by the water that it holds."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Literal, NamedTuple

from router.trade.sizes import label, parse_size

if TYPE_CHECKING:
    from router.trade.published import Grade
    from router.trade.tables import Tables

LITRES_PER_GALLON = 3.785411784
"""Exact: 231 cubic inches of 25.4 mm."""

CountsAs = Literal["drain", "large_drain", "wet_drain"]


class Part(NamedTuple):
    """``number`` parts of one name and nominal size (DN)."""

    name: str
    dn: int
    number: int


@dataclass(frozen=True)
class Drain:
    """What a trapped section needs.

    ``name``: for a record; ``text``: for a reader; ``counts_as``: the objective
    term; ``parts``: what it is made of; ``source`` and ``grade`` of the rule that
    asks for it.
    """

    name: str
    text: str
    counts_as: CountsAs
    parts: tuple[Part, ...]
    source: str
    grade: Grade


def drain_for(system_kind: str, volume_l: float, *, tables: Tables) -> Drain:
    """Return the drain of a trapped low section.

    Whether a section needs one at all is for the caller: a wet section that a
    pendent head empties needs none (from memory: NFPA 13).

    Parameters
    ----------
    system_kind : {"wet", "dry", "preaction"}
    volume_l : float
        Water that stays in the section, litres. A volume at a limit takes the
        larger drain.
    tables : Tables
        With the scenario's own limits and sizes laid over the published ones
        (``drain_volume_dry``, ``drain_volume_wet`` in gal).

    Raises
    ------
    ValueError
        Names the system kind that there is not, or the volume that cannot be.
    """
    if not isfinite(volume_l) or volume_l < 0:
        raise ValueError(f"volume {volume_l} l of a trapped section is not 0 or more")
    if system_kind == "wet":
        return _wet(volume_l, tables)
    if system_kind in ("dry", "preaction"):
        return _dry(volume_l, tables)
    raise ValueError(f"system kind {system_kind!r} is not one of wet, dry, preaction")


def limit_l(tables: Tables, table: str, row: str) -> float:
    """Return a volume of a drain table in litres."""
    return tables.number(table, row) * LITRES_PER_GALLON


def _dry(volume_l: float, tables: Tables) -> Drain:
    if volume_l < limit_l(tables, "drain_volume_dry", "two valves"):
        parts = (_part(tables, "drain_small_dry", "valve"), _part(tables, "drain_small_dry", "plug"))
        return _drain("valve_and_plug", "drain", parts, "drain_small_dry", tables)
    length = tables.length("condensate_nipple", "length")
    long = f"{length / 25.4:g} in." if tables.standard == "inch" else f"{length:.0f} mm"
    valves = _part(tables, "drain_large_dry", "valve", number=2)
    nipple = _part(tables, "drain_large_dry", "condensate nipple", f"condensate nipple {long} long")
    return _drain(
        "two_valves_and_condensate_nipple", "large_drain", (valves, nipple), "drain_large_dry", tables
    )


def _wet(volume_l: float, tables: Tables) -> Drain:
    if volume_l < limit_l(tables, "drain_volume_wet", "valve"):
        nipple = _part(tables, "drain_wet", "small nipple", "nipple")
        cap = _part(tables, "drain_wet", "small cap", "cap")
        return _drain("nipple_and_cap", "wet_drain", (nipple, cap), "drain_wet", tables)
    if volume_l < limit_l(tables, "drain_volume_wet", "piped"):
        parts = (_part(tables, "drain_wet", "valve"), _part(tables, "drain_wet", "plug"))
        return _drain("wet_valve_and_plug", "wet_drain", parts, "drain_wet", tables)
    piped = (_part(tables, "drain_wet", "piped valve", "valve piped to a place that can be reached"),)
    return _drain("piped_valve", "wet_drain", piped, "drain_wet", tables)


def _part(tables: Tables, table: str, row: str, name: str | None = None, *, number: int = 1) -> Part:
    return Part(name or row, parse_size(round(tables.number(table, row))), number)


def _drain(name: str, counts_as: CountsAs, parts: tuple[Part, ...], table: str, tables: Tables) -> Drain:
    source, grade = tables.source(table)
    text = " and ".join(_spelled(part, tables) for part in parts)
    return Drain(name, text, counts_as, parts, source, grade)


def _spelled(part: Part, tables: Tables) -> str:
    count = {1: "a", 2: "two"}.get(part.number, str(part.number))
    name = part.name if part.number == 1 else f"{part.name}s"
    return f"{count} {label(part.dn, tables.standard)} {name}"
