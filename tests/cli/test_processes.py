"""The command as a process: exit codes, the same bytes every time. Ctrl-C: ``test_interrupts.py``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Callable

    Spawn = Callable[..., subprocess.CompletedProcess[str]]

ROOT = Path(__file__).parents[2]


def test_exit_codes(spawn: Spawn, minimal: Path, tmp_path: Path) -> None:
    out = tmp_path / "r.json"
    done = spawn("route", minimal, "-o", out)
    assert done.returncode == 0, done.stderr
    assert "3 of 3 served" in done.stdout
    assert "the referee ..." in done.stderr, "progress does not mix with the table"
    assert spawn("check", minimal, out).returncode == 0
    failed = spawn("validate", tmp_path / "none.json")
    assert failed.returncode == 2
    assert failed.stdout == ""
    assert "none.json" in failed.stderr
    assert "Traceback" not in failed.stderr


def test_version_and_help(spawn: Spawn) -> None:
    assert spawn("--version").stdout.startswith("branch-router ")
    text = spawn("--help").stdout
    for command in ("validate", "schema", "route", "check", "rules", "draw", "import"):
        assert command in text
    assert "not an approval" in " ".join(text.split())


def test_a_poor_terminal_is_enough(spawn: Spawn, minimal: Path, routed: Path) -> None:
    done = spawn("check", minimal, routed, PYTHONIOENCODING="ascii", COLUMNS="40")
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", sorted(path.name for path in (ROOT / "scenarios").glob("*.json")))
def test_the_same_bytes_in_any_process(spawn: Spawn, tmp_path: Path, name: str) -> None:
    files = [tmp_path / f"{seed}.json" for seed in ("1", "31337")]
    for file in files:
        done = spawn("route", ROOT / "scenarios" / name, "-o", file, "--quiet", PYTHONHASHSEED=file.stem)
        assert done.returncode in (0, 1), done.stderr
    first, second = (file.read_bytes() for file in files)
    assert first == second
    assert first.startswith(b'{\n  "format": "branch-drop-router/route"')
