"""What a route and the same route read off its drawing must have in common."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from router.check.referee import check_route

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario

Told = dict[tuple[str, ...], tuple[Any, ...]]


def told(route: Route) -> Told:
    """By heads and child runs: what is said of their takeoff."""
    found: Told = {}
    for t in route.takeoffs:
        both = len(t.heads) + len(t.child_runs) > 1
        side = "" if both and t.side in ("left", "right") else t.side
        found[(*sorted(t.heads), *sorted(t.child_runs))] = (
            t.run, t.style, side, t.dogleg, t.ends_run, t.hangers, len(t.pieces), len(t.fittings),
        )  # fmt: skip
    return found


def assert_same(scenario: Scenario, route: Route, read: Route, pipe_m: float) -> None:
    """Fittings by kind, styles, counts; pipe within ``pipe_m``; the referee finds nothing."""
    assert read.status == "feasible"
    assert read.objective.bound == 0
    assert read.objective.gap == read.objective.value
    ours, theirs = route.counts, read.counts
    assert theirs.fittings == ours.fittings
    assert theirs.styles == ours.styles
    for name in ("served", "fittings_counted", "takeoff_fittings", "reducers", "level_changes", "drains"):
        assert getattr(theirs, name) == getattr(ours, name), name
    assert theirs.arm_hangers == ours.arm_hangers
    assert theirs.hoses == ours.hoses
    assert told(read) == told(route)
    assert {h.id: (h.run, h.style) for h in read.heads} == {h.id: (h.run, h.style) for h in route.heads}
    for run, other in zip(route.runs, read.runs, strict=True):
        assert other.id == run.id
        changes = [(c.angle, c.at_bend) for c in run.level_changes]
        assert [(c.angle, c.at_bend) for c in other.level_changes] == changes
        assert len(other.trapped) == len(run.trapped)
    assert theirs.pipe_m.keys() == ours.pipe_m.keys()
    for dn, metres in ours.pipe_m.items():
        assert theirs.pipe_m[dn] == pytest.approx(metres, abs=pipe_m)
    verdict = check_route(scenario, read)
    # drawn to whole mm, neighbours at their limit may lack a part of one
    part = 0.5 if pipe_m > 0.01 else 0.0
    short = [f for f in verdict.breaks if f.rule != "outlet_spacing" or f.limit - f.measured > part]  # type: ignore[operator]
    assert [f.text for f in short] == []
    assert verdict.value == pytest.approx(read.objective.value, abs=0.02)
