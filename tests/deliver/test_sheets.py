"""Sheets on paper: read back from SVG with a ruler, and from PDF with pypdf."""

from __future__ import annotations

import csv
import io
import math
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections import Counter
from itertools import combinations, pairwise
from pathlib import Path

import pypdf
import pytest
import shapely
from made_route import make_route
from typer.testing import CliRunner

from router.building.route import route_scenario
from router.cli import app
from router.cutlist import cut_list
from router.cutlist.sheets import sheets as tables_of
from router.deliver.cutlist_csv import sheet_csv
from router.deliver.sheets import Set, paper_of, sheet_set
from router.deliver.sheets.paper import INCH_SCALES, METRIC_SCALES, PAPERS
from router.deliver.sheets.pdf import readable
from router.deliver.sheets.plans import plan_layout
from router.deliver.sheets.projection import Axis, isometric
from router.route.model import Route
from router.scenario import read_scenario
from router.scenario.model import Scenario

SVG = "{http://www.w3.org/2000/svg}"
SCENARIOS = Path(__file__).parents[2] / "scenarios"
Case = tuple[Scenario, Route, Set]


@pytest.fixture(scope="module", params=["minimal", "loading_dock", "reading_room"])
def case(request: pytest.FixtureRequest) -> Case:
    """Real routes: their cut lists are whole."""
    scenario = read_scenario(SCENARIOS / f"{request.param}.json")
    route, _ = route_scenario(scenario)
    return scenario, route, sheet_set(scenario, route, paper_of(None, inch=request.param == "reading_room"))


def roots(sheets: Set, kind: str = "") -> list[ET.Element]:
    return [ET.fromstring(text) for name, text in sheets.svgs().items() if kind in name]


def texts(root: ET.Element) -> list[str]:
    return [e.text or "" for e in root.iter(f"{SVG}text")]


def heads_of(root: ET.Element, kind: str) -> dict[str, tuple[float, float]]:
    found = {}
    for group in root.iter(f"{SVG}g"):
        ring = group.find(f"{SVG}circle")
        if group.get("class") == kind and ring is not None:
            found[group.attrib["data-head"]] = (float(ring.attrib["cx"]), float(ring.attrib["cy"]))
    return found


def labels(root: ET.Element) -> list[str]:
    layer = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "layer-labels")
    return [e.text or "" for e in layer.findall(f"{SVG}text")]


def test_plan_lengths_on_paper_times_scale_are_real(case: Case) -> None:
    scenario, route, sheets = case
    words = {text: n for n, text in (METRIC_SCALES | INCH_SCALES).items()}
    inlet = {h.id: h.inlet for h in route.heads}
    measured = 0
    for page, root in zip(sheets.pages, roots(sheets, ""), strict=True):
        if not page.name.startswith("plan"):
            continue
        at = heads_of(root, "head")
        for a, b in pairwise(sorted(at)):
            real = math.dist(inlet[a][:2], inlet[b][:2])
            assert math.dist(at[a], at[b]) * words[page.scale] == pytest.approx(real, abs=0.03 * words[page.scale])
            measured += 1
    assert measured >= len(scenario.heads) - len([p for p in sheets.pages if p.name.startswith("plan")])


def test_every_head_is_named_once_on_the_plans_and_once_on_the_isometrics(case: Case) -> None:
    _, route, sheets = case
    for kind in ("plan", "isometric"):
        written = Counter(t for root in roots(sheets, kind) for t in labels(root))
        assert {h.id: written[h.id] for h in route.heads} == {h.id: 1 for h in route.heads}


def test_marks_and_lengths_are_the_cut_lists_own(case: Case) -> None:
    """Tags of the isometrics against the CSV files that `cutlist` writes."""
    scenario, route, sheets = case
    cuts = cut_list(scenario, route)
    tables = {t.name: list(csv.DictReader(io.StringIO(sheet_csv(t).lstrip("\ufeff")))) for t in tables_of(cuts)}
    rows = [row for table in tables.values() for row in table if row.get("tag") and row.get("mark")]
    wanted = {row["tag"]: (row["mark"], row["cut length"]) for row in rows}
    assert len(wanted) == len(cuts.cuts)
    found: Counter[str] = Counter()
    for root in roots(sheets, "isometric"):
        written = labels(root)
        for name, length in pairwise(written):
            match = re.fullmatch(r"([A-Z]+\d+) (P\d+[a-z]*)", name)
            if match:
                assert (match[1], length) == wanted[match[2]]
                found[match[2]] += 1
    assert found == Counter(dict.fromkeys(wanted, 1))
    barrels = Counter(t.split()[1] for r in roots(sheets, "isometric") for t in labels(r) if t.startswith("barrel "))
    assert barrels == Counter(item.tag for item in cuts.ordered if item.kind == "barrel")


def test_the_list_of_marks_is_the_grouped_cut_list(case: Case) -> None:
    scenario, route, sheets = case
    written = [t for root in roots(sheets, "marks") for t in texts(root)]
    for group in cut_list(scenario, route).groups:
        place = [k for k, t in enumerate(written) if t == group.mark]
        assert any(written[k + 1] == str(len(group.tags)) for k in place)


def test_labels_do_not_overlap_and_stay_within_the_frame(case: Case) -> None:
    _, _, sheets = case
    checked = 0
    for page, root in zip(sheets.pages, roots(sheets), strict=True):
        boxes = [shapely.box(*box) for box in page.labels]
        for a, b in combinations(boxes, 2):
            assert a.intersection(b).area < 1e-6
        checked += len(boxes)
        frame = shapely.box(20.0, 10.0, sheets.paper.width - 10.0, sheets.paper.height - 10.0)
        assert all(frame.contains(box) for box in boxes)
        for element in root.iter():
            if element.tag == f"{SVG}svg" or element.get("width") == f"{sheets.paper.width:g}":
                continue
            pairs = [(element.get("x1"), element.get("y1")), (element.get("x2"), element.get("y2"))]
            pairs += [(element.get("cx"), element.get("cy")), (element.get("x"), element.get("y"))]
            pairs += [(p.split(",")[0], p.split(",")[1]) for p in element.get("points", "").split()]
            for x, y in pairs:
                if x is not None and y is not None:
                    assert frame.covers(shapely.Point(float(x), float(y))), (page.name, ET.tostring(element))
    assert checked > 20


def test_the_pdf_has_the_papers_size_and_the_same_words(case: Case) -> None:
    scenario, route, sheets = case
    reader = pypdf.PdfReader(io.BytesIO(sheets.pdf()))
    assert len(reader.pages) == len(sheets.pages)
    for number, (page, sheet, root) in enumerate(zip(reader.pages, sheets.pages, roots(sheets), strict=True), 1):
        box = page.mediabox
        assert float(box.width) == pytest.approx(sheets.paper.width / 25.4 * 72, abs=0.01)
        assert float(box.height) == pytest.approx(sheets.paper.height / 25.4 * 72, abs=0.01)
        words = "".join(page.extract_text().split())
        for text, times in Counter("".join(t.split()) for t in texts(root)).items():
            assert words.count(text) >= times, text
        assert "".join(sheet.title.split()) in words
        assert f"of {len(sheets.pages)}" in texts(root)
        assert str(number) in texts(root)
        assert scenario.name in texts(root) or len(scenario.name) > 30
        assert route.scenario_sha256[:12] in texts(root)


def test_isometric_axes_are_thirty_degrees() -> None:
    """ISO 5456-3 (from memory): three axes of one scale, two of them 30 degrees over the horizontal.

    Checked against rotation by 45 and arctan(1/sqrt 2) degrees, which is how the projection is defined.
    """
    tilt, turn = math.atan(1 / math.sqrt(2)), math.radians(45)
    for point in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (3.0, -2.0, 7.0)):
        x, y, z = point
        right = x * math.cos(turn) - y * math.sin(turn)
        away = x * math.sin(turn) + y * math.cos(turn)
        up = away * math.sin(tilt) + z * math.cos(tilt)
        full = math.sqrt(3 / 2)  # axes at their true length
        shown = isometric(*point)
        assert shown == pytest.approx((right * full, -up * full), abs=1e-9)


def test_a_line_is_drawn_along_the_axes(case: Case) -> None:
    """Runs of these scenarios are straight: all level pipe is at 30 degrees, all vertical pipe upright."""
    _, route, sheets = case
    pieces = {p.id: p for p in route.pieces}
    seen = set()
    for root in roots(sheets, "isometric"):
        for line in root.iter(f"{SVG}polyline"):
            piece = pieces.get(line.get("data-piece", ""))
            if piece is None:
                continue
            seen.add(piece.id)
            a, b = (tuple(map(float, p.split(","))) for p in (line.attrib["points"].split()[k] for k in (0, -1)))
            plan = math.dist(piece.start[:2], piece.end[:2])
            if plan < 1.0:
                assert abs(a[0] - b[0]) < 0.1
            elif abs(piece.start[2] - piece.end[2]) < 0.02 * plan:
                angle = math.degrees(math.atan2(abs(b[1] - a[1]), abs(b[0] - a[0])))
                assert angle == pytest.approx(30.0, abs=2.0)
    assert seen == set(pieces)


def test_an_axis_keeps_order_and_gives_pipes_room() -> None:
    axis = Axis.of([0.0, 75.0, 1000.0, 1003.0], [(0.0, 75.0)], 12.0, 34.0, 80.0)
    places = [axis.at(v) for v in (0.0, 75.0, 1000.0, 1003.0)]
    assert places[1] == pytest.approx(12.0)  # 75 / 80 would be too short for a tag
    assert places[2] - places[1] == pytest.approx(925.0 / 80.0)
    assert places[3] == places[2]  # within the tolerance of alignment


@pytest.mark.parametrize("name", PAPERS)
def test_papers_are_as_published(name: str) -> None:
    """ISO 216: A0 is 1 m2 with sides as 1 to root 2, each next one is half; ASME Y14.1: 11 x 17 in. and so on."""
    width, height, standard = PAPERS[name]
    if standard == "ISO 216":
        assert width / height == pytest.approx(math.sqrt(2), abs=0.005)
        assert width * height == pytest.approx(1e6 / 2 ** int(name[1:]), rel=0.005)
    else:
        inches = {"tabloid": (17, 11), "ansi-c": (22, 17), "ansi-d": (34, 22), "ansi-e": (44, 34)}[name]
        assert (width / 25.4, height / 25.4) == pytest.approx(inches)


def test_architectural_scales_are_what_they_say() -> None:
    for n, text in INCH_SCALES.items():
        paper, foot = text.split(" = ")
        whole, _, part = paper.rstrip('"').partition("/")
        assert float(foot.split("'")[0]) * 12 / (int(whole) / int(part or 1)) == n


def test_a_plan_too_large_for_a_sheet_takes_several() -> None:
    """A3 leaves 384 x 241 mm; less 2 x 12 mm, 9 mm and 11 mm: 360 x 197 mm, so 36 x 19.7 m at 1:100."""
    paper = paper_of("A3", inch=False)
    assert plan_layout(paper, (35_000.0, 19_000.0)) == (100, 1, 1)
    assert plan_layout(paper, (37_000.0, 19_000.0)) == (100, 2, 1)
    assert plan_layout(paper, (37_000.0, 21_000.0)) == (100, 2, 2)
    assert plan_layout(paper, (17_000.0, 9_000.0)) == (50, 1, 1)


def test_a_split_plan_shows_all_once_with_match_lines() -> None:
    scenario = read_scenario(SCENARIOS / "clinic_corridor.json")
    sheets = sheet_set(scenario, make_route(scenario), paper_of("A4", inch=False))
    plans = roots(sheets, "plan")
    assert len(plans) > 1
    shown = Counter(h for root in plans for h in heads_of(root, "head"))
    assert shown == Counter(h.id for h in scenario.heads)
    for number, root in enumerate(plans, 1):
        assert f"Plan, part {number} of {len(plans)}" in texts(root)
        assert any(t.startswith("match line: goes on in part ") for t in texts(root))
        assert "key plan" in texts(root)


def test_names_in_any_script_are_told() -> None:
    scenario = Scenario.model_validate(
        {
            "name": "\u5ba4\u5185 Łódź",
            "runs": [{"id": "B\u03a9", "plan": [(0, 0), (9000, 0)], "elevation": 3200}],
            "heads": [{"id": "\u5934", "at": (1500, 0, 2700)}, {"id": "Žižka", "at": (4500, 0, 2700)}],
        }
    )
    sheets = sheet_set(scenario, route_scenario(scenario)[0], paper_of("A3", inch=False))
    text = "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(sheets.pdf())).pages)
    assert "[U+5934]" in text
    assert "Žižka" in text
    assert "letters that the PDF's fonts lack" in text
    assert readable("\u5934") == "[U+5934]"
    assert "\u5934" in "".join(texts(roots(sheets, "plan")[0]))


def test_same_bytes_in_another_process(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from router.scenario import read_scenario\n"
        "from made_route import make_route; from router.deliver.sheets import sheet_set, paper_of\n"
        f"s = read_scenario(Path({str(SCENARIOS / 'clinic_corridor.json')!r}))\n"
        "x = sheet_set(s, make_route(s), paper_of(None, inch=False))\n"
        "sys.stdout.buffer.write(x.pdf() + ''.join(x.svgs().values()).encode())"
    )
    root = Path(__file__).parents[2]
    paths = f"{root}:{Path(__file__).parent}"
    made = [
        subprocess.run(
            [sys.executable, "-c", code], check=True, capture_output=True, cwd=root,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": paths, "PATH": ""},
        ).stdout
        for seed in ("1", "77")
    ]  # fmt: skip
    assert len(made[0]) > 10_000
    assert made[0] == made[1]


def test_the_command(tmp_path: Path) -> None:
    scenario = SCENARIOS / "minimal.json"
    route = tmp_path / "route.json"
    route.write_text(route_scenario(read_scenario(scenario))[0].model_dump_json())
    run = CliRunner()

    def draw(*more: str) -> int:
        return run.invoke(app, ["draw", str(scenario), str(route), *more]).exit_code

    assert draw("-o", str(tmp_path / "a.pdf"), "--paper", "a2", "--date", "2026-11-28") == 0
    reader = pypdf.PdfReader(tmp_path / "a.pdf")
    assert float(reader.pages[0].mediabox.width) == pytest.approx(594 / 25.4 * 72, abs=0.01)
    assert "2026-11-28" in reader.pages[0].extract_text()
    assert draw("-o", f"{tmp_path / 'set'}/") == 0
    names = sorted(p.name for p in (tmp_path / "set").iterdir())
    assert names[-1] == "sheets.pdf"
    assert all(re.fullmatch(r"\d\d-[a-z]+(-\d+)?\.svg", n) for n in names[:-1])
    assert draw("-o", str(tmp_path / "b.svg")) == 0
    assert draw("-o", str(tmp_path / "b.png")) == 2
    assert draw("-o", str(tmp_path / "c.pdf"), "--paper", "B5") == 2
    assert not (tmp_path / "c.pdf").exists()
    assert draw("-o", str(tmp_path / "c.svg"), "--paper", "A3") == 2
    assert draw("-o", str(tmp_path / "none" / "c.pdf")) == 2
