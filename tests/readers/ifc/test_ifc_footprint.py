"""Bodies seen from above: exact for upright prisms, and never less than the body for any other.

The outside check of each body's volume and surface is trimesh (MIT), a general
library of triangle meshes: points are drawn on and in its mesh.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
import trimesh
from shapely.geometry import Polygon

from router.readers.ifc.bars import bar
from router.readers.ifc.footprint import MOST_STRIPS, footprint

if TYPE_CHECKING:
    from router.readers.ifc.found import Part

SLACK_MM = 0.1


def contained(parts: list[Part], mesh: Any) -> None:
    """Every point of the mesh's surface lies in one of the parts."""
    points = np.concatenate([trimesh.sample.sample_surface(mesh, 4000, seed=1)[0], mesh.vertices])
    inside = np.zeros(len(points), dtype=bool)
    for plan, low, high in parts:
        around = Polygon(plan)
        assert around.is_valid
        assert not around.interiors
        level = (points[:, 2] >= low - SLACK_MM) & (points[:, 2] <= high + SLACK_MM)
        inside |= level & shapely.intersects_xy(around.buffer(SLACK_MM), points[:, 0], points[:, 1])
    assert inside.all(), points[~inside][:5]


def volume(parts: list[Part]) -> float:
    return sum(Polygon(plan).area * (high - low) for plan, low, high in parts)


def turned(mesh: Any, degrees: tuple[float, float, float], at: tuple[float, float, float]) -> Any:
    euler: Any = trimesh.transformations.euler_matrix  # without types
    matrix = euler(*np.radians(degrees))
    matrix[:3, 3] = at
    return mesh.apply_transform(matrix)


def rod(length: float, wide: float, high: float) -> Any:
    return trimesh.creation.box((length, wide, high))


def joined(*meshes: Any) -> Any:
    return trimesh.util.concatenate(list(meshes))


def moved(length: float, wide: float, high: float, at: tuple[float, float, float]) -> Any:
    return turned(rod(length, wide, high), (0, 0, 0), at)


def duct() -> Any:
    return turned(trimesh.creation.cylinder(250, 5000, sections=24), (0, 80, 10), (0, 0, 0))


def arch() -> Any:
    torus = trimesh.creation.torus(3000, 150, major_sections=48, minor_sections=12)
    return turned(torus, (90, 0, 25), (0, 0, 0))


SHAPES: dict[str, Any] = {
    "level beam": lambda: turned(rod(6000, 200, 400), (0, 0, 33), (5e4, 6e4, 3000)),
    "sloped beam": lambda: turned(rod(6000, 200, 400), (0, 20, 33), (5e4, 6e4, 3000)),
    "steep brace": lambda: turned(rod(4000, 100, 100), (0, 60, 80), (0, 0, 0)),
    "rolled and sloped": lambda: turned(rod(5000, 200, 400), (30, 10, -50), (100, 0, 0)),
    "round sloped duct": duct,
    "upright cylinder": lambda: trimesh.creation.cylinder(200, 3000, sections=32),
    "ring": lambda: trimesh.creation.annulus(300, 1500, 200, sections=36),
    "ball": lambda: trimesh.creation.icosphere(3, 900),
    "cone": lambda: trimesh.creation.cone(600, 2000, sections=24),
    "arch": arch,
    "two apart": lambda: joined(
        moved(500, 500, 300, (0, 0, 0)), turned(rod(500, 500, 900), (0, 0, 9), (2000, 0, 4000))
    ),
    "step": lambda: joined(
        moved(2000, 300, 300, (0, 0, 0)),
        moved(2000, 300, 300, (1990, 0, 1500)),
        moved(300, 300, 1800, (995, 0, 750)),
    ),
}


@pytest.mark.parametrize("name", list(SHAPES))
def test_the_parts_contain_the_body(name: str) -> None:
    mesh = SHAPES[name]()
    parts = footprint(np.array(mesh.vertices), np.array(mesh.faces))
    contained(parts, mesh)
    assert parts == footprint(np.array(mesh.vertices), np.array(mesh.faces))


@pytest.mark.parametrize("seed", range(25))
def test_the_parts_contain_random_bodies(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.uniform(-1, 1, (12, 3)) * rng.choice([100.0, 800.0, 5000.0], 3)
    mesh = trimesh.Trimesh(points).convex_hull
    mesh = turned(mesh, tuple(rng.uniform(-90, 90, 3)), (9e5, -9e5, 4000))
    contained(footprint(np.array(mesh.vertices), np.array(mesh.faces)), mesh)


@pytest.mark.parametrize("angle", [0.0, 17.0, 45.0, 90.0])
def test_an_upright_prism_comes_out_exactly(angle: float) -> None:
    mesh = turned(rod(6000, 200, 400), (0, 0, angle), (5e4, 6e4, 3000))
    ((plan, low, high),) = footprint(np.array(mesh.vertices), np.array(mesh.faces))
    assert len(plan) == 4
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    wanted = [(5e4 + c * x - s * y, 6e4 + s * x + c * y) for x in (-3000, 3000) for y in (-100, 100)]
    assert all(min(np.hypot(x - u, y - v) for u, v in wanted) < 0.1 for x, y in plan)
    assert [low, high] == pytest.approx([2800, 3200])


def test_a_sloped_beam_becomes_strips_near_its_own_volume() -> None:
    mesh = turned(rod(6000, 200, 400), (0, 20, 0), (0, 0, 0))
    parts = footprint(np.array(mesh.vertices), np.array(mesh.faces))
    assert 5 <= len(parts) <= MOST_STRIPS
    low, high = mesh.bounds[0][2], mesh.bounds[1][2]
    assert volume(parts) < 1.6 * mesh.volume
    around = shapely.MultiPoint(mesh.vertices[:, :2]).convex_hull.area * (high - low)
    assert volume(parts) < 0.4 * around


def test_a_shell_open_above_and_below_is_not_lost() -> None:
    """An upright duct is often drawn as its four sides alone."""
    mesh = rod(400, 300, 900)
    sides = mesh.faces[np.abs(mesh.face_normals[:, 2]) < 0.5]
    ((plan, low, high),) = footprint(np.array(mesh.vertices), np.array(sides))
    assert Polygon(plan).area == pytest.approx(400 * 300)
    assert high - low == pytest.approx(900)


def test_holes_are_cut_open_and_two_bodies_are_two() -> None:
    ring = SHAPES["ring"]()
    parts = footprint(np.array(ring.vertices), np.array(ring.faces))
    union = shapely.union_all([Polygon(plan) for plan, _, _ in parts])
    assert len(parts) > 1
    assert not union.contains(shapely.Point(0, 0))
    assert union.area == pytest.approx(ring.volume / 200, rel=0.02)
    two = SHAPES["two apart"]()
    parts = footprint(np.array(two.vertices), np.array(two.faces))
    assert sorted((round(low), round(high)) for _, low, high in parts) == [(-150, 150), (3550, 4450)]


@pytest.mark.parametrize(
    "end",
    [
        (3000.0, 0.0, 0.0),
        (2000.0, 1500.0, 0.0),
        (0.0, 0.0, 2500.0),
        (2000.0, 900.0, 1500.0),
        (5.0, 5.0, 900.0),
    ],
)
def test_a_round_pipe_lies_within_its_bar(end: tuple[float, float, float]) -> None:
    mesh = trimesh.creation.cylinder(57.15, segment=[(0, 0, 0), end], sections=90)
    parts = bar((0.0, 0.0, 0.0), end, 57.15)
    contained(parts, mesh)
    if end[2] == 0.0:
        ((plan, low, high),) = parts
        assert [low, high] == pytest.approx([-57.15, 57.15], abs=1e-3)
        assert Polygon(plan).area == pytest.approx(2 * 57.15 * np.hypot(*end[:2]), rel=1e-4)
