"""What a section along a run shows: found from plan geometry, before anything is drawn."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.geometry.plan import PlanLine

if TYPE_CHECKING:
    from router.route.model import Fitting, Hanger, HeadResult, LowSection, Piece, Route, RunResult, Takeoff
    from router.scenario.model import Head, Run, Scenario

NEAR = 120.0
"""Something this close (mm, in plan) to the run's or an arm's axis is shown."""
MARGIN = 150.0
ROOM_ABOVE = 350.0
"""An obstruction's box is drawn at most this far (mm) beyond the pipes' own elevations."""


@dataclass(frozen=True)
class ObstructionBox:
    """An obstruction's outline on the section: stations and elevations, mm.

    ``on_run``: it lies across the run itself; else only the arms meet it.
    """

    id: str
    kind: str
    stations: tuple[float, float]
    elevations: tuple[float, float]
    on_run: bool


@dataclass(frozen=True)
class SectionHead:
    """A head on the section. ``lateral`` in mm, left of the run positive."""

    head: Head
    result: HeadResult | None
    station: float
    lateral: float


@dataclass
class SectionData:
    """Everything along one run, in stations and elevations (mm)."""

    run: Run
    result: RunResult
    line: PlanLine
    takeoffs: list[Takeoff] = field(default_factory=list)
    run_pieces: list[Piece] = field(default_factory=list)
    run_fittings: list[Fitting] = field(default_factory=list)
    pieces: dict[str, list[Piece]] = field(default_factory=dict)
    fittings: dict[str, list[Fitting]] = field(default_factory=dict)
    heads: list[SectionHead] = field(default_factory=list)
    boxes: list[ObstructionBox] = field(default_factory=list)
    lows: list[LowSection] = field(default_factory=list)
    hangers: list[Hanger] = field(default_factory=list)
    ceilings: list[tuple[str, float, float, float]] = field(default_factory=list)
    stations: tuple[float, float] = (0.0, 0.0)
    elevations: tuple[float, float] = (0.0, 0.0)
    part: str = ""
    """Which part of the run this is, where a section is broken over several."""

    def local(self, xyz: tuple[float, float, float], station: float) -> tuple[float, float]:
        """Return station and lateral place of a point, seen square to the run's straight part at ``station``.

        Returns
        -------
        (station, lateral) in mm
        """
        found = self.line.section_at(station).local(np.array([[xyz[0], xyz[1]]]))[0]
        return float(found[0]), float(found[1])

    def z(self, level: float, station: float) -> float:
        """Elevation of a level at a station, on the run's own pitch.

        Returns
        -------
        float
            mm
        """
        return level + self.result.pitch * station / 1000.0


def band_of(run: Run) -> tuple[float, float]:
    """Lowest and highest level that a run may take, mm.

    Returns
    -------
    (low, high)
    """
    return run.band if run.band is not None else (run.elevation - 300.0, run.elevation + 300.0)


def _nearest_run(scenario: Scenario, head: Head, lines: dict[str, PlanLine]) -> str:
    if head.run is not None and head.run in lines:
        return head.run
    return min(lines, key=lambda key: (round(lines[key].nearest(head.at[:2])[1], 3), key))


def _boxes(data: SectionData, scenario: Scenario) -> list[ObstructionBox]:
    """Boxes of what the run crosses and of what its arms meet, straight part by straight part.

    Returns
    -------
    list of ObstructionBox
    """
    found: list[ObstructionBox] = []
    end = data.stations[1]
    arms = [
        shapely.LineString([p.start[:2], p.end[:2]]).buffer(NEAR)
        for pieces in data.pieces.values()
        for p in pieces
        if np.hypot(p.end[0] - p.start[0], p.end[1] - p.start[1]) > 1.0
    ]
    arms += [shapely.Point(h.head.at[:2]).buffer(NEAR) for h in data.heads]
    arm_zone = shapely.unary_union(arms)
    laterals = [0.0] + [h.lateral for h in data.heads]
    reach = (min(laterals) - NEAR, max(laterals) + NEAR)
    for obstruction in scenario.obstructions:
        outline = shapely.make_valid(shapely.Polygon(obstruction.polygon))
        for part in data.line.sections:
            first, last = part.start, min(part.end, end)
            if last <= first:
                continue
            edges = np.array([[first, -NEAR], [last, -NEAR], [last, NEAR], [first, NEAR]])
            spans: list[tuple[float, float, bool]] = []
            for zone, on_run in ((edges, True), (np.column_stack([edges[:, 0], np.repeat(reach, 2)]), False)):
                world = part.origin + np.outer(zone[:, 0] - part.start, part.along)
                world = world + np.outer(zone[:, 1], part.left)
                cut = outline.intersection(shapely.Polygon(world))
                if cut.is_empty or cut.area < 1.0 or (not on_run and not cut.intersects(arm_zone)):
                    continue
                along = part.local(shapely.get_coordinates(cut))[:, 0]
                spans.append((float(along.min()), float(along.max()), on_run))
            if len(spans) == 2 and spans[1][1] - spans[1][0] <= spans[0][1] - spans[0][0] + 100.0:
                spans.pop()
            for a, b, on_run in spans:
                found.append(
                    ObstructionBox(obstruction.id, obstruction.kind, (a, b), obstruction.elevations, on_run)
                )
    return found


def section_data(scenario: Scenario, route: Route) -> list[SectionData]:
    """Collect a section for each run that serves heads, carries a takeoff or should serve an unserved head.

    Returns
    -------
    list of SectionData
        In the order of the scenario's runs.
    """
    lines = {run.id: PlanLine(run.plan) for run in scenario.runs}
    results = {run.id: run for run in route.runs}
    takeoffs = {t.id: t for t in route.takeoffs}
    heads = {h.id: h for h in route.heads}
    by_run: dict[str, SectionData] = {}
    for run in scenario.runs:
        if run.id in results:
            by_run[run.id] = SectionData(run, results[run.id], lines[run.id])
    for takeoff in route.takeoffs:
        if takeoff.run in by_run:
            by_run[takeoff.run].takeoffs.append(takeoff)
    for piece in route.pieces:
        if piece.owner in takeoffs:
            run_id = takeoffs[piece.owner].run
            if run_id in by_run:
                by_run[run_id].pieces.setdefault(piece.owner, []).append(piece)
        elif piece.owner in by_run:
            by_run[piece.owner].run_pieces.append(piece)
    for fitting in route.fittings:
        if fitting.owner in takeoffs:
            run_id = takeoffs[fitting.owner].run
            if run_id in by_run:
                by_run[run_id].fittings.setdefault(fitting.owner, []).append(fitting)
        elif fitting.owner in by_run:
            by_run[fitting.owner].run_fittings.append(fitting)
    for low in route.low_sections:
        if low.run in by_run and low.counts_as is not None:
            by_run[low.run].lows.append(low)
    for hanger in route.hangers:
        if hanger.run in by_run and hanger.kind == "run":
            by_run[hanger.run].hangers.append(hanger)
    for head in scenario.heads:
        result = heads.get(head.id)
        served_by = takeoffs.get(result.takeoff) if result is not None and result.takeoff else None
        run_id = served_by.run if served_by else _nearest_run(scenario, head, lines)
        if run_id not in by_run:
            continue
        data = by_run[run_id]
        at = result.inlet if result is not None else head.at
        near = served_by.station if served_by else data.line.nearest(head.at[:2])[0]
        station, lateral = data.local(at, near)
        data.heads.append(SectionHead(head, result, station, lateral))
    shown = [d for d in by_run.values() if d.takeoffs or d.heads]
    for data in shown:
        _complete(data, scenario)
    return shown


def _complete(data: SectionData, scenario: Scenario) -> None:
    """Fill in ranges, obstructions and ceilings."""
    data.takeoffs.sort(key=lambda t: (t.station, t.id))
    stations = [0.0, data.result.built_to] + [h.station for h in data.heads]
    elevations = [h.head.at[2] for h in data.heads]
    for owner, pieces in data.pieces.items():
        at = next(t.station for t in data.takeoffs if t.id == owner)
        for piece in pieces:
            stations += [data.local(piece.start, at)[0], data.local(piece.end, at)[0]]
            elevations += [piece.start[2], piece.end[2]]
    for piece in data.run_pieces:
        elevations += [piece.start[2], piece.end[2]]
    if not elevations:
        elevations.append(data.run.elevation)
    last = max(stations)
    for level in band_of(data.run):
        elevations += [data.z(level, 0.0), data.z(level, last)]
    data.stations = (min(stations) - MARGIN, last + MARGIN)
    low, high = min(elevations), max(elevations)
    data.boxes = _boxes(data, scenario)
    for ceiling in scenario.ceilings:
        area = shapely.make_valid(shapely.Polygon(ceiling.polygon))
        for part in data.line.sections:
            ends = (part.start, min(part.end, last))
            if ends[1] <= ends[0]:
                continue
            cut = area.intersection(shapely.LineString([part.point(s) for s in ends]))
            along = part.local(shapely.get_coordinates(cut))[:, 0] if not cut.is_empty else np.zeros(0)
            if along.size and low - 500.0 <= ceiling.elevation <= high + 500.0:
                data.ceilings.append((ceiling.id, float(along.min()), float(along.max()), ceiling.elevation))
    reach = [e for box in data.boxes for e in box.elevations] + [c[3] for c in data.ceilings]
    low = min([low, *(e for e in reach if low - ROOM_ABOVE <= e)])
    high = max([high, *(e for e in reach if e <= high + ROOM_ABOVE)])
    data.elevations = (low - 60.0, high + 60.0)
