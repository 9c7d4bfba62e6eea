"""Every export is valid IFC4 to IfcOpenShell's validator, EXPRESS rules included (ISO 16739-1:2018)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ifc_cases as cases
import ifc_read
import pytest

if TYPE_CHECKING:
    from pathlib import Path

NAMES = (*cases.OURS, *cases.OTHERWISE, *cases.MADE)


@pytest.mark.parametrize("name", NAMES)
def test_the_validator_has_nothing_to_say(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    texts = {"route": cases.route_text(name)}
    if name not in cases.OTHERWISE:  # those are one of the others but for the settings
        texts["scenario"] = cases.scenario_text(name)
    for what, text in texts.items():
        path = tmp_path / f"{what}.ifc"
        path.write_text(text, encoding="ascii")
        assert ifc_read.complaints(path, monkeypatch) == []


def test_the_validator_does_complain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = cases.scenario_text("minimal")
    path = tmp_path / "bad.ifc"
    path.write_text(
        text.replace("IFCCARTESIANPOINT((0.,0.,0.))", "IFCCARTESIANPOINT((0.,0.,0.,0.))"), "ascii"
    )
    assert any("IfcCartesianPoint" in each for each in ifc_read.complaints(path, monkeypatch))
    up = next(line for line in text.splitlines() if "IFCDIRECTION((0.,0.,1.))" in line)
    path.write_text(text.replace(up, up.replace("(0.,0.,1.)", "(1.,0.,0.)")), "ascii")
    assert any("ValidExtrusionDirection" in each for each in ifc_read.complaints(path, monkeypatch))
