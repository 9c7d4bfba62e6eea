"""Weight and water of pipe, summed up from the trade tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.trade.tables import Tables


def totals(tables: Tables, pipe_m: Mapping[str, float]) -> tuple[float, float]:
    """Weight in kg and water in litres of pipe by DN (as text); sizes that are not made count nothing.

    The referee reports such sizes.
    """
    made = {int(dn): metres for dn, metres in pipe_m.items() if int(dn) in tables.sizes}
    kg = sum(tables.weight_per_m(dn) * metres for dn, metres in made.items())
    litres = sum(tables.litres_per_m(dn) * metres for dn, metres in made.items())
    return kg, litres


def sources(tables: Tables) -> list[str]:
    """Where diameter, bore and density come from, with their grades."""
    density, grade = tables.source("steel_density")
    lines = [
        f"steel: {tables.number('steel_density', 'steel'):g} kg/m3, {density} (grade {grade}); "
        "fittings, hoses and barrels are not weighed"
    ]
    for what in ("od", "bore"):
        source, grade = tables.source(f"pipe_{tables.standard}_{what}")
        lines.append(f"{source} (grade {grade})")
    return lines
