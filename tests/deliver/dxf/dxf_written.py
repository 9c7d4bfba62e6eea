"""Scenarios and routes of ours, written as DXF once for all tests."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ezdxf.filemanagement import readfile

from router.building.route import route_scenario
from router.deliver.dxf import route_dxf, scenario_dxf
from router.scenario import read_scenario

if TYPE_CHECKING:
    from ezdxf.document import Drawing

    from router.route.model import Route
    from router.scenario.model import Scenario

FOLDER = Path(__file__).parents[3] / "scenarios"
FILES = sorted(str(p.relative_to(FOLDER)) for p in [*FOLDER.glob("*.json"), *FOLDER.glob("variants/*.json")])


@cache
def given(name: str) -> Scenario:
    return read_scenario(FOLDER / name)


@cache
def routed(name: str) -> Route:
    return route_scenario(given(name))[0]


@cache
def scenario_text(name: str) -> str:
    return scenario_dxf(given(name))


@cache
def route_text(name: str) -> str:
    return route_dxf(given(name), routed(name))


def saved(text: str, folder: Path, name: str = "drawing.dxf") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def opened(text: str, folder: Path) -> Drawing:
    return readfile(saved(text, folder, "opened.dxf"))


def on_layer(doc: Drawing, layer: str) -> list[Any]:
    return [entity for entity in doc.modelspace() if entity.dxf.layer == layer]
