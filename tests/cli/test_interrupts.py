"""Ctrl-C and time limits of ``route``: the best route so far, in one process and in several."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from router.check import check_route
from router.deliver.route_json import read_route
from router.scenario import read_scenario

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.route.model import Route

    Spawn = Callable[..., subprocess.CompletedProcess[str]]

ROOT = Path(__file__).parents[2]
NOTICE = "interrupted: finishing with the best route so far; Ctrl-C once more ends at once"


@pytest.fixture(scope="module")
def storeys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a scenario of four storeys with a main and two lines; arms of each clash with a third line."""
    runs: list[dict[str, Any]] = []
    heads: list[dict[str, Any]] = []
    for n in range(4):
        z = 3000 + 4000 * n
        runs.append({"id": f"M{n}", "plan": [[0, 0], [0, 3005]], "elevation": z, "size": 65, "kind": "main"})
        for k, y in enumerate((1000, 3000)):
            runs.append({"id": f"L{n}{k}", "plan": [[0, y], [3500, y]], "elevation": z, "supply": f"M{n}"})
            heads += [
                {"id": f"H{n}{k}{h}", "at": [900 + 1100 * h, y + 500 - 220 * h, z - 400], "run": f"L{n}{k}"}
                for h in range(3)
            ]
        runs.append({"id": f"X{n}", "plan": [[0, 3500], [3500, 3500]], "elevation": z, "size": 32})
        heads.append({"id": f"HX{n}", "at": [900, 3050, z - 400], "run": f"X{n}"})
    file = tmp_path_factory.mktemp("storeys") / "storeys.json"
    file.write_text(json.dumps({"name": "storeys", "runs": runs, "heads": heads}), encoding="utf-8")
    return file


def interrupted(
    scenario: Path, out: Path, phase: str, *, count: int = 1, times: int = 1, processes: int = 1
) -> subprocess.CompletedProcess[str]:
    """Run ``route`` in a group of its own, to which Ctrl-C comes; nothing of it is left behind."""
    process = subprocess.Popen(
        [sys.executable, str(Path(__file__).with_name("interrupted.py")), phase, str(count), str(times),
         str(processes), "route", str(scenario), "-o", str(out)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )  # fmt: skip
    try:
        # the pipes close when the last process of the group ends
        stdout, stderr = process.communicate(timeout=120)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, 9)
        raise
    assert gone(process.pid), "something of it was left behind"
    assert "Traceback" not in stderr, stderr
    assert "KeyboardInterrupt" not in stderr
    return subprocess.CompletedProcess(process.args, process.returncode, stdout, stderr)


def gone(group: int) -> bool:
    """Whether nothing of a group of processes is left, soon."""
    for _ in range(300):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    return False


def judged(scenario: Path, file: Path) -> Route:
    route = read_route(file)
    assert {f.rule for f in check_route(read_scenario(scenario), route).breaks} <= {"hangers"}
    assert route.objective.bound <= route.objective.value
    return route


@pytest.fixture(scope="module")
def best(storeys: Path, tmp_path_factory: pytest.TempPathFactory) -> Route:
    from router.building.route import route_scenario

    return route_scenario(read_scenario(storeys))[0]


@pytest.mark.parametrize(
    ("phase", "count", "processes"),
    [("candidates", 8, 1), ("model", 1, 1), ("model", 2, 1), ("model", 1, 2)],
)
def test_ctrl_c_gives_the_best_route_so_far(
    storeys: Path, best: Route, tmp_path: Path, phase: str, count: int, processes: int
) -> None:
    out = tmp_path / "r.json"
    done = interrupted(storeys, out, phase, count=count, processes=processes)
    assert done.returncode == 130, done.stderr
    assert NOTICE in done.stderr
    assert done.stderr.splitlines()[-1] == f"interrupted; the best route so far was written: {out}"
    assert "feasible: keeps every rule" in done.stdout
    route = judged(storeys, out)
    assert route.status == "feasible"
    assert 0 < route.counts.served < route.counts.heads
    assert route.objective.bound <= best.objective.value <= route.objective.value
    assert [path.name for path in tmp_path.iterdir()] == ["r.json"]


def test_ctrl_c_while_processes_begin(storeys: Path, tmp_path: Path) -> None:
    """They load for a moment and have no handler of their own; nothing is decided yet."""
    out = tmp_path / "r.json"
    done = interrupted(storeys, out, "candidates", count=2, processes=2)
    assert done.returncode == 130, done.stderr
    assert NOTICE in done.stderr
    if out.exists():  # they were quick
        judged(storeys, out)
    else:
        assert done.stderr.splitlines()[-1] == (
            "interrupted before a head could be served; nothing was written"
        )


def test_ctrl_c_while_the_referee_looks(storeys: Path, best: Route, tmp_path: Path) -> None:
    out = tmp_path / "r.json"
    done = interrupted(storeys, out, "referee")
    assert done.returncode == 130
    assert done.stderr.splitlines()[-1] == (
        f"interrupted, but the route was already decided; it was written: {out}"
    )
    assert judged(storeys, out).objective == best.objective


@pytest.mark.parametrize(("phase", "processes"), [("candidates", 1), ("candidates", 2), ("model", 1)])
def test_a_second_ctrl_c_ends_at_once(storeys: Path, tmp_path: Path, phase: str, processes: int) -> None:
    done = interrupted(storeys, tmp_path / "r.json", phase, times=2, processes=processes)
    assert done.returncode == 130, done.stderr
    assert done.stdout == ""
    assert done.stderr.splitlines()[-1] == "interrupted; nothing was written"
    assert list(tmp_path.iterdir()) == []


def test_a_time_limit_that_is_up_before_anything_is_decided(
    spawn: Spawn, storeys: Path, tmp_path: Path
) -> None:
    done = spawn("route", storeys, "-o", tmp_path / "r.json", "--time-limit", "0.000001")
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.splitlines()[-1] == (
        "the time limit of 1e-06 s was up before a head could be served; nothing was written"
    )
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("seconds", ["0.01", "0.5", "600"])
def test_any_time_limit_ends_in_order(spawn: Spawn, storeys: Path, tmp_path: Path, seconds: str) -> None:
    """How far it comes depends on the machine; whatever is written is clean, and the code fits it."""
    out = tmp_path / "r.json"
    done = spawn("route", storeys, "-o", out, "--time-limit", seconds)
    assert "Traceback" not in done.stderr
    if not out.exists():
        assert done.returncode == 1
        assert "nothing was written" in done.stderr
        return
    route = judged(storeys, out)
    assert done.returncode == (0 if route.counts.served == route.counts.heads else 1)
    if route.status == "feasible":
        assert f"the time limit of {seconds} s was up; the best route so far was written" in done.stderr
    if seconds == "600":
        assert route.status == "optimal"
