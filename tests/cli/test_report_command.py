"""The command `report`: files it takes, what it writes, what it refuses."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from typer.testing import Result


def test_the_command_writes_one_file(
    run: Callable[..., Result], minimal: Path, routed: Path, tmp_path: Path
) -> None:
    out = tmp_path / "report.html"
    done = run("report", minimal, routed, "-o", out)
    assert done.exit_code == 0, done.output
    made = out.read_text(encoding="utf-8")
    assert hashlib.sha256(minimal.read_bytes()).hexdigest() in made
    assert hashlib.sha256(routed.read_bytes()).hexdigest() in made
    assert "why this way and not another" in made
    bare = tmp_path / "bare.html"
    assert run("report", minimal, routed, "-o", bare, "--no-reasons").exit_code == 0
    assert "they were not asked for (--no-reasons)" in bare.read_text(encoding="utf-8")


def test_the_command_takes_drawings_and_other_scenarios_routes(
    run: Callable[..., Result], minimal: Path, minimal_data: dict[str, Any], routed: Path, tmp_path: Path
) -> None:
    drawing, out = tmp_path / "drawing.csv", tmp_path / "report.html"
    assert run("export", routed, "-o", drawing).exit_code == 0
    done = run("report", minimal, routed, drawing, "-o", out)
    assert done.exit_code == 0, done.output
    made = out.read_text(encoding="utf-8")
    assert "the route is a person&#x27;s drawing" in made
    assert "Differences between routes" in made
    other = tmp_path / "other.json"
    other.write_text(json.dumps({**minimal_data, "name": "a later state"}), encoding="utf-8")
    done = run("report", other, routed, "-o", out)
    assert done.exit_code == 0, done.output
    assert "made for another scenario" in out.read_text(encoding="utf-8")


def test_the_command_refuses_what_it_cannot_write(
    run: Callable[..., Result], minimal: Path, routed: Path, tmp_path: Path
) -> None:
    for out, words in (
        (tmp_path / "report.pdf", ".html expected"),
        (tmp_path / "no" / "r.html", "does not exist"),
    ):
        done = run("report", minimal, routed, "-o", out)
        assert done.exit_code == 2
        assert words in done.output
        assert not out.exists()
