"""A handful of the corpus as a person meets it: the exit code and streams of ``python -m router``."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from bad_input.all_cases import CASES
from bad_input.commands import KINDS

ROOT = Path(__file__).parents[2]
SOME = ("id with half a character", "route: piece twice", "dxf: cut off")


@pytest.mark.parametrize("name", SOME)
def test_as_a_process(name: str, here: Path) -> None:
    (case,) = [case for case in CASES if case.name == name]
    bad = case.make(here)
    before = sorted(path.name for path in here.rglob("*"))
    command = KINDS[case.kind][0].replace("{bad}", bad.name)
    done = subprocess.run(
        [sys.executable, "-m", "router", *shlex.split(command)],
        cwd=here,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        timeout=300,
        check=False,
    )
    told = done.stderr.decode("ascii")
    assert done.returncode == 2, told
    assert done.stdout == b""
    assert "Traceback" not in told
    assert bad.name in told
    for words in case.says:
        assert words in told, told
    assert sorted(path.name for path in here.rglob("*")) == before
