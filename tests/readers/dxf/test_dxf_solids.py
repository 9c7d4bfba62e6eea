"""Obstructions of foreign drawings: every kind of outline, arcs never cut short."""

from __future__ import annotations

import itertools
import math
import random
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from dxf_foreign import INCH, SOLIDS, blank, mapped, read
from shapely.affinity import rotate, scale, translate

from router.readers.dxf.arcs import OFF_MM, OFF_SHARE

if TYPE_CHECKING:
    from pathlib import Path

    from router.readers.drawn import DrawnSolid

BARE: dict[str, Any] = {"holds": "obstructions", "kind": "beam"}
SQUARE = [(0, 0), (400, 0), (400, 300), (0, 300)]


def area(solid: DrawnSolid) -> shapely.Polygon:
    return shapely.Polygon(solid.corners)


def test_elevation_and_thickness(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "O", "elevation": 2900, "thickness": 250})
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "O", "elevation": 2900, "thickness": -250})
    first, second = read(doc, tmp_path, mapped(O=BARE)).solids
    assert (first.low, first.high, first.kind, first.exact) == (2900, 3150, "beam", False)
    assert (second.low, second.high) == (2650, 2900)
    assert first.corners == SQUARE


def test_bottom_and_height_of_the_mapping(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "O"})
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "O", "elevation": 3100})
    entry = {**BARE, "bottom": 2800, "height": 400, "clearance": 50}
    first, second = read(doc, tmp_path, mapped(O=entry)).solids
    assert (first.low, first.high, first.clearance) == (2800, 3200, 50)
    assert (second.low, second.high) == (3100, 3500)


def test_every_kind_of_outline(tmp_path: Path) -> None:
    doc, space = blank()
    on = {"layer": "O"}
    space.add_solid([(0, 0), (400, 0), (0, 300), (400, 300)], on)
    space.add_3dface([(0, 0, 2800), (400, 0, 2800), (400, 300, 2800), (0, 300, 2800)], on)
    hatch = space.add_hatch(dxfattribs=on)
    hatch.paths.add_polyline_path(SQUARE, is_closed=True)
    edges = space.add_hatch(dxfattribs=on).paths.add_edge_path()
    for a, b in zip(SQUARE, [*SQUARE[1:], SQUARE[0]], strict=True):
        edges.add_line(a, b)
    space.add_lwpolyline([*SQUARE, (0, 5)], dxfattribs=on)  # ends 5 mm apart: meant as closed
    for a, b in zip(SQUARE, [*SQUARE[1:], SQUARE[0]], strict=True):
        space.add_line(b, a, on)
    space.add_polyline2d([*SQUARE], close=True, dxfattribs=on)
    solids = read(doc, tmp_path, mapped(O=SOLIDS)).solids
    assert len(solids) == 7
    for solid in solids:
        assert area(solid).symmetric_difference(shapely.Polygon(SQUARE)).area < 0.01 * 400 * 300
        assert area(solid).buffer(1e-6).covers(shapely.Polygon(SQUARE).buffer(-10))
        assert (solid.low, solid.high) == (2800, 3100)


def test_what_is_no_outline_is_counted_and_named(tmp_path: Path) -> None:
    doc, space = blank(INCH)
    on = {"layer": "O"}
    open_one = space.add_lwpolyline([(7, 0), (40, 0), (40, 30)], dxfattribs=on)
    line = space.add_line((0, 5), (10, 0), on)
    mesh = space.add_mesh(on)
    with mesh.edit_data() as data:
        data.vertices = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
        data.faces = [(0, 1, 2)]
    face = space.add_3dface([(0, 2, 0), (40, 2, 0), (40, 2, 30), (0, 2, 30)], on)
    arcs = [space.add_arc((100 * k, 0), 10, 0, 90, dxfattribs=on) for k in range(5)]
    drawn = read(doc, tmp_path, mapped(O=SOLIDS))
    assert drawn.solids == []
    name = {id(one): f"#{one.dxf.handle}" for one in (open_one, line, mesh, face, *arcs)}
    three = "; ".join(f"{name[id(arc)]} at {100 * k}, 0 in" for k, arc in enumerate(arcs[:3]))
    assert drawn.notes == [
        f"1 3DFACE on layer O: upright, without area in plan ({name[id(face)]} at 0, 2 in)",
        f"5 ARC on layer O: an open arc ({three}; ...)",
        f"1 LINE on layer O: lines that do not close to an outline ({name[id(line)]} at 0, 5 in)",
        "1 LWPOLYLINE on layer O: open; ends more than 20 mm apart (tolerance_mm in the mapping) "
        f"({name[id(open_one)]} at 7, 0 in)",
        f"1 MESH on layer O: solids and meshes are not read ({name[id(mesh)]})",
    ]


def around_a_square(gap: float) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Four lines of a square of 1000 by 800 that stop ``gap`` before each corner's next line."""
    return [
        ((gap, 0), (1000, 0)),
        ((1000, gap), (1000, 800)),
        ((1000 - gap, 800), (0, 800)),
        ((0, 800 - gap), (0, 0)),
    ]


@pytest.mark.parametrize(("gap", "tolerance"), [(12.0, 5.0), (12.0, 15.0), (90.0, 5.0), (90.0, 100.0)])
def test_lines_that_nearly_close(gap: float, tolerance: float, tmp_path: Path) -> None:
    doc, space = blank()
    for a, b in around_a_square(gap):
        space.add_line(a, b, {"layer": "O"})
    drawn = read(doc, tmp_path, mapped(O=SOLIDS), tolerance_mm=tolerance)
    if tolerance < gap:
        assert drawn.solids == []
        (note,) = [note for note in drawn.notes if "gaps" in note]
        assert note.startswith(f"4 gaps of {gap:g} mm between ends of lines on layer O, at ")
        assert "tolerance_mm in the mapping (5 mm now, 500 mm at most)" in note
        return
    (solid,) = drawn.solids
    whole = shapely.box(0, 0, 1000, 800)
    assert area(solid).is_valid
    assert whole.difference(area(solid)).area <= 4 * gap**2
    ends = [point for line in around_a_square(gap) for point in line]  # nothing that was drawn is cut off
    assert shapely.covers(area(solid).buffer(1e-6), shapely.points(ends)).all()
    assert not any("gaps" in note for note in drawn.notes)


def test_lines_that_stick_out_beyond_each_other(tmp_path: Path) -> None:
    doc, space = blank()
    for a, b in around_a_square(-30.0):
        space.add_line(a, b, {"layer": "O"})
    (solid,) = read(doc, tmp_path, mapped(O=SOLIDS), tolerance_mm=50.0).solids
    assert area(solid).is_valid
    assert area(solid).symmetric_difference(shapely.box(0, 0, 1000, 800)).area < 1.0


def test_a_larger_tolerance_closes_polylines_too(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_lwpolyline([*SQUARE, (0, 60)], dxfattribs={"layer": "O"})
    assert read(doc, tmp_path, mapped(O=SOLIDS)).solids == []
    assert len(read(doc, tmp_path, mapped(O=SOLIDS), tolerance_mm=80.0).solids) == 1


def covers(solid: DrawnSolid, inside: np.ndarray) -> None:
    """Points of what was drawn lie in the polygon; the polygon goes nowhere far beyond them."""
    assert shapely.covers(area(solid).buffer(1e-6), shapely.points(inside)).all()


@pytest.mark.parametrize("radius", [8.0, 60.0, 150.0, 2500.0])
def test_a_circle_is_held_whole(radius: float, tmp_path: Path) -> None:
    doc, space = blank()
    space.add_circle((700, -300, 100), radius, {"layer": "O", "thickness": 500})
    (solid,) = read(doc, tmp_path, mapped(O=BARE)).solids
    turn = np.linspace(0.0, 2 * math.pi, 2000)
    covers(solid, np.column_stack([700 + radius * np.cos(turn), -300 + radius * np.sin(turn)]))
    far = max(math.dist(corner, (700, -300)) for corner in solid.corners)
    assert far <= radius + max(OFF_MM, OFF_SHARE * radius) + 1e-6 or len(solid.corners) == 8
    assert (solid.low, solid.high) == (100, 600)


def bulged(seed: int) -> list[tuple[float, float, float]]:
    """A ring of corners around the origin, some sides arcs outwards or inwards, clockwise for odd seeds."""
    rng = random.Random(seed)
    count = rng.randint(3, 7)
    rows = []
    for k in range(count):
        angle = 2 * math.pi * (k + rng.uniform(-0.2, 0.2)) / count
        far = rng.uniform(400, 900)
        rows.append((far * math.cos(angle), far * math.sin(angle), rng.choice([0.0, 0.2, -0.15, 0.6, 1.0])))
    if seed % 2:
        rows = [
            (x, y, -b) for (x, y, _), (_, _, b) in zip(rows[::-1], [*rows[-2::-1], rows[-1]], strict=True)
        ]
    return rows


def sampled(line: Any) -> shapely.Polygon:
    ways: list[list[tuple[float, float]]] = []
    for part in line.virtual_entities():
        if part.dxftype() == "LINE":
            way = [part.dxf.start, part.dxf.end]
        else:
            sweep = (part.dxf.end_angle - part.dxf.start_angle) % 360.0
            way = list(part.vertices([part.dxf.start_angle + sweep * k / 2000 for k in range(2001)]))
        ways.append([(p[0], p[1]) for p in way])
    ends = (ways[1][0], ways[1][-1])
    if min(math.dist(ways[0][0], e) for e in ends) < min(math.dist(ways[0][-1], e) for e in ends):
        ways[0].reverse()
    points = list(ways[0])
    for way in ways[1:]:
        if math.dist(points[-1], way[0]) > math.dist(points[-1], way[-1]):
            way.reverse()
        points += way
    assert math.dist(points[0], points[-1]) < 1e-6
    return shapely.Polygon(points)


@pytest.mark.parametrize("seed", range(24))
def test_arcs_never_cut_a_corner_off(seed: int, tmp_path: Path) -> None:
    """What was drawn: the lines and arcs that ezdxf takes the polyline apart into, sampled finely."""
    doc, space = blank()
    attributes = {"layer": "O", "extrusion": (0, 0, -1 if seed % 3 == 2 else 1)}
    for attempt in itertools.count(0, 2):
        line = space.add_lwpolyline(
            bulged(seed + 1000 * attempt), format="xyb", close=True, dxfattribs=attributes
        )
        reference = sampled(line)
        if reference.is_valid:
            break
        space.delete_entity(line)
    (solid,) = read(doc, tmp_path, mapped(O=SOLIDS)).solids
    found = area(solid)
    assert reference.difference(found.buffer(0.01)).area < 0.1
    longest = max(abs(c) for p in reference.exterior.coords for c in p)
    assert found.difference(reference.buffer(max(OFF_MM, OFF_SHARE * 2 * longest))).area < 1.0


def test_a_circle_of_two_bulges(tmp_path: Path) -> None:
    """How polylines draw a disc."""
    doc, space = blank()
    space.add_lwpolyline([(-100, 0, 1), (100, 0, 1)], format="xyb", close=True, dxfattribs={"layer": "O"})
    (solid,) = read(doc, tmp_path, mapped(O=SOLIDS)).solids
    assert area(solid).buffer(1e-6).covers(shapely.Point(0, 0).buffer(100))
    assert area(solid).area == pytest.approx(math.pi * 100**2, rel=0.02)


def test_ellipses_and_hatched_arcs_are_held_whole(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_ellipse((0, 0), (800, 300), 0.4, dxfattribs={"layer": "O"})
    path = space.add_hatch(dxfattribs={"layer": "O"}).paths.add_edge_path()
    path.add_ellipse((0, 0), (800, 300), 0.4, 0, 360)
    turn = np.linspace(0.0, 2 * math.pi, 5000)
    major, minor = np.array([800, 300]), 0.4 * np.array([-300, 800])
    points = np.outer(np.cos(turn), major) + np.outer(np.sin(turn), minor)
    for solid in read(doc, tmp_path, mapped(O=SOLIDS)).solids:
        covers(solid, points)
        assert area(solid).area < 1.02 * shapely.Polygon(points).area


def test_ceilings_and_keep_out(tmp_path: Path) -> None:
    doc, space = blank()
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "C"})
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "K"})
    space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "K", "elevation": 100, "thickness": 50})
    layers: dict[str, Any] = {
        "C": {"holds": "ceilings", "elevation": 2600},
        "K": {"holds": "keep_out", "of": "outlets"},
    }
    drawn = read(doc, tmp_path, mapped(**layers))
    polygon = [list(p) for p in SQUARE]
    assert drawn.ceilings == [{"id": "C1", "polygon": polygon, "elevation": 2600}]
    assert drawn.keep_out == [
        {"id": "K1", "polygon": polygon, "of": "outlets"},
        {"id": "K2", "polygon": polygon, "of": "outlets", "elevations": [100, 150]},
    ]


@pytest.mark.parametrize(
    ("xscale", "yscale", "turn"), [(1, 1, 40), (-1, 1, 40), (2, -2, 200), (1.5, 0.5, 30)]
)
def test_outlines_in_a_block_that_is_turned_mirrored_or_stretched(
    xscale: float, yscale: float, turn: float, tmp_path: Path
) -> None:
    """A disc and a beam with a round end, moved as shapely moves them."""
    doc, space = blank()
    block = doc.blocks.new("BEAM")
    block.add_circle((100, 900), 80, {"layer": "0"})
    even = abs(xscale) == abs(yscale)
    bulge = 0.6 if even else 0.0  # an uneven scale makes ellipses of arcs, which no polyline can hold
    block.add_lwpolyline(
        [(0, 0, 0), (2000, 0, bulge), (2000, 400, 0), (0, 400, 0)], format="xyb", close=True
    ).dxf.layer = "0"
    scales = {"xscale": xscale, "yscale": yscale, "rotation": turn, "layer": "O"}
    space.add_blockref("BEAM", (5000, -3000), scales)
    disc, beam = read(doc, tmp_path, mapped(O=SOLIDS)).solids
    beam_drawn: Any = shapely.box(0, 0, 2000, 400)
    if even:
        sagitta = 0.6 * 200
        radius = (200**2 + sagitta**2) / (2 * sagitta)
        beam_drawn |= shapely.Point(2000 + sagitta - radius, 200).buffer(radius, 200) & shapely.box(
            1999, 0, 9e3, 400
        )
    for found, drawn in ((disc, shapely.Point(100, 900).buffer(80, 200)), (beam, beam_drawn)):
        scaled = scale(drawn, xscale, yscale, origin=(0, 0))
        moved: Any = translate(rotate(scaled, turn, origin=(0, 0)), 5000, -3000)
        assert area(found).buffer(1e-4).covers(moved)
        assert area(found).area < 1.02 * moved.area
