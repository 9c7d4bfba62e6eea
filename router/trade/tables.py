"""Everything the tables answer, in millimetres: pipe, take-outs, make-up, pitch, schedules.

>>> tables = Tables("inch")
>>> tee = tables.take_out("tee", "run", 25, joining="threaded")
>>> round(tables.least_centres(tee, tee, 25, joining="threaded"), 1)  # 3.678 in.
93.4
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING, Any

from router.trade.published import Grade, Key, Table, load, overlay
from router.trade.schedules import schedule, schedule_table, size_for_heads
from router.trade.sizes import SIZES, nps
from router.trade.take_outs import Found, TakeOuts

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.trade.given import SystemFacts
    from router.trade.sizes import Standard


class Tables:
    """The tables of one standard with a scenario's own values laid over them.

    Parameters
    ----------
    standard : {"inch", "metric"}
        ``inch``: ASME B36.10M Schedule 40 pipe, ASME B16.3 threaded fittings.
        ``metric``: EN 10255 medium pipe, EN 10242 threaded fittings.
    overrides : mapping, optional
        ``{table: {row: value}}`` in each table's own unit, as in ``rules.tables``.

    Raises
    ------
    ValueError
        Names an unknown standard, table or row, or a value that cannot be.
    """

    def __init__(self, standard: Standard = "inch", overrides: Mapping[str, Any] | None = None) -> None:
        if standard not in ("inch", "metric"):
            raise ValueError(f"standard {standard!r} is not one of inch, metric")
        self.standard = standard
        self._tables = overlay(load(), overrides or {})
        self._take_outs = TakeOuts(self._tables, standard)
        self._remembered: dict[tuple[str, str, int, int, str], Found] = {}
        self._engagements: dict[int, float] = {}
        self._schedules: dict[tuple[str, str], dict[int, int]] = {}
        self._sizes = tuple(dn for dn in SIZES if dn in self._tables[f"pipe_{standard}_od"].values)

    # -- pipe -------------------------------------------------------------------------------

    @property
    def sizes(self) -> tuple[int, ...]:
        """The DNs that the standard's pipe is made in (EN 10255 has no DN90)."""
        return self._sizes

    def od(self, dn: int) -> float:
        """Return the outside diameter of pipe, mm.

        Raises
        ------
        ValueError
            If the standard has no pipe of that size.
        """
        return self._pipe("od", dn)

    def bore(self, dn: int) -> float:
        """Return the inside diameter of pipe, mm (Schedule 40, or EN 10255 medium).

        Raises
        ------
        ValueError
            If the standard has no pipe of that size.
        """
        return self._pipe("bore", dn)

    def _pipe(self, what: str, dn: int) -> float:
        found = self._tables[f"pipe_{self.standard}_{what}"].mm(dn)
        if found is None:
            made = ", ".join(f"DN{size}" for size in self.sizes)
            raise ValueError(f"no {self.standard} pipe of size DN{dn}; there is {made}")
        return found

    def weight_per_m(self, dn: int) -> float:
        """Return the weight of plain steel pipe, kg per m: the ring between outside diameter and bore.

        Raises
        ------
        ValueError
            If the standard has no pipe of that size.
        """
        return self.number("steel_density", "steel") * pi / 4 * (self.od(dn) ** 2 - self.bore(dn) ** 2) / 1e6

    def litres_per_m(self, dn: int) -> float:
        """Return the water in pipe, litres per m.

        Raises
        ------
        ValueError
            If the standard has no pipe of that size.
        """
        return pi / 4 * self.bore(dn) ** 2 / 1000.0

    # -- fittings ---------------------------------------------------------------------------

    def take_out(
        self, fitting: str, port: str, dn: int, outlet_dn: int | None = None, *, joining: str
    ) -> float:
        """Return the centre-to-end length of one port of a fitting, mm.

        Parameters
        ----------
        fitting : str
            ``tee``, ``cross``, ``elbow_90``, ``elbow_45``, ``elbow_odd``,
            ``outlet`` (welded, or a mechanical tee if grooved), ``reducer`` or
            ``reducing_coupling`` (either port gives half its length).
        port : {"run", "outlet"}
            The port asked for. ``elbow_90``: ``run`` is the larger end.
            ``outlet``: its ``run`` is half the room that it takes along the run.
            ``reducer``: either port gives its whole length.
        dn, outlet_dn : int
            Sizes of the run and the outlet (default: the same).
        joining : str
            ``threaded``, ``welded``, ``grooved`` or ``butt_weld``.

        Raises
        ------
        ValueError
            Names the fitting or size that is not made.
        """
        return self.found(fitting, port, dn, outlet_dn, joining=joining).mm

    def found(self, fitting: str, port: str, dn: int, outlet_dn: int | None = None, *, joining: str) -> Found:
        """Return what :meth:`take_out` returns, with its source and grade."""
        key = (fitting, port, dn, dn if outlet_dn is None else outlet_dn, joining)
        found = self._remembered.get(key)
        if found is None:
            found = self._remembered[key] = self._take_outs.find(*key)
        return found

    def engagement(self, dn: int, *, joining: str) -> float:
        """Return how far a pipe end goes into a fitting, mm (0 unless threaded)."""
        if _known(joining) != "threaded":
            return 0.0
        found = self._engagements.get(dn)
        if found is None:
            found = self._engagements[dn] = self._engagement(dn)
        return found

    def _engagement(self, dn: int) -> float:
        if self.standard == "metric":
            found = self._tables["thread_engagement_metric"].mm(dn)
            if found is not None:
                return found
        return self._take_outs.must("thread_engagement", dn).mm

    def shortest_nipple(self, dn: int, *, joining: str, close: bool = False) -> float:
        """Return the shortest pipe that two fittings leave between them, mm, overall.

        Threaded: the shortest nipple with a shoulder, or with ``close`` the close
        nipple, which is the hard lower limit. Grooved: the gap between pipe
        ends. Welded and butt weld: 0.
        """
        if _known(joining) == "grooved":
            return self._take_outs.must("grooved_gap", "gap").mm
        if joining != "threaded":
            return 0.0
        kind = "close" if close else "shouldered"
        if self.standard == "metric":
            bare = self._take_outs.must("nipple_bare_metric", kind).mm
            return 2 * self.engagement(dn, joining=joining) + bare
        return self._take_outs.must(f"nipple_{kind}", dn).mm

    def least_centres(
        self, take_out_a: float, take_out_b: float, dn: int, *, joining: str, close: bool = False
    ) -> float:
        """Return the least distance between the centres of two fittings on pipe ``dn``, mm.

        Both take-outs plus the shortest nipple less two engagements.
        """
        nipple = self.shortest_nipple(dn, joining=joining, close=close)
        return take_out_a + take_out_b + nipple - 2 * self.engagement(dn, joining=joining)

    # -- pitch, hangers, hose ---------------------------------------------------------------

    def pitch(self, kind_of_run: str, system: SystemFacts) -> float:
        """Return the pitch of a run in mm per m, rising away from the supply.

        Parameters
        ----------
        kind_of_run : {"branch", "cross_main", "main"}
        system : SystemFacts
            Its own ``pitch_branch`` or ``pitch_main`` goes before the table.
        """
        if kind_of_run not in ("branch", "cross_main", "main"):
            raise ValueError(f"run kind {kind_of_run!r} is not one of branch, cross_main, main")
        row = "branch" if kind_of_run == "branch" else "main"
        given = system.pitch_branch if row == "branch" else system.pitch_main
        if given is not None:
            return given
        if system.kind == "wet":
            table = "pitch_wet"
        else:
            table = "pitch_refrigerated" if system.refrigerated else "pitch_dry"
        return self.number(table, row)

    def arm_unsupported(self, over_100_psi: bool = False) -> float:
        """Return the greatest cumulative horizontal length of an arm-over without a hanger, mm.

        ``over_100_psi``: of an arm to a pendent below a ceiling where the static
        pressure at the heads is over 100 psi (6.9 bar).
        """
        table = "arm_unsupported" if self.standard == "inch" else "arm_unsupported_metric"
        return self._take_outs.must(table, "steel over 100 psi pendent" if over_100_psi else "steel").mm

    def hanger_spacing(self, dn: int) -> float:
        """Return the greatest distance between hangers on a run, mm (1 in. and over)."""
        return self._take_outs.must("hanger_spacing", dn).mm

    def hanger_to_end(self, dn: int) -> float:
        """Return the greatest distance from the last hanger to the end head, mm (1 in. and over)."""
        return self._take_outs.must("hanger_to_end", dn).mm

    def hose_lengths(self) -> list[float]:
        """Return the stock lengths of flexible hose, mm, shortest first."""
        table = self._tables["hose_lengths"]
        values = table.values["stock"]
        inches = values if isinstance(values, list) else [values]
        return sorted(value * 25.4 for value in inches)

    def hose_bend_radius(self) -> float:
        """Return the least bend radius of flexible hose, mm."""
        return self._take_outs.must("hose_bend_radius", "radius").mm

    def hose_max_bends(self, length: float) -> int:
        """Return the most bends that a hose of that length (mm) may take."""
        table = self._tables["hose_max_bends"]
        steps = sorted((float(str(row)) * 25.4, int(float(str(n)))) for row, n in table.values.items())
        return next((bends for longest, bends in steps if length <= longest + 0.1), steps[-1][1])

    # -- pipe schedules ---------------------------------------------------------------------

    def schedule(self, hazard: str, case: str = "standard") -> dict[int, int]:
        """Return ``{dn: most heads it may feed}``, smallest size first.

        Light hazard ends at DN90: larger pipe is limited by area, not by heads.

        Parameters
        ----------
        hazard : {"light", "ordinary"}
        case : {"standard", "above_and_below", "long_spacing"}
            ``above_and_below``: its own table up to its last size, the standard
            one for larger sizes. ``long_spacing`` (ordinary hazard only): its own
            rows in place of the standard table's.

        Raises
        ------
        ValueError
            If there is no such hazard or case.
        """
        return schedule(self._tables, self.sizes, hazard, case)

    def size_for_heads(self, heads: int, hazard: str, case: str = "standard") -> int:
        """Return the smallest DN that may feed so many heads.

        Raises
        ------
        ValueError
            If there are more heads than the schedule goes to.
        """
        steps = self._schedules.get((hazard, case))
        if steps is None:
            steps = self._schedules[hazard, case] = self.schedule(hazard, case)
        return size_for_heads(steps, heads, hazard)

    def schedule_table(self, hazard: str, case: str = "standard", dn: int | None = None) -> str:
        """Return the name of the table that the schedule (or its row ``dn``) is from."""
        return schedule_table(self._tables, hazard, case, dn)

    # -- where values come from -------------------------------------------------------------

    def source(self, table: str) -> tuple[str, Grade]:
        """Return a table's source and grade; says so if the scenario gives rows of it.

        Raises
        ------
        ValueError
            Names the table that there is not.
        """
        found = self._table(table)
        if not found.overridden:
            return found.source, found.sure
        rows = sorted(_row_text(key) for key in found.overridden)
        return f"{found.source}; given in the scenario: {', '.join(rows)}", found.sure

    def names(self) -> list[str]:
        """Return the names of all tables (what ``rules.tables`` may override)."""
        return sorted(self._tables)

    def unit(self, table: str) -> str:
        """Return the unit of a table's values, which is also that of its overrides."""
        return self._table(table).unit

    def assumptions(self) -> list[tuple[str, str]]:
        """Return ``(table, source)`` of every table graded D that the scenario does not give."""
        return [
            (name, table.source)
            for name, table in sorted(self._tables.items())
            if table.sure == "D" and not set(table.values) <= table.overridden
        ]

    def number(self, table: str, row: Key) -> float:
        """Return one value of a table in the table's own unit.

        Raises
        ------
        ValueError
            Names the table or row that there is not.
        """
        value = self._table(table).number(row)
        if value is None:
            raise ValueError(f"table {table} has no row {row!r}")
        return value

    def length(self, table: str, row: Key) -> float:
        """Return one length of a table in mm.

        Raises
        ------
        ValueError
            Names the row that there is not.
        """
        return self._take_outs.must(table, row).mm

    def has(self, table: str, row: Key) -> bool:
        """Whether a table has a row."""
        return row in self._table(table).values

    def grade(self, table: str, row: Key) -> Grade:
        """Return how sure one row of a table is; A where the scenario gives it."""
        found = self._table(table)
        return "A" if row in found.overridden else found.grade(row)

    def _table(self, name: str) -> Table:
        try:
            return self._tables[name]
        except KeyError:
            raise ValueError(f"no table {name!r}; tables: {', '.join(self.names())}") from None


def _known(joining: str) -> str:
    if joining not in ("threaded", "welded", "grooved", "butt_weld"):
        raise ValueError(f"joining {joining!r} is not one of threaded, welded, grooved, butt_weld")
    return joining


def _row_text(key: object) -> str:
    if isinstance(key, int):
        return nps(key)
    if isinstance(key, tuple):
        return "x".join(nps(dn) for dn in key)
    return str(key)
