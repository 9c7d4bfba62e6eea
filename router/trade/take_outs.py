"""Take-outs: from the centre of a fitting to its end, and from which table.

Each joining method has one function per fitting. A look-up that finds no row
takes the nearest longer value (it never flatters the make-up) and is graded D.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from router.trade.sizes import SIZES, nps

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.trade.published import Grade, Key, Table
    from router.trade.sizes import Standard

Joining = Literal["threaded", "welded", "grooved", "butt_weld"]
Port = Literal["run", "outlet"]
Fitting = Literal[
    "tee", "cross", "elbow_90", "elbow_45", "elbow_odd", "outlet", "reducer", "reducing_coupling"
]


@dataclass(frozen=True)
class Found:
    """A value with where it comes from. ``mm``: the length; ``sure``: its grade."""

    mm: float
    source: str
    sure: Grade
    table: str


class TakeOuts:
    """Look-ups over one set of tables and one standard."""

    def __init__(self, tables: Mapping[str, Table], standard: Standard) -> None:
        self._tables = tables
        self._standard = standard

    def find(self, fitting: str, port: str, dn: int, outlet_dn: int, joining: str) -> Found:
        """Return the centre-to-end length of one port of a fitting.

        Parameters are those of :meth:`router.trade.tables.Tables.take_out`.
        """
        if port not in ("run", "outlet"):
            raise ValueError(f"port {port!r} is not one of run, outlet")
        if joining not in ("threaded", "welded", "grooved", "butt_weld"):
            raise ValueError(f"joining {joining!r} is not one of threaded, welded, grooved, butt_weld")
        if fitting == "outlet":
            return self._outlet(port, dn, outlet_dn, joining)
        if fitting == "reducer":
            return self._reducer(max(dn, outlet_dn), joining)
        if fitting == "reducing_coupling":
            return self._reducing_coupling(max(dn, outlet_dn), joining)
        if fitting == "elbow_45":
            if outlet_dn != dn:
                raise ValueError(f"no 45 degree elbow reduces: {nps(dn)} x {nps(outlet_dn)} in.")
            return self._elbow_45(dn, joining)
        if fitting == "elbow_odd":
            # longer than any elbow of a smaller angle, so never too short below 90 degrees
            return _doubtful(
                self._branching("elbow_90", port, dn, outlet_dn, joining),
                "the 90 degree elbow's taken for an odd angle",
            )
        if fitting in ("tee", "cross", "elbow_90"):
            return self._branching(fitting, port, dn, outlet_dn, joining)
        raise ValueError(
            f"fitting {fitting!r} is not one of tee, cross, elbow_90, elbow_45, elbow_odd, outlet, reducer, "
            "reducing_coupling"
        )

    def row(self, table: str, key: Key) -> Found | None:
        """Return one row, or ``None`` if the table has none."""
        found = self._tables[table]
        mm = found.mm(key)
        if mm is None:
            return None
        if key in found.overridden:
            return Found(mm, f"given in the scenario (rules.tables.{table})", "A", table)
        return Found(mm, found.source, found.grade(key), table)

    def must(self, table: str, key: Key) -> Found:
        """Return one row.

        Raises
        ------
        ValueError
            Names the size and the sizes that there are.
        """
        found = self.row(table, key)
        if found is None:
            rows = ", ".join(f"DN{k}" if isinstance(k, int) else str(k) for k in self._tables[table].values)
            wanted = f"DN{key}" if isinstance(key, int) else repr(key)
            raise ValueError(f"table {table} has no row {wanted}; it has {rows}")
        return found

    # -- tees, crosses and 90 degree elbows -------------------------------------------------

    def _branching(self, fitting: str, port: str, dn: int, outlet_dn: int, joining: str) -> Found:
        if joining == "threaded":
            return self._threaded(fitting, port, dn, outlet_dn)
        if joining == "grooved":
            table = "grooved_90" if fitting == "elbow_90" else "grooved_tee"
            found = self.must(table, max(dn, outlet_dn))
            return found if dn == outlet_dn else _doubtful(found, "the full size's taken for a reducing one")
        return self._butt_welded(fitting, port, dn, outlet_dn)

    def _threaded(self, fitting: str, port: str, dn: int, outlet_dn: int) -> Found:
        if dn == outlet_dn:
            return self._full_size_threaded(dn)
        metric = "_metric" if self._standard == "metric" else ""
        found = self.row(f"reducing_tee_{port}{metric}", (dn, outlet_dn))
        if found is None:
            return _doubtful(
                self._full_size_threaded(max(dn, outlet_dn)),
                "no row for this reducing size, the full size's (longer) taken",
            )
        if fitting == "tee" or found.sure == "D":
            return found
        other = "elbows" if fitting == "elbow_90" else "crosses"
        text = f"{found.source}; that reducing {other} use the same pair is from memory"
        return Found(found.mm, text, "C", found.table)

    def _full_size_threaded(self, dn: int) -> Found:
        if self._standard == "inch":
            return self.must("threaded_90", dn)
        found = self.row("threaded_90_metric", dn)
        return found or _doubtful(self.must("threaded_90", dn), "no EN 10242 row, the inch value taken")

    def _butt_welded(self, fitting: str, port: str, dn: int, outlet_dn: int) -> Found:
        if fitting == "elbow_90":
            found = self.must("butt_weld_90", max(dn, outlet_dn))
        elif port == "outlet" and outlet_dn < dn:
            found = self.row("butt_weld_tee_outlet", (dn, outlet_dn)) or _doubtful(
                self.must("butt_weld_tee", dn), "no row for this reducing size, the straight tee's taken"
            )
        else:
            found = self.must("butt_weld_tee", max(dn, outlet_dn))
        if fitting == "cross":
            found = _doubtful(found, "the tee's taken for a cross")
        return self._welded_standard(found)

    # -- the others -------------------------------------------------------------------------

    def _elbow_45(self, dn: int, joining: str) -> Found:
        if joining == "grooved":
            return self.must("grooved_45", dn)
        if joining != "threaded":
            return self._welded_standard(self.must("butt_weld_45", dn))
        if self._standard == "inch":
            return self.must("threaded_45", dn)
        found = self.row("threaded_45_metric", dn)
        return found or _doubtful(self.must("threaded_45", dn), "no EN 10242 row, the inch value taken")

    def _reducer(self, dn: int, joining: str) -> Found:
        if joining in ("welded", "butt_weld"):
            return self._welded_standard(self.must("butt_weld_reducer", dn))
        found = self.row("threaded_reducer", dn)
        if found is None:
            longer = next((size for size in SIZES if size > dn and self.row("threaded_reducer", size)), None)
            if longer is None:
                return self.must("threaded_reducer", dn)
            found = _doubtful(self.must("threaded_reducer", longer), f"no row for DN{dn}, DN{longer} taken")
        if self._standard == "metric":
            return _doubtful(found, "the inch value taken for a metric reducing socket")
        return found

    def _reducing_coupling(self, dn: int, joining: str) -> Found:
        """Half of its length: it stands in the run with its centre between its two ends."""
        if joining == "grooved":
            whole = _doubtful(
                self.must("butt_weld_reducer", dn), "the butt weld reducer's taken for a grooved one"
            )
        else:
            whole = self._reducer(dn, joining)
        return Found(whole.mm / 2, f"half the length: {whole.source}", whole.sure, whole.table)

    def _outlet(self, port: str, dn: int, outlet_dn: int, joining: str) -> Found:
        pipe = "pipe_inch_od" if self._standard == "inch" else "pipe_metric_od"
        if joining == "grooved":
            if port == "outlet":
                return self._above(self.must(pipe, dn), self.must("mechanical_tee_outlet_height", outlet_dn))
            side = self.must("mechanical_tee_side", "side")
            return self._above(self.must(pipe, outlet_dn), side)
        if joining in ("welded", "butt_weld"):
            if port == "outlet":
                return self._above(self.must(pipe, dn), self.must("welded_outlet_height", outlet_dn))
            # half the gap on either side: two outlets keep the whole one, and so does
            # an outlet and a girth weld once the working allowance is added
            fillet = self.must("welded_outlet_fillet", "leg").mm if outlet_dn <= 50 else 0.0
            gap = self.must("welded_outlet_gap", outlet_dn)
            boss = self.must("welded_outlet_boss", outlet_dn)
            return Found(
                boss.mm / 2 + fillet + gap.mm / 2,
                f"half the boss, the fillet and half the gap: {gap.source}",
                max(boss.sure, gap.sure),
                gap.table,
            )
        raise ValueError("joining 'threaded' has no outlet on an uncut run: it takes a tee")

    def _welded_standard(self, found: Found) -> Found:
        if self._standard == "metric" and "ASME" in found.source:
            return _doubtful(found, "the inch value taken for metric pipe")
        return found

    @staticmethod
    def _above(pipe: Found, more: Found) -> Found:
        return Found(
            pipe.mm / 2 + more.mm, f"half the outside diameter plus: {more.source}", more.sure, more.table
        )


def _doubtful(found: Found, why: str) -> Found:
    return Found(found.mm, f"assumed, doubtful: {why} ({found.source})", "D", found.table)
