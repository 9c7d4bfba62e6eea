"""Processes that do a part of the work: killed at any moment, out of memory, not to be started.

The work is done, here if need be, and the route is byte for byte the same.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from .conftest import Commands

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="signals and limits of Linux")
AGAIN = "a process died or could not start, perhaps for want of memory: its part is done here ..."


@pytest.fixture(scope="module")
def best(commands: Commands, storeys: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Give the route that one process finds."""
    file = tmp_path_factory.mktemp("best") / "r.json"
    assert commands.start("route", storeys, "-o", file).code == 1, "a head of each storey has no way"
    return file.read_bytes()


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        ("worker-dies=begin", True),
        ("worker-dies=all", True),
        ("worker-dies=after", False),
        ("worker-memory=0", True),
        ("no-process=2", True),
    ],
)
def test_the_route_is_the_same(
    commands: Commands, storeys: Path, best: bytes, tmp_path: Path, fault: str, told: bool
) -> None:
    out = tmp_path / "r.json"
    done = commands.start("route", storeys, "-o", out, faults=f"processes=2 {fault}")
    assert done.code == 1, done.err
    assert out.read_bytes() == best
    if told:
        assert AGAIN in done.err.splitlines()


def test_no_process_outlives_its_parent(commands: Commands, storeys: Path, tmp_path: Path) -> None:
    """Killed while they work; ``commands`` looks whether something goes on."""
    out = tmp_path / "r.json"
    faults = "processes=2 at=router.building.processes:wait:3 do=SIGKILL"
    assert commands.start("route", storeys, "-o", out, faults=faults).code == -9
    assert list(tmp_path.iterdir()) == []
