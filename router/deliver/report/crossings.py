"""Where a line passes over or under something, and with how much room: measured on its finished pipe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents, Shown


@dataclass(frozen=True)
class Crossing:
    """A line's pipe over or under an obstruction.

    ``stations``: of the run, where its pipe is over or under the obstruction's plan;
    ``way``: over, under, or through it where the pipe clashes; ``room``: from the pipe's outside to
    the obstruction's near face straight up or down, mm; ``needs``: its clearance.
    """

    run: str
    obstruction: str
    kind: str
    stations: tuple[float, float]
    elevations: tuple[float, float]
    way: str
    room: float
    needs: float


def crossings(contents: Contents, shown: Shown) -> dict[str, list[Crossing]]:
    """Find by run what its pipe passes over or under, in the order of stations.

    Returns
    -------
    dict of str to list of Crossing
        Elevation of a pitched or offset pipe is taken at its worse end over the obstruction.
    """
    scenario = contents.scenario
    if not scenario.obstructions:
        return {}
    outlines = [shapely.make_valid(shapely.Polygon(o.polygon)) for o in scenario.obstructions]
    tree = shapely.STRtree(outlines)
    found: dict[tuple[str, int], list[Crossing]] = {}
    for piece in shown.route.pieces:
        a, b = piece.start, piece.end
        if piece.kind != "run" or piece.run not in contents.lines or (a[:2] == b[:2]):
            continue
        radius = contents.tables.od(piece.dn) / 2
        axis = shapely.LineString([a[:2], b[:2]])
        for k in sorted(int(n) for n in tree.query(axis.buffer(radius, cap_style="flat"))):
            cut = axis.buffer(radius, cap_style="flat").intersection(outlines[k])
            if cut.area < 1.0:
                continue
            along = [axis.project(shapely.Point(p)) for p in shapely.get_coordinates(cut)]
            ends = (max(min(along), 0.0), min(max(along), axis.length))
            levels = [a[2] + (b[2] - a[2]) * s / axis.length for s in ends]
            line, thing = contents.lines[piece.run], scenario.obstructions[k]
            stations = sorted(line.nearest(shapely.get_coordinates(axis.interpolate(s))[0])[0] for s in ends)
            low, high = thing.elevations
            over, under = min(levels) - radius - high, low - max(levels) - radius
            needs = scenario.rules.clearance if thing.clearance is None else thing.clearance
            found.setdefault((piece.run, k), []).append(
                Crossing(
                    piece.run,
                    thing.id,
                    thing.kind,
                    (float(stations[0]), float(stations[-1])),
                    thing.elevations,
                    "through" if max(over, under) < 0 else "over" if over >= under else "under",
                    max(over, under),
                    needs,
                )
            )
    result: dict[str, list[Crossing]] = {}
    for (run, _), parts in found.items():
        result.setdefault(run, []).extend(_joined(parts))
    return {run: sorted(items, key=lambda c: (c.stations, c.obstruction)) for run, items in result.items()}


def _joined(parts: list[Crossing]) -> list[Crossing]:
    """Make one of neighbours that pass the same way: the pipe is cut at its fittings, the crossing is not."""
    joined: list[Crossing] = []
    for part in sorted(parts, key=lambda c: c.stations):
        last = joined[-1] if joined else None
        if last is not None and last.way == part.way and part.stations[0] <= last.stations[1] + 1.0:
            ends = (last.stations[0], max(last.stations[1], part.stations[1]))
            joined[-1] = Crossing(
                last.run,
                last.obstruction,
                last.kind,
                ends,
                last.elevations,
                last.way,
                min(last.room, part.room),
                last.needs,
            )
        else:
            joined.append(part)
    return joined
