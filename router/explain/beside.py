"""Trees of runs that lie beside each other: where they run, and which of their pieces come too near."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from router.geometry.segments import segment_distances
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Mapping

    from router.route.model import Piece
    from router.scenario.model import Scenario


def ways_in_plan(
    scenario: Scenario, tree_of: Mapping[str, str], run_of: Mapping[str, str]
) -> dict[str, shapely.Geometry]:
    """By root: its runs, and the straight way from each of its heads to its run."""
    lines = {run.id: shapely.LineString(run.plan) for run in scenario.runs}
    parts: dict[str, list[shapely.Geometry]] = {}
    for run, line in lines.items():
        parts.setdefault(tree_of[run], []).append(line)
    for head in scenario.heads:
        run = run_of[head.id]
        parts[tree_of[run]].append(shapely.shortest_line(shapely.Point(head.at[:2]), lines[run]))
    return {root: shapely.union_all(every) for root, every in parts.items()}


def heights(
    scenario: Scenario, tree_of: Mapping[str, str], run_of: Mapping[str, str]
) -> dict[str, tuple[float, float]]:
    """By root: the lowest and the highest elevation that its runs' bands and its heads have, mm."""
    every: dict[str, list[float]] = {}
    for run in scenario.runs:
        band = run.band or (run.elevation - 300.0, run.elevation + 300.0)
        every.setdefault(tree_of[run.id], []).extend(band)
    for head in scenario.heads:
        every[tree_of[run_of[head.id]]].append(head.at[2])
    return {root: (min(zs), max(zs)) for root, zs in every.items()}


def near_pieces(scenario: Scenario, mine: list[Piece], others: list[Piece]) -> list[Piece]:
    """Give the others' pieces that some of mine come too near to, by the scenario's piece clearance."""
    if not mine or not others:
        return []
    tables = Tables(scenario.system.standard, scenario.rules.tables or None)
    gap = scenario.rules.piece_clearance

    def arrays(pieces: list[Piece]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        radius = [tables.od(p.dn) / 2 if p.kind != "hose" else 0.0 for p in pieces]
        return np.array([p.start for p in pieces]), np.array([p.end for p in pieces]), np.array(radius)

    a0, a1, ra = arrays(mine)
    low, high = np.minimum(a0, a1).min(axis=0) - 500.0, np.maximum(a0, a1).max(axis=0) + 500.0
    b0, b1, rb = arrays(others)
    inside = (np.minimum(b0, b1) <= high).all(axis=1) & (np.maximum(b0, b1) >= low).all(axis=1)
    out = []
    for k in np.flatnonzero(inside).tolist():
        away = segment_distances(a0, a1, b0[k][None, :], b1[k][None, :])
        if (away - ra - rb[k] < gap - 0.1).any():
            out.append(others[k])
    return out
