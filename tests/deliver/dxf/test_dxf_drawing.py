"""What a person who opens the drawing finds: sound, to scale, at true places."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from dxf_written import FILES, FOLDER, given, on_layer, opened, route_text, routed, scenario_text

from router.deliver.dxf import route_dxf, scenario_dxf
from router.deliver.dxf.layers import LAYERS
from router.readers.dxf import names

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("make", [scenario_text, route_text])
@pytest.mark.parametrize("name", FILES)
def test_the_auditor_finds_nothing(name: str, make: object, tmp_path: Path) -> None:
    doc = opened(make(name), tmp_path)  # type: ignore[operator]
    auditor = doc.audit()
    assert auditor.errors == []
    assert auditor.fixes == []


@pytest.mark.parametrize("name", FILES)
def test_every_entity_is_on_a_layer_of_ours(name: str, tmp_path: Path) -> None:
    doc = opened(route_text(name), tmp_path)
    known = {row[0] for row in LAYERS}
    assert {entity.dxf.layer for entity in doc.modelspace()} <= known
    assert known <= {layer.dxf.name for layer in doc.layers}


@pytest.mark.parametrize("name", FILES)
def test_places_are_true(name: str, tmp_path: Path) -> None:
    doc, scenario, route = opened(route_text(name), tmp_path), given(name), routed(name)
    heads = on_layer(doc, names.HEADS)
    assert [tuple(insert.dxf.insert) for insert in heads] == [head.at for head in scenario.heads]
    assert [insert.get_attrib_text("ID") for insert in heads] == [head.id for head in scenario.heads]
    lines = [e for e in doc.modelspace() if e.dxf.layer.startswith("ROUTER-PIPE-")]
    assert [tuple(line.dxf.start) for line in lines] == [piece.start for piece in route.pieces]
    fittings = [e for e in on_layer(doc, "ROUTER-FITTINGS") if e.dxftype() == "INSERT"]
    assert [tuple(insert.dxf.insert) for insert in fittings] == [fitting.at for fitting in route.fittings]
    assert len(on_layer(doc, "ROUTER-HANGERS")) == len(route.hangers)
    solids = on_layer(doc, names.OBSTRUCTIONS)
    spans = [(e.dxf.elevation, e.dxf.elevation + e.dxf.thickness) for e in solids]
    assert spans == [pytest.approx(item.elevations, abs=1e-6) for item in scenario.obstructions]


@pytest.mark.parametrize("scale", [20, 50, 100])
def test_texts_are_to_scale(scale: int, tmp_path: Path) -> None:
    """2.5 mm on paper at 1:50 is 125 mm in the building."""
    name = "loading_dock.json"
    doc = opened(route_dxf(given(name), routed(name), scale), tmp_path)
    texts = [e for e in on_layer(doc, "ROUTER-TEXT") if e.dxftype() == "TEXT"]
    ids = {head.id for head in given(name).heads}
    labels = [text for text in texts if text.dxf.text in ids]
    assert len(labels) > 10
    assert [text.dxf.height for text in labels] == pytest.approx([2.5 * scale] * len(labels), abs=1e-3)
    sheet = doc.layout("Plan")
    port = next(v for v in sheet.query("VIEWPORT") if v.dxf.id > 1)
    assert port.dxf.view_height / port.dxf.height == pytest.approx(scale)


def test_sections_are_in_true_size(tmp_path: Path) -> None:
    """Run pipe on the sections is as long as run pipe in the building, seen square to its part of the run."""
    name = "loading_dock.json"
    doc, route = opened(route_text(name), tmp_path), routed(name)
    below = min(p[1] for piece in route.pieces for p in (piece.start, piece.end))
    pipes = on_layer(doc, "ROUTER-SECTION-PIPE")
    assert all(y < below for line in pipes for _, y in line.get_points("xy"))

    def length(line: object) -> float:
        (x0, y0), (x1, y1) = line.get_points("xy")  # type: ignore[attr-defined]
        return float(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)

    shown = sorted(length(line) for line in pipes if line.dxf.color == 142)
    wanted = sorted(piece.length for piece in route.pieces if piece.kind == "run")
    assert shown == pytest.approx(wanted, abs=0.01)


@pytest.mark.parametrize("name", ["loading_dock.json", "clinic_corridor.json"])
def test_labels_do_not_cover_each_other(name: str, tmp_path: Path) -> None:
    from ezdxf import bbox

    doc = opened(route_text(name), tmp_path)
    boxes = []
    for text in on_layer(doc, "ROUTER-TEXT"):
        if text.dxftype() == "TEXT":
            box = bbox.extents([text])
            boxes.append((box.extmin.x, box.extmin.y, box.extmax.x, box.extmax.y, text.dxf.text))
    clash = [
        (a[4], b[4])
        for k, a in enumerate(boxes)
        for b in boxes[k + 1 :]
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]
    assert clash == []


def test_an_unserved_head_is_marked(tmp_path: Path) -> None:
    name = "minimal.json"
    route = routed(name)
    first = route.heads[0].model_copy(update={"served": False, "takeoff": None, "style": None})
    route = route.model_copy(update={"heads": [first, *route.heads[1:]]})
    doc = opened(route_dxf(given(name), route), tmp_path)
    marks = on_layer(doc, "ROUTER-UNSERVED")
    assert [mark.get_attrib_text("ID") for mark in marks] == [first.id]
    texts = [e.dxf.text for e in on_layer(doc, "ROUTER-TEXT") if e.dxftype() == "TEXT"]
    assert any(text.startswith("NOT SERVED") and first.id in text for text in texts)


@pytest.mark.parametrize("name", FILES)
def test_caution_and_title_stand_in_the_drawing(name: str, tmp_path: Path) -> None:
    for text in (scenario_text(name), route_text(name)):
        doc = opened(text, tmp_path)
        texts = " ".join(e.dxf.text for e in on_layer(doc, "ROUTER-TEXT") if e.dxftype() == "TEXT")
        assert given(name).name in texts
        assert "First-pass coordination aid. Not a design" in texts


def test_the_same_bytes_from_any_process(tmp_path: Path) -> None:
    code = (
        "import sys, hashlib\n"
        "from router.scenario import read_scenario\n"
        "from router.building.route import route_scenario\n"
        "from router.deliver.dxf import route_dxf, scenario_dxf\n"
        "s = read_scenario(sys.argv[1])\n"
        "text = scenario_dxf(s) + route_dxf(s, route_scenario(s)[0])\n"
        "print(hashlib.sha256(text.encode()).hexdigest())\n"
    )
    name = "clinic_corridor.json"
    answers = {
        subprocess.run(
            [sys.executable, "-c", code, str(FOLDER / name)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "77")
    }
    assert len(answers) == 1
    assert scenario_dxf(given(name)) == scenario_text(name)
    guids = set(re.findall(r"\{[0-9A-Fa-f]{8}-[0-9A-Fa-f-]{27}\}", scenario_text(name)))
    assert guids <= {"{00000000-0000-0000-0000-000000000000}"}
