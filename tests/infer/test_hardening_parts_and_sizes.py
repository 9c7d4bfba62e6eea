"""Drawings in loose parts and with sizes that no pipe has are read on: remarked, judged, never an error."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from drawn import drawn, given, routed

from router.check.referee import check_route
from router.infer import infer_route
from router.readers.segments import Segment

if TYPE_CHECKING:
    from pathlib import Path


def line(id_: str, a: tuple[float, float, float], b: tuple[float, float, float], dn: int) -> Segment:
    return Segment(id_, a, b, dn)


def test_a_pipe_that_hangs_under_the_line() -> None:
    """Read as a part of the line, over the same stations as the line itself."""
    scenario = given("minimal.json")
    found = infer_route(
        scenario,
        [line("A", (0, 0, 3200), (8600, 0, 3200), 32), line("B", (1500, 0, 2300), (1000, 0, 2700), 25)],
    )
    assert {"no_pipe"} <= {remark.kind for remark in found.remarks}
    assert "connected" in {finding.rule for finding in check_route(scenario, found.route).breaks}


@pytest.mark.parametrize("dn", [0, 17, 64, 1000])
def test_a_line_of_a_size_that_is_not_made(dn: int) -> None:
    scenario = given("minimal.json")
    pipes = [line("A", (0, 0, 3200), (8600, 0, 3200), dn), line("B", (1500, 0, 3200), (1500, 0, 2700), 25)]
    found = infer_route(scenario, pipes)
    assert "A" in {remark.element for remark in found.remarks if remark.kind == "size"}
    assert "sizes" in {finding.rule for finding in check_route(scenario, found.route).breaks}


@pytest.mark.parametrize("dn", [0, 64])
@pytest.mark.parametrize("name", ["minimal.json", "car_park.json", "loading_dock.json"])
def test_every_pipe_of_a_route_in_such_a_size(name: str, dn: int, tmp_path: Path) -> None:
    pipes = [replace(pipe, dn=dn) for pipe in drawn(routed(name), tmp_path)]
    found = infer_route(given(name), pipes)
    assert {remark.element for remark in found.remarks if remark.kind == "size"} >= {p.id for p in pipes}
    assert not check_route(given(name), found.route).clean


@pytest.mark.parametrize("name", ["minimal.json", "loading_dock.json"])
def test_random_damage(name: str, tmp_path: Path) -> None:
    base = drawn(routed(name), tmp_path)
    for seed in range(25):
        rng, pipes = np.random.default_rng(seed), list(base)
        for _ in range(int(rng.integers(1, 6))):
            k = int(rng.integers(len(pipes)))
            pipe, what = pipes[k], int(rng.integers(5))
            x, y, z = (float(v) for v in np.array(pipe.b) + rng.normal(0, rng.choice([1, 50, 500]), 3))
            if what == 0:
                pipes[k] = replace(pipe, dn=int(rng.choice([0, 17, 64, 90, 200, 1000])))
            elif what == 1:
                dn = int(rng.choice([0, 17, 64, 1000]))
                pipes = [replace(other, dn=dn) if other.dn == pipe.dn else other for other in pipes]
            elif what == 2:
                pipes[k] = replace(pipe, b=(x, y, z))
            elif what == 3:
                pipes.append(Segment(f"N{k}", pipe.a, (x, y, z - 300.0), pipe.dn))
            else:
                (ax, ay, az), (bx, by, bz) = pipe.a, pipe.b
                pipes[k] = replace(pipe, a=(ax, ay, az - 400), b=(bx, by, bz - 400))
        found = infer_route(given(name), pipes)
        check_route(given(name), found.route)
