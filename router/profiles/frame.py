"""A run prepared for routing: its plan line, sizes, pitch, make-up and levels."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from router.trade.sizes import SIZES

if TYPE_CHECKING:
    from router.geometry.plan import FloatArray, PlanLine, Section
    from router.geometry.solids import IntArray
    from router.scenario.model import Ceiling, Rules, Run, System
    from router.trade.tables import Tables


@dataclass(frozen=True)
class Stretch:
    """Part of one straight section with one pipe size; stations and sizes in mm."""

    start: float
    end: float
    section: Section
    dn: int
    radius: float


@dataclass(frozen=True)
class MakeUp:
    """Least lengths between fittings, from the tables, all in mm."""

    tables: Tables
    rules: Rules
    _slacks: dict[tuple[int, str], float] = field(default_factory=dict, compare=False, repr=False)

    def slack(self, dn: int, joining: str) -> float:
        """Shortest nipple less both engagements, the largest over sizes up to ``dn``.

        Taking the largest keeps a spacing valid where the pipe between two
        fittings is smaller than either.
        """
        known = self._slacks.get((dn, joining))
        if known is None:
            known = self._slacks[dn, joining] = max(
                self.tables.shortest_nipple(size, joining=joining)
                - 2 * self.tables.engagement(size, joining=joining)
                for size in SIZES
                if 25 <= size <= max(dn, 25)
            )
        return known

    def half(self, take_out: float, dn: int, joining: str) -> float:
        """Room that a run fitting needs to one side: take-out, half a nipple, half the allowance."""
        return take_out + (self.slack(dn, joining) + self.rules.working_allowance) / 2

    def between(self, a: float, b: float, dn: int, joining: str = "threaded") -> float:
        """Least centre to centre of two fittings with take-outs ``a`` and ``b``."""
        return self.tables.least_centres(a, b, dn, joining=joining)


@dataclass
class RunFrame:
    """One run, ready for candidates. ``pitch`` is mm per mm; levels in mm, ascending.

    ``dry``: of a dry or preaction system, whose low sections need a drain each.
    ``pendents_below``: a pendent head hangs on it or on a run that it feeds.
    """

    index: int
    run: Run
    plan: PlanLine
    joining: str
    pitch: float
    band: tuple[float, float]
    makeup: MakeUp
    dry: bool
    stretches: list[Stretch] = field(default_factory=list)
    levels: FloatArray = field(default_factory=lambda: np.zeros(0))
    parent: int | None = None
    parent_station: float = 0.0
    children: list[int] = field(default_factory=list)
    heads: list[int] = field(default_factory=list)
    pendents_below: bool = False
    over_100_psi: bool = False
    ceilings: list[Ceiling] = field(default_factory=list)
    by_size: dict[tuple[str, int], float] = field(default_factory=dict)
    """What takeoffs remember of the run by its size: (name, DN), mm."""

    @property
    def uncut(self) -> bool:
        """Whether outlets sit on an uncut pipe (welded and mechanical outlets)."""
        return self.joining in ("welded", "grooved")

    def stretch_at(self, station: float) -> Stretch:
        """Give the stretch that holds ``station`` (upstream one at a boundary)."""
        for stretch in self.stretches:
            if station <= stretch.end + 1e-6:
                return stretch
        return self.stretches[-1]

    def dn_at(self, stations: FloatArray) -> IntArray:
        """Size at each of many stations, DN."""
        ends = np.array([stretch.end + 1e-6 for stretch in self.stretches])
        at = np.minimum(np.searchsorted(ends, stations, side="left"), len(ends) - 1)
        return np.array([stretch.dn for stretch in self.stretches], dtype=np.int64)[at]

    def z(self, level: FloatArray | float, station: FloatArray | float) -> FloatArray:
        """Elevation of the centre line at ``station`` when the run is at ``level``."""
        return np.asarray(level) + self.pitch * np.asarray(station)

    def outlet_half(self, dn: int, outlet_dn: int, kind: str = "tee") -> float:
        """Half of the stations that an outlet (tee, cross, welded ...) occupies, mm."""
        rules = self.makeup.rules
        if rules.outlet_spacing is not None:
            return (rules.outlet_spacing + rules.working_allowance) / 2
        return self.table_half(dn, outlet_dn, kind)

    def table_half(self, dn: int, outlet_dn: int, kind: str = "tee") -> float:
        """Give the same by the tables, whatever spacing the scenario gives.

        A cross is cut into any line; a tee only into one that is joined by tees.
        """
        name = "outlet" if self.uncut and kind == "tee" else kind
        joining = self.joining if name == "outlet" else self.elbow_joining
        take_out = self.makeup.tables.take_out(name, "run", dn, outlet_dn, joining=joining)
        return self.makeup.half(take_out, dn, self.joining)

    def outlet_take_out(self, dn: int, outlet_dn: int, kind: str = "tee") -> float:
        """Centre of the run to the end of the outlet, mm.

        A run ends in an elbow, or below a cross in a tee in bull-head position;
        the longest counts, so that a takeoff fits either way.
        """
        find = self.makeup.tables.take_out
        name = "outlet" if self.uncut and kind == "tee" else kind
        joining = self.joining if name == "outlet" else self.elbow_joining
        outlet = find(name, "outlet", dn, outlet_dn, joining=joining)
        if kind == "cross":
            last = find("tee", "run", outlet_dn, dn, joining=self.elbow_joining)
        else:
            last = find("elbow_90", "outlet", dn, outlet_dn, joining=self.elbow_joining)
        return max(outlet, last)

    def elbow_half(self, kind: str, dn: int) -> float:
        """Stations that an elbow of the run needs to one side, mm."""
        take_out = self.makeup.tables.take_out(kind, "run", dn, dn, joining=self.elbow_joining)
        return self.makeup.half(take_out, dn, self.elbow_joining) + self.given_excess(dn)

    def given_excess(self, dn: int) -> float:
        """Give what a spacing given for outlets lacks beside a fitting that is none, mm.

        The outlet before a fitting may be the tee at which the run steps down to
        ``dn``: that one has the take-out of the size before the step.
        """
        if self.makeup.rules.outlet_spacing is None:
            return 0.0
        before = min((s.dn for s in self.stretches if s.dn > dn), default=dn)
        table = max(self.table_half(d, out) for d in {dn, before} for out in SIZES if 25 <= out <= max(d, 25))
        return max(0.0, table - self.outlet_half(dn, dn))

    @property
    def elbow_joining(self) -> str:
        """How elbows of the run are joined: welded lines use butt weld elbows."""
        return "butt_weld" if self.joining == "welded" else self.joining


def pitch_of(run: Run, system: System, tables: Tables) -> float:
    """Pitch of a run in mm per mm: the scenario's, else the table's for the system."""
    given = system.pitch_branch if run.kind == "branch" else system.pitch_main
    return (tables.pitch(run.kind, system) if given is None else given) / 1000.0


def cut_stretches(frame: RunFrame, sizes: list[tuple[float, int]]) -> list[Stretch]:
    """Cut the plan's sections where the size changes.

    ``sizes``: (station from which, DN), the first at 0, stations ascending.
    """
    stretches = []
    for section in frame.plan.sections:
        edges = [section.start] + [s for s, _ in sizes if section.start < s < section.end] + [section.end]
        for start, end in itertools.pairwise(edges):
            dn = [d for s, d in sizes if s <= start + 1e-9][-1]
            radius = frame.makeup.tables.od(dn) / 2
            stretches.append(Stretch(start, end, section, dn, radius))
    return stretches
