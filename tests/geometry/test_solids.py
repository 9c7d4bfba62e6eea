"""Pipes against prisms: distances, bands and spans, by scipy, trimesh and shapely."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
import trimesh
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from shapes_made import pairs_of, prism_distance, prism_mesh, star

from router.geometry.solids import Solids, line_spans

Points = NDArray[np.float64]
LOW, HIGH = -150.0, 250.0
RECT = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 300.0), (0.0, 300.0)]


def segments(rng: np.random.Generator, count: int) -> list[tuple[Points, Points]]:
    """Slanted, level and upright pipes in turn, some of them through the prism."""
    out = []
    for i in range(count):
        a, b = rng.uniform(-900, 900, (2, 3))
        if i % 3 == 1:
            b[2] = a[2]
        if i % 3 == 2:
            b[:2] = a[:2]
        out.append((a, b))
    return out


def least_by_search(a: Points, b: Points, ring: Points) -> float:
    """Least distance along the pipe: dense samples, then scipy's search round each low one."""

    def at(t: float) -> float:
        return float(prism_distance((a + t * (b - a))[None], ring, LOW, HIGH)[0])

    ts = np.linspace(0, 1, 301)
    values = prism_distance(a + ts[:, None] * (b - a), ring, LOW, HIGH)
    best = float(values.min())
    for k in map(int, np.flatnonzero(values <= best + 15.0)):
        span = (float(ts[max(k - 1, 0)]), float(ts[min(k + 1, 300)]))
        best = min(best, float(minimize_scalar(at, bounds=span, options={"xatol": 1e-9}).fun))
    return best


@pytest.mark.parametrize("seed", range(10))
def test_segment_distance_is_the_least_along_the_pipe(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ring = star(rng, 3 + seed % 6, (0.0, 0.0), 600.0)
    solids = Solids([pairs_of(ring)], [LOW], [HIGH], [0.0])
    for a, b in segments(rng, 9):
        assert solids.segment_distance(a, b, 0) == pytest.approx(least_by_search(a, b, ring), abs=0.02)


@pytest.mark.parametrize("seed", range(6))
def test_no_point_of_the_pipe_is_nearer_to_the_mesh(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    ring = star(rng, 7, (0.0, 0.0), 600.0)
    solids = Solids([pairs_of(ring)], [LOW], [HIGH], [0.0])
    mesh = prism_mesh(ring, LOW, HIGH)
    for a, b in segments(rng, 6):
        points = a + np.linspace(0, 1, 200)[:, None] * (b - a)
        inside = shapely.contains_xy(shapely.Polygon(ring), points[:, 0], points[:, 1])
        inside &= (points[:, 2] > LOW) & (points[:, 2] < HIGH)
        _, away, _ = trimesh.proximity.closest_point_naive(mesh, points)  # type: ignore[no-untyped-call]
        sampled = 0.0 if inside.any() else float(away.min())
        step = float(np.linalg.norm(b - a)) / 199
        assert sampled - step / 2 - 1e-6 <= solids.segment_distance(a, b, 0) <= sampled + 1e-6


@pytest.mark.parametrize(
    ("a", "b", "want"),
    [
        ((-100, 150, 50), (-40, 150, 50), 40.0),  # level, ends before it
        ((500, -30, 0), (500, -30, 400), 30.0),  # upright beside it
        ((500, 150, 400), (500, 150, 260), 10.0),  # upright, ends above it
        ((100, 100, 250), (800, 100, 250), 0.0),  # lies on its top
        ((100, 100, 260), (800, 200, 300), 10.0),  # slants away over it
        ((500, 150, 0), (510, 160, 20), 0.0),  # inside
        ((1003, 304, 262), (1003, 304, 900), 13.0),  # off a corner: 3, 4, 12
        ((-500, 150, -400), (1500, 150, 500), 0.0),  # slants through
    ],
)
def test_distances_worked_out_by_hand(a: Points, b: Points, want: float) -> None:
    solids = Solids([RECT], [LOW], [HIGH], [0.0])
    start, end = np.array(a, float), np.array(b, float)
    assert solids.segment_distance(start, end, 0) == pytest.approx(want, abs=1e-9)
    assert solids.segment_distance(end, start, 0) == pytest.approx(want, abs=1e-9)


def test_a_pipe_in_the_notch_of_a_u_is_not_inside_it() -> None:
    outer = [(0.0, 0.0), (600.0, 0.0), (600.0, 400.0), (500.0, 400.0)]
    u = [*outer, (500.0, 100.0), (100.0, 100.0), (100.0, 400.0), (0.0, 400.0)]
    solids = Solids([u], [0.0], [200.0], [0.0])
    assert solids.segment_distance(
        np.array([300.0, 150, 100]), np.array([300.0, 900, 100]), 0
    ) == pytest.approx(50)
    assert solids.segment_distance(
        np.array([180.0, 250, 50]), np.array([180.0, 250, 900]), 0
    ) == pytest.approx(80)
    # over the notch: 200 mm in plan to either leg, 50 above
    assert solids.segment_distance(
        np.array([300.0, 390, 250]), np.array([300.0, 350, 250]), 0
    ) == pytest.approx(np.hypot(200, 50))
    assert not len(solids.near(-500, -500, -200, -200, 100))


def test_a_closed_ring_is_the_same_as_an_open_one() -> None:
    rng = np.random.default_rng(3)
    ring = pairs_of(star(rng, 6, (0, 0), 600))
    a, b = (Solids([r], [LOW], [HIGH], [20.0]) for r in (ring, [*ring, ring[0]]))
    for p, q in segments(rng, 12):
        assert a.segment_distance(p, q, 0) == pytest.approx(b.segment_distance(p, q, 0), abs=1e-9)


@pytest.mark.parametrize("upright", [False, True])
def test_bands_agree_with_the_distance(upright: bool) -> None:
    rng = np.random.default_rng(7)
    rings = [star(rng, 4 + k, tuple(rng.uniform(-800, 800, 2)), 500) for k in range(6)]
    lows, highs = rng.uniform(-300, 0, 6), rng.uniform(50, 300, 6)
    clearances = rng.uniform(0, 60, 6)
    solids = Solids([pairs_of(r) for r in rings], list(lows), list(highs), list(clearances))
    index = np.arange(6)
    blocked = 0
    for _ in range(60):
        radius = float(rng.uniform(10, 45))
        xy = rng.uniform(-900, 900, (2, 2))
        ends = np.array([[*xy[0], *(xy[0] if upright else xy[1])]])
        z = rng.uniform(-450, 450, 2)
        bands = solids.bands(ends, radius, index)
        if upright:
            got = bool(bands.clear_span(z[None, :1], z[None, 1:])[0, 0])
            start, end = np.array([*xy[0], z[0]]), np.array([*xy[0], z[1]])
        else:
            got = bool(bands.clear(z[None, :1])[0, 0])
            start, end = np.array([*xy[0], z[0]]), np.array([*xy[1], z[0]])
        spare = [
            min(
                float(prism_distance(p[None], rings[k], lows[k], highs[k])[0])
                for p in start + np.linspace(0, 1, 300)[:, None] * (end - start)
            )
            - radius
            - clearances[k]
            for k in range(6)
        ]
        if abs(min(spare)) > 5:  # the samples lie up to 4 mm beside the nearest point
            assert got == (min(spare) > 0)
            blocked += not got
        exact = min(solids.segment_distance(start, end, k) - radius - clearances[k] for k in range(6))
        assert got == (exact >= -0.011) or abs(exact) < 0.011
    assert 5 < blocked < 55


@pytest.mark.parametrize("beside", [0.0, 20.0, 39.0])
@pytest.mark.parametrize("over", [True, False])
def test_bands_just_clear_and_just_blocked_at_the_limit(beside: float, over: bool) -> None:
    # radius 15 and clearance 25 make a reach of 40; beside the edge Pythagoras takes its share
    solids = Solids([RECT], [LOW], [HIGH], [25.0])
    ends = np.array([[200.0, 300.0 + beside, 700.0, 300.0 + beside]])
    bands = solids.bands(ends, 15.0, np.array([0]))
    limit = HIGH + np.sqrt(40**2 - beside**2) if over else LOW - np.sqrt(40**2 - beside**2)
    away = 1.0 if over else -1.0
    assert bands.clear(np.array([[limit]]))[0, 0]
    assert bands.clear(np.array([[limit + 0.02 * away]]))[0, 0]
    assert not bands.clear(np.array([[limit - 0.02 * away]]))[0, 0]
    assert bands.next_clear(np.array([[50.0]]), upward=over)[0, 0] == pytest.approx(limit)
    assert bands.clear_span(np.array([[limit]]), np.array([[limit + 100 * away]]))[0, 0]
    assert not bands.clear_span(np.array([[limit - 0.02 * away]]), np.array([[limit + 100 * away]]))[0, 0]
    assert not bands.clear_span(np.array([[-900.0]]), np.array([[900.0]]))[0, 0]


def test_beside_an_obstruction_by_its_reach_every_level_is_clear() -> None:
    solids = Solids([RECT], [LOW], [HIGH], [25.0])
    for beside, clear in ((40.0, True), (39.98, False)):
        bands = solids.bands(np.array([[0.0, 300 + beside, 900.0, 300 + beside]]), 15.0, np.array([0]))
        assert bool(bands.clear(np.array([[0.0]]))[0, 0]) == clear


def test_next_clear_climbs_over_a_stack_and_stops_in_its_gap() -> None:
    # a stack with a gap of 100: a pipe of 15 with 25 clearance (80 mm) fits, one of 30 does not
    solids = Solids([RECT] * 3, [0.0, 150.0, 350.0], [100.0, 250.0, 400.0], [25.0] * 3)
    ends = np.array([[200.0, 100.0, 700.0, 100.0]])
    for radius, up, down in ((15.0, 290.0, 110.0 - 0.0), (30.0, 455.0, -55.0)):
        bands = solids.bands(ends, radius, np.arange(3))
        got_up = float(bands.next_clear(np.array([[200.0]]), upward=True)[0, 0])
        got_down = float(bands.next_clear(np.array([[200.0]]), upward=False)[0, 0])
        assert got_up == pytest.approx(up)
        if radius == 30.0:  # gap of 50 below the middle one closed too
            assert got_down == pytest.approx(down)
        else:  # 150 - 40 lies below 100 + 40: the lower gap is closed
            assert got_down == pytest.approx(-40.0)


def test_a_ceiling_takes_its_edge_square_and_lets_a_last_vertical_through() -> None:
    solids = Solids([RECT, RECT], [-1e5, 0.0], [0.0, 10.0], [25.0, 25.0], None, [True, False])
    beside = np.array([[0.0, 320.0, 900.0, 320.0]])  # 20 mm outside, reach 40
    bands = solids.bands(beside, 15.0, np.array([0]))
    assert bands.clear(np.array([[40.0]]))[0, 0]
    assert not bands.clear(np.array([[39.9]]))[0, 0]  # an obstruction would allow sqrt(40^2 - 20^2) = 34.64
    edge = solids.bands(beside, 15.0, np.array([1]))
    assert edge.clear(np.array([[10 + 34.65]]))[0, 0]
    assert list(solids.without_ceilings(np.array([0, 1]))) == [1]


@pytest.mark.parametrize("seed", range(4))
def test_segments_clear_agrees_with_the_distance_one_by_one(seed: int) -> None:
    rng = np.random.default_rng(20 + seed)
    rings = [star(rng, 5, tuple(rng.uniform(-900, 900, 2)), 350) for _ in range(8)]
    clearances = rng.uniform(0, 80, 8)
    solids = Solids([pairs_of(r) for r in rings], [LOW] * 8, [HIGH] * 8, list(clearances))
    pipes = segments(rng, 60)
    starts, ends = (np.array([p[k] for p in pipes]) for k in (0, 1))
    radius = rng.uniform(10, 60, 60)
    got = solids.segments_clear(starts, ends, radius)
    for i, (a, b) in enumerate(pipes):
        spare = [solids.segment_distance(a, b, k) - radius[i] - clearances[k] for k in range(8)]
        assert got[i] == (min(spare) >= -0.01)
    assert 0 < got.sum() < 60


@pytest.mark.parametrize("seed", range(20))
def test_line_spans_are_where_the_axis_is_too_near(seed: int) -> None:
    rng = np.random.default_rng(40 + seed)
    ring = star(rng, 3 + seed % 7, (0.0, float(rng.uniform(-500, 500))), 600)
    rho = float(rng.uniform(5, 250))
    spans = line_spans(ring, rho)
    assert all(a <= b for a, b in spans)
    assert all(first[1] < second[0] for first, second in itertools.pairwise(spans))
    xs = rng.uniform(-1200, 1200, 1500)
    away = np.asarray(shapely.distance(shapely.points(xs, np.zeros(1500)), shapely.Polygon(ring)))
    within = np.zeros(1500, bool)
    for a, b in spans:
        within |= (xs > a) & (xs < b)
    sure = np.abs(away - rho) > 1e-6
    assert np.array_equal(within[sure], (away < rho)[sure])


def test_line_spans_by_hand() -> None:
    # a square 100 wide, its near edge 30 from the axis, reach 50: 40 mm more at either end
    square = np.array([[0.0, 30], [100, 30], [100, 130], [0, 130]])
    assert line_spans(square, 50.0) == [pytest.approx((-40.0, 140.0))]
    assert line_spans(square, 30.0 - 1e-6) == []
    # a long obstruction whose corners are all out of reach of the axis still blocks inside
    wide = np.array([[0.0, -500], [100, -500], [100, 500], [0, 500]])
    assert line_spans(wide, 20.0) == [pytest.approx((-20.0, 120.0))]


@pytest.mark.parametrize("upward", [True, False])
def test_next_clear_stays_where_it_touches(upward: bool) -> None:
    # a reach of 40: the band is open, (-190, 290); within 0.01 mm of its ends nothing is hit
    solids = Solids([RECT], [LOW], [HIGH], [25.0])
    bands = solids.bands(np.array([[200.0, 100.0, 700.0, 100.0]]), 15.0, np.array([0]))
    for z in (-190.0, -190.0 + 0.009, 290.0 - 0.009, 290.0):
        assert bands.next_clear(np.array([[z]]), upward=upward)[0, 0] == z
        assert bands.clear(np.array([[z]]))[0, 0]
    for z in (-190.0 + 0.011, 290.0 - 0.011):
        assert bands.next_clear(np.array([[z]]), upward=upward)[0, 0] == (290.0 if upward else -190.0)
        assert not bands.clear(np.array([[z]]))[0, 0]


@pytest.mark.parametrize("part", [None, 1500.0, 900.0, 400.0])
def test_near_finds_the_boxes_that_shapely_does(part: float | None) -> None:
    rng = np.random.default_rng(11)
    rings = [star(rng, 5, tuple(rng.uniform(-2000, 2000, 2)), 300) for _ in range(40)]
    low = rng.uniform(-3000, 3000, 40)
    high = low + rng.uniform(10, 900, 40)
    solids = Solids([pairs_of(r) for r in rings], list(low), list(high), [0.0] * 40)
    boxes = np.array([shapely.box(*shapely.Polygon(ring).bounds) for ring in rings], dtype=object)
    within = np.ones(40, dtype=bool)
    if part is not None:  # of a storey: only what meets its box in space
        least, most = np.array([-part, -1.2 * part, -part]), np.array([0.9 * part, part, part])
        solids = solids.around(least, most)
        within = shapely.intersects(boxes, shapely.box(*least[:2], *most[:2]))
        within &= (low <= most[2]) & (high >= least[2])
        assert 0 < within.sum() < 40
    corners = np.sort(rng.uniform(-1800, 1800, (30, 2, 2)), axis=1)
    asked = np.asarray(shapely.box(*(corners[:, 0] - 60).T, *(corners[:, 1] + 60).T), dtype=object)
    which, prism = solids.near_each(corners[:, 0], corners[:, 1], 60.0)
    found = list(zip(which.tolist(), prism.tolist(), strict=True))
    assert found == sorted(found)
    want = [
        (k, i) for k in range(30) for i in range(40) if within[i] and shapely.intersects(asked[k], boxes[i])
    ]
    assert found == want
    for k, ((x0, y0), (x1, y1)) in enumerate(corners):
        assert solids.near(x0, y0, x1, y1, 60.0).tolist() == [i for j, i in want if j == k]


@pytest.mark.parametrize("low", [-0.5, -1e-3, -1.0, -40.0])
def test_line_spans_inside_of_a_polygon_that_hardly_reaches_over_the_axis(low: float) -> None:
    rho = min(0.2, -low / 2)
    ring = np.array([[0.0, low], [100, low], [100, 50], [0, 50]])
    for turned in (ring, ring * [1.0, -1.0]):
        assert line_spans(turned, rho) == [pytest.approx((-rho, 100.0 + rho))]


@pytest.mark.parametrize("seed", range(6))
def test_line_spans_of_polygons_of_a_few_mm(seed: int) -> None:
    rng = np.random.default_rng(60 + seed)
    for _ in range(5):
        ring = star(rng, 5, (0.0, float(rng.uniform(-2, 2))), 3.0)
        rho = float(rng.uniform(0.05, 1.5))
        xs = rng.uniform(-6, 6, 300)
        away = np.asarray(shapely.distance(shapely.points(xs, np.zeros(300)), shapely.Polygon(ring)))
        within = np.zeros(300, bool)
        for a, b in line_spans(ring, rho):
            within |= (xs > a) & (xs < b)
        sure = np.abs(away - rho) > 1e-6
        assert np.array_equal(within[sure], (away < rho)[sure])
