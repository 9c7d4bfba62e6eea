"""What the tests of the command line share."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from typer.testing import CliRunner

from router.cli import app

if TYPE_CHECKING:
    from collections.abc import Callable

    from typer.testing import Result

ROOT = Path(__file__).parents[2]


@pytest.fixture
def run() -> Callable[..., Result]:
    """Give a function that runs a command in this process."""
    runner = CliRunner(env={"COLUMNS": "200"})

    def start(*args: object) -> Result:
        return runner.invoke(app, [str(arg) for arg in args])

    return start


@pytest.fixture
def spawn() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Give a function that runs ``python -m router`` as a person would."""

    def start(*args: object, **env: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "router", *map(str, args)],
            cwd=ROOT,
            env={**os.environ, **env},
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )

    return start


@pytest.fixture(scope="session")
def minimal() -> Path:
    return ROOT / "scenarios" / "minimal.json"


@pytest.fixture(scope="session")
def routed(tmp_path_factory: pytest.TempPathFactory, minimal: Path) -> Path:
    """Give the route file of the minimal scenario; not to be changed."""
    file = tmp_path_factory.mktemp("routed") / "route.json"
    result = CliRunner().invoke(app, ["route", str(minimal), "-o", str(file), "--quiet"])
    assert result.exit_code == 0, result.output
    return file


@pytest.fixture
def minimal_data(minimal: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(minimal.read_text(encoding="utf-8"))
    return data
