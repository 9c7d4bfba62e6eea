"""Weight and water of pipe, by geometry from the trade tables."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.trade.tables import Tables

STEEL_KG_M3 = 7850.0
"""Density of carbon steel: the figure that the tables of ASME B36.10M are reckoned with (from memory)."""


def steel_kg_per_m(tables: Tables, dn: int) -> float:
    """Weight of a metre of plain pipe, kg: the ring between outside diameter and bore.

    Raises
    ------
    ValueError
        If there is no pipe of that size.
    """
    od, bore = tables.od(dn), tables.bore(dn)
    return STEEL_KG_M3 * pi / 4 * (od**2 - bore**2) / 1e6


def water_l_per_m(tables: Tables, dn: int) -> float:
    """Water in a metre of pipe, litres.

    Raises
    ------
    ValueError
        If there is no pipe of that size.
    """
    return float(pi / 4 * tables.bore(dn) ** 2 / 1000.0)


def totals(tables: Tables, pipe_m: Mapping[str, float]) -> tuple[float, float]:
    """Weight in kg and water in litres of pipe by DN (as text); sizes that are not made count nothing.

    The referee reports such sizes.
    """
    made = {int(dn): metres for dn, metres in pipe_m.items() if int(dn) in tables.sizes}
    kg = sum(steel_kg_per_m(tables, dn) * metres for dn, metres in made.items())
    litres = sum(water_l_per_m(tables, dn) * metres for dn, metres in made.items())
    return kg, litres


def sources(tables: Tables) -> list[str]:
    """Where diameter, bore and density come from, with their grades."""
    lines = [f"steel: {STEEL_KG_M3:g} kg/m3, from memory; fittings, hoses and barrels are not weighed"]
    for what in ("od", "bore"):
        source, grade = tables.source(f"pipe_{tables.standard}_{what}")
        lines.append(f"{source} (grade {grade})")
    return lines
