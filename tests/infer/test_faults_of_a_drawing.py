"""What is wrong with a drawing is remarked with place and mm, and left for the referee to find."""

from __future__ import annotations

from dataclasses import replace
from math import dist
from typing import TYPE_CHECKING

import pytest
from drawn import drawn, given, routed
from hypothesis import HealthCheck, settings
from hypothesis import given as examples
from hypothesis import strategies as st

from router.check.referee import check_route
from router.infer import Inferred, infer_route
from router.readers.segments import Segment

if TYPE_CHECKING:
    from pathlib import Path

NAME = "minimal.json"


@pytest.fixture
def pipes(tmp_path: Path) -> list[Segment]:
    return drawn(routed(NAME), tmp_path)


def read(segments: list[Segment]) -> Inferred:
    return infer_route(given(NAME), segments)


def rules_broken(found: Inferred) -> set[str]:
    return {finding.rule for finding in check_route(given(NAME), found.route).breaks}


def kinds(found: Inferred) -> set[str]:
    return {remark.kind for remark in found.remarks}


def last_pipe(head: str, pipes: list[Segment]) -> int:
    inlet = next(h.at for h in given(NAME).heads if h.id == head)
    return next(k for k, s in enumerate(pipes) if min(dist(s.a, inlet), dist(s.b, inlet)) < 0.1)


def test_a_head_without_pipe(pipes: list[Segment]) -> None:
    head = given(NAME).heads[1]
    names = {
        piece for takeoff in routed(NAME).takeoffs if head.id in takeoff.heads for piece in takeoff.pieces
    }
    found = read([s for s in pipes if s.id not in names])
    remark = next(r for r in found.remarks if r.kind == "no_pipe")
    assert remark.element == head.id
    assert remark.place == pytest.approx(head.at)
    result = next(h for h in found.route.heads if h.id == head.id)
    assert not result.served
    assert found.route.counts.served == len(given(NAME).heads) - 1
    # one tee less, nothing else
    assert found.route.counts.fittings["tee"] == routed(NAME).counts.fittings["tee"] - 1
    assert rules_broken(found) == set()


@pytest.mark.parametrize("gap", [6.0, 30.0, 120.0])
def test_a_drop_that_stops_short_of_its_head(pipes: list[Segment], gap: float) -> None:
    head = given(NAME).heads[0]
    k = last_pipe(head.id, pipes)
    x, y, z = head.at
    end = (x, y, z + gap)
    if dist(pipes[k].a, head.at) < 0.1:
        pipes[k] = replace(pipes[k], a=end)
    else:
        pipes[k] = replace(pipes[k], b=end)
    found = read(pipes)
    remark = next(r for r in found.remarks if r.kind == "gap")
    assert remark.element == head.id
    assert remark.mm == pytest.approx(gap)
    assert remark.place == pytest.approx(end)
    assert {"served", "connected"} <= rules_broken(found)


def test_three_millimetres_short_are_no_gap(pipes: list[Segment]) -> None:
    k = last_pipe(given(NAME).heads[0].id, pipes)
    x, y, z = pipes[k].b
    pipes[k] = replace(pipes[k], b=(x, y, z + 3.0))
    found = read(pipes)
    assert kinds(found) == {"snapped"}
    assert found.remarks[0].mm == pytest.approx(3.0)
    assert rules_broken(found) == set()


@pytest.mark.parametrize("gap", [8.0, 40.0])
def test_an_arm_that_stops_short_of_its_line(pipes: list[Segment], gap: float) -> None:
    """In a drawing of centre lines a gap is a gap, whatever fitting would bridge it."""
    takeoff = next(t for t in routed(NAME).takeoffs if t.style == "side_arm")
    k = next(k for k, s in enumerate(pipes) if s.id == takeoff.pieces[0])
    arm = pipes[k]
    way = [(b - a) / dist(arm.a, arm.b) for a, b in zip(arm.a, arm.b, strict=True)]
    x, y, z = (a + gap * w for a, w in zip(arm.a, way, strict=True))
    pipes[k] = replace(arm, a=(x, y, z))
    found = read(pipes)
    remark = next(r for r in found.remarks if r.kind == "gap")
    assert remark.mm == pytest.approx(gap)
    assert remark.place == pytest.approx((x, y, z))
    assert "connected" in rules_broken(found)


def test_a_gap_in_the_line(pipes: list[Segment]) -> None:
    k = next(k for k, s in enumerate(pipes) if s.role == "branch" and s.a[0] > 0)
    run = pipes[k]
    way = [(b - a) / dist(run.a, run.b) for a, b in zip(run.a, run.b, strict=True)]
    start = tuple(a + 50.0 * w for a, w in zip(run.a, way, strict=True))
    pipes[k] = replace(run, a=start)  # type: ignore[arg-type]
    found = read(pipes)
    assert any(r.kind == "gap" and r.mm == pytest.approx(50.0) for r in found.remarks)
    assert "connected" in rules_broken(found)


def test_pipe_drawn_twice_and_pipe_drawn_over_pipe(pipes: list[Segment]) -> None:
    first = pipes[0]
    found = read([*pipes, replace(first, id="again", a=first.b, b=first.a)])
    assert {r.element for r in found.remarks if r.kind == "overlap"} <= {"again", first.id}
    assert "overlap" in kinds(found)
    assert found.route.counts == routed(NAME).counts
    way = [(b - a) / dist(first.a, first.b) for a, b in zip(first.a, first.b, strict=True)]
    p, q = ([a + t * w for a, w in zip(first.a, way, strict=True)] for t in (100.0, 350.0))
    over = Segment("over", (p[0], p[1], p[2]), (q[0], q[1], q[2]), first.dn, first.role)
    found = read([*pipes, over])
    assert next(r.mm for r in found.remarks if r.kind == "overlap") == pytest.approx(250.0)


def test_unknown_sizes_are_kept_and_found(pipes: list[Segment]) -> None:
    k = next(k for k, s in enumerate(pipes) if s.role == "head_arm")
    for dn in (0, 17, 200):
        pipes[k] = replace(pipes[k], dn=dn)
        found = read(pipes)
        remark = next(r for r in found.remarks if r.kind == "size")
        assert remark.element == pipes[k].id
        assert remark.place is not None
        assert "sizes" in rules_broken(found)


def test_a_line_beside_its_plan(pipes: list[Segment]) -> None:
    moved = [
        replace(s, a=(s.a[0], s.a[1] + 12.0, s.a[2]), b=(s.b[0], s.b[1] + 12.0, s.b[2]))
        if s.role == "branch"
        else s
        for s in pipes
    ]
    found = read(moved)
    remark = next(r for r in found.remarks if r.kind == "off_plan")
    assert remark.mm == pytest.approx(12.0, abs=0.1)
    assert "band" in rules_broken(found)


def test_pipe_of_nothing(pipes: list[Segment]) -> None:
    stray = Segment("stray", (90000.0, 0.0, 0.0), (91000.0, 0.0, 0.0), 25)
    dot = Segment("dot", (5.0, 5.0, 5.0), (5.0, 5.0, 5.4), 25)
    found = read([*pipes, stray, dot])
    assert {(r.kind, r.element) for r in found.remarks} == {("left_out", "stray"), ("size", "dot")}
    assert found.route.counts == routed(NAME).counts


def test_a_line_that_goes_on_beyond_its_last_takeoff_is_capped(pipes: list[Segment]) -> None:
    last = next(t for t in routed(NAME).takeoffs if t.ends_run)
    found = read([s for s in pipes if s.id not in last.pieces])
    remark = next(r for r in found.remarks if r.kind == "cap")
    assert remark.place == pytest.approx(next(f.at for f in routed(NAME).fittings if f.owner == last.id))
    assert found.route.counts.fittings["cap"] == 1
    assert found.route.counts.served == len(given(NAME).heads) - 1
    assert {f.rule for f in check_route(given(NAME), found.route).breaks} <= {"served"}


def test_nothing_drawn_at_all() -> None:
    found = infer_route(given(NAME), [])
    assert found.route.counts.served == 0
    assert [r.kind for r in found.remarks] == ["no_pipe"] * len(given(NAME).heads)
    assert rules_broken(found) == set()


@settings(
    max_examples=60,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@examples(st.data())
def test_no_drawing_breaks_the_reading(data: st.DataObject) -> None:
    """Whatever is drawn, a route comes back that the referee can read, and its counts are its own."""
    route = routed(NAME)
    segments = [Segment(p.id, p.start, p.end, p.dn) for p in route.pieces]
    drop = data.draw(st.sets(st.integers(0, len(segments) - 1), max_size=4))
    segments = [s for k, s in enumerate(segments) if k not in drop]
    off = st.floats(-400, 400).map(lambda v: round(v, 1))
    for _ in range(data.draw(st.integers(0, 4))):
        k = data.draw(st.integers(0, len(segments) - 1))
        s = segments[k]
        x, y, z = (v + data.draw(off) for v in s.b)
        if data.draw(st.booleans()):
            segments[k] = replace(s, b=(x, y, z))
        else:
            dn = data.draw(st.sampled_from([0, 15, 25, 33, 50, 200]))
            role = data.draw(st.sampled_from(["", "main", "branch", "head_arm", "hose"]))
            segments.append(Segment(f"N{len(segments)}", s.b, (x, y, z), dn, role))
    manner = data.draw(st.sampled_from([None, "centres", "faces"]))
    found = infer_route(given(NAME), segments, manner=manner)  # type: ignore[arg-type]
    verdict = check_route(given(NAME), found.route)
    wrong = [f.text for f in verdict.breaks if f.element.startswith("counts.")]
    # hangers are counted over ways that reach their head, so what does not reach the run may differ
    assert [text for text in wrong if "arm_hangers" not in text] == []
