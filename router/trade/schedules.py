"""Pipe schedules: how many heads a size may feed, by hazard and case (used through ``tables``)."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.trade.published import Table

HAZARDS = ("light", "ordinary")
CASES = ("standard", "above_and_below", "long_spacing")
LIGHT_BY_AREA = 100
"""DN from which light hazard pipe is limited by area, not by heads."""


def schedule(tables: Mapping[str, Table], sizes: tuple[int, ...], hazard: str, case: str) -> dict[int, int]:
    """Return ``{dn: most heads}`` for the sizes that are made, smallest first.

    Raises
    ------
    ValueError
        Names the hazard or case that there is not.
    """
    found = {}
    for dn in sizes:
        values = tables[schedule_table(tables, hazard, case, dn)].values
        if dn in values:
            found[dn] = int(float(str(values[dn])))
    return found


def schedule_table(tables: Mapping[str, Table], hazard: str, case: str, dn: int | None = None) -> str:
    """Return the name of the table that a size's row is from; without a size the case's own.

    Raises
    ------
    ValueError
        Names the hazard or case that there is not.
    """
    if hazard not in HAZARDS:
        raise ValueError(f"hazard {hazard!r} is not one of {', '.join(HAZARDS)}")
    if case not in CASES:
        raise ValueError(f"schedule case {case!r} is not one of {', '.join(CASES)}")
    standard = f"schedule_{hazard}"
    if case == "standard":
        return standard
    own = f"{standard}_{case}"
    if own not in tables:
        raise ValueError(f"{hazard} hazard has no pipe schedule {case!r}; it is for ordinary hazard only")
    if dn is None:
        return own
    rows = [key for key in tables[own].values if isinstance(key, int)]
    inside = dn in rows if case == "long_spacing" else dn <= max(rows)
    return own if inside else standard


def size_for_heads(steps: Mapping[int, int], heads: int, hazard: str) -> int:
    """Return the smallest DN of a schedule that may feed so many heads.

    Raises
    ------
    ValueError
        If there are more heads than the schedule goes to.
    """
    for dn, most in steps.items():
        if heads <= most:
            return dn
    if hazard == "light":
        return LIGHT_BY_AREA
    raise ValueError(
        f"{heads} heads are more than the {hazard} hazard pipe schedule feeds "
        f"({max(steps.values())}); give the size of the run"
    )
