"""How far apart hangers may be, and how near to heads: every limit with its source and grade."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple, Protocol

if TYPE_CHECKING:
    from router.trade.tables import Tables

HIGH_PRESSURE_BAR: Final = 6.9
"""NFPA 13: 100 psi; above it pendents below a ceiling have shorter limits."""

FITTING_CLEARANCE_MM: Final = 25.0
"""Bare pipe left between a hanger and a fitting's end (common practice, no source)."""

LONGEST_ROD_MM: Final = 3000.0
"""What stands higher over a pipe is another storey's: nothing hangs from it (common practice, no source)."""

STRUCTURE: Final = ("beam", "joist", "purlin", "truss", "slab", "deck", "roof")
"""Kinds of obstruction that pipe may hang from: any that has one of these words in it."""


class HangerRules(Protocol):
    """Of ``router.scenario.model.Rules``: own values in mm, ``None`` for the table's."""

    @property
    def arm_unsupported(self) -> float | None:
        """Of an arm-over beyond its last hanger."""

    @property
    def hanger_spacing(self) -> float | None:
        """Between two hangers."""

    @property
    def hanger_to_end(self) -> float | None:
        """From the last hanger to the end head."""


class Limit(NamedTuple):
    """A length in mm, where it comes from, and how sure that is."""

    mm: float
    source: str
    grade: str


class HangerLimits:
    """The limits in force: the scenario's own rule, its own table rows, or the published tables.

    Parameters
    ----------
    tables : Tables
        With ``rules.tables`` laid over; ``metric`` takes the printed metric values.
    rules : HangerRules
    """

    def __init__(self, tables: Tables, rules: HangerRules) -> None:
        self._tables, self._rules = tables, rules
        self._metric = "_metric" if tables.standard == "metric" else ""
        self._found: dict[tuple[str, str | int], Limit] = {}
        self._sized: dict[tuple[str, int], Limit] = {}

    def spacing(self, dn: int) -> Limit:
        """Return the greatest distance between two hangers on pipe of a size."""
        if self._rules.hanger_spacing is not None:
            return _given(self._rules.hanger_spacing, "hanger_spacing")
        return self._by_size(f"hanger_spacing{self._metric}", dn)

    def to_end(self, dn: int, high: bool = False) -> Limit:
        """Return the greatest distance from the last hanger to the end head, its arm included.

        ``dn``: of the run there; ``high``: the head is a pendent below a ceiling
        and the pressure is over 100 psi (6.9 bar).
        """
        if self._rules.hanger_to_end is not None:
            return _given(self._rules.hanger_to_end, "hanger_to_end")
        if high:
            return self._row("hanger_to_end_high", "steel")
        return self._by_size(f"hanger_to_end{self._metric}", dn)

    def arm(self, high: bool = False) -> Limit:
        """Return the greatest cumulative horizontal length of an arm-over beyond its last hanger."""
        if self._rules.arm_unsupported is not None:
            return _given(self._rules.arm_unsupported, "arm_unsupported")
        return self._row(f"arm_unsupported{self._metric}", "steel over 100 psi pendent" if high else "steel")

    def starter(self) -> Limit:
        """Return the length from which a run's first section of pipe needs a hanger."""
        return self._row("hanger_section", "starter")

    def close_heads(self) -> Limit:
        """Return the length from which any other section of pipe needs a hanger of its own."""
        return self._row("hanger_section", "close heads")

    def close_spacing(self) -> Limit:
        """Return how far apart hangers may be where a shorter section has none of its own."""
        return self._row("hanger_section", "spacing at close heads")

    def upright(self) -> Limit:
        """Return the least distance from a hanger to the centre line of an upright head."""
        return self._row(f"hanger_to_upright{self._metric}", "least")

    def sprig(self) -> Limit:
        """Return the length from which a sprig is restrained."""
        return self._row(f"sprig_restraint{self._metric}", "from")

    def _row(self, table: str, row: str | int) -> Limit:
        found = self._found.get((table, row))
        if found is None:
            source, _ = self._tables.source(table)
            found = Limit(self._tables.length(table, row), source, str(self._tables.grade(table, row)))
            self._found[table, row] = found
        return found

    def _by_size(self, table: str, dn: int) -> Limit:
        """Give the size's row; a size without one takes the next smaller's, below all the smallest's."""
        remembered = self._sized.get((table, dn))
        if remembered is None:
            remembered = self._sized[table, dn] = self._look_up(table, dn)
        return remembered

    def _look_up(self, table: str, dn: int) -> Limit:
        listed = [size for size in self._tables.sizes if self._tables.has(table, size)]
        row = max((size for size in listed if size <= dn), default=min(listed))
        found = self._row(table, row)
        if row == dn:
            return found
        return Limit(found.mm, f"assumed: DN{row} taken, no row for DN{dn} ({found.source})", "D")


def is_structure(kind: str) -> bool:
    """Whether pipe may hang from an obstruction of that kind."""
    return any(word in kind.lower() for word in STRUCTURE)


def _given(mm: float, name: str) -> Limit:
    return Limit(mm, f"given in the scenario (rules.{name})", "none")
