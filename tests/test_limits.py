"""Files from strangers cannot run code, read or write other files, steer a terminal, or fill the memory.

Names are text wherever they come out; the report and the drawings are opened in ``tests/browser``.
Formats are read back with general-purpose libraries: openpyxl, pypdf, ifcopenshell, ezdxf, the standard
library's XML parser.
"""

from __future__ import annotations

import csv
import io
import json
import sys
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest
from hostile_names import NAMES, hostile
from rich.table import Table
from rich.text import Text
from typer.testing import CliRunner

from router.alternatives import find_front, two_terms
from router.building.route import route_scenario
from router.building.stop import Stop
from router.check import check_route
from router.cli import app
from router.cutlist.sheets import NAMES as TABLES
from router.deliver import route_json
from router.deliver.alternatives import write_alternatives
from router.deliver.bcf import findings_bcf
from router.deliver.cutlist import WORKBOOK, write_cut_list
from router.deliver.cutlist_csv import FORMULA
from router.deliver.draw import draw_svg
from router.deliver.dxf import route_dxf
from router.deliver.ending import PlainConsole
from router.deliver.ifc import route_ifc
from router.deliver.keep import changes_text
from router.deliver.report import prepare, report_html
from router.deliver.report.prepare import Given
from router.deliver.route_json import read_route, write_route
from router.deliver.sheets.paper import paper_of
from router.deliver.sheets.write import write_sheets
from router.readers.dxf.mapping import read_dxf_mapping
from router.readers.ifc.mapping import read_mapping
from router.readers.tables.columns import read_columns
from router.readers.tables.xlsx_file import xlsx_sheets
from router.scenario import ScenarioError, load, parse_scenario, read_scenario, yaml_text
from router.scenario.write import dump_scenario

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from router.route.model import Route
    from router.scenario.model import Scenario

FEW = [
    "script",
    "right to left",
    "formula",
    "plus",
    "minus",
    "at",
    "up",
    "drive",
    "pdf",
    "step",
    "csv",
    "cdata",
]
READERS = [
    read_scenario,
    read_route,
    read_mapping,
    read_dxf_mapping,
    read_columns,
]
EACH = pytest.mark.parametrize("read", READERS, ids=lambda read: read.__name__)


class Watch:
    """What happens while it is on: files opened for writing, processes, sockets, code made from text."""

    def __init__(self) -> None:
        self.on = False
        self.written: list[str] = []
        self.worse: list[str] = []
        sys.addaudithook(self._hear)

    def _hear(self, event: str, args: tuple[Any, ...]) -> None:
        if not self.on:
            return
        if event == "open" and isinstance(args[0], str | bytes | Path) and _writes(args):
            self.written.append(str(args[0]))
        elif event in ("os.rename", "os.remove", "os.link", "os.symlink"):
            self.written += [str(each) for each in args[:2] if isinstance(each, str | Path)]
        elif event.split(".")[0] in ("subprocess", "socket") or event in ("os.system", "os.exec"):
            self.worse.append(event)


def _writes(args: tuple[Any, ...]) -> bool:
    mode, flags = args[1], args[2]
    return any(letter in mode for letter in "wax+") if isinstance(mode, str) else bool((flags or 0) & 3)


@pytest.fixture(scope="module")
def watch() -> Watch:
    return Watch()


@pytest.fixture(scope="module")
def made() -> tuple[Scenario, Route]:
    scenario = parse_scenario(hostile([NAMES[key] for key in FEW]))
    return scenario, route_scenario(scenario)[0]


# -- nothing but what was asked for is written --------------------------------------------------


def test_names_never_become_places(made: tuple[Scenario, Route], tmp_path: Path, watch: Watch) -> None:
    scenario, route = made
    home = tmp_path / "home"
    home.mkdir()
    write_sheets(scenario, route, home / "warm", paper_of(None, inch=False))  # loads what is loaded late
    watch.on = True
    try:
        write_cut_list(scenario, route, home / "cut")
        write_sheets(scenario, route, home / "sheets", paper_of(None, inch=False))
        write_alternatives(
            find_front(scenario, two_terms("fittings,pipe"), 2, Stop(), lambda _: None), home / "alt"
        )
        write_route(route, home / "r.json")
        dump_scenario(scenario, home / "s.yaml")
        (home / "report.html").write_text(report_html(prepare(scenario, [Given(NAMES["up"], route)])))
    finally:
        watch.on = False
    assert watch.worse == []
    assert watch.written
    # "owner": the mark of who is writing, inside the folder that is being written
    assert [p for p in watch.written if not p.startswith(str(home)) and p != "owner"] == []
    assert [path.name for path in tmp_path.iterdir()] == ["home"]
    assert {path.name for path in home.iterdir()} == {
        "warm", "cut", "sheets", "alt", "r.json", "s.yaml", "report.html",
    }  # fmt: skip
    assert {path.name for path in (home / "cut").iterdir()} == {*(f"{name}.csv" for name in TABLES), WORKBOOK}
    assert all(path.name.isascii() and ".." not in path.name for path in home.rglob("*"))
    assert read_scenario(home / "s.yaml") == scenario


TAGS = ["!!python/object/apply:os.system", "!!python/name:os.system", "!!python/object/new:os.system", "!run"]


@EACH
@pytest.mark.parametrize("tag", TAGS)
def test_yaml_tags_are_refused_and_run_nothing(
    read: Callable[[Path], Any], tag: str, tmp_path: Path, watch: Watch
) -> None:
    file = tmp_path / "f.yaml"
    file.write_text(f"name: {tag} [touch {tmp_path}/hit]\nlayers: {{}}\n", encoding="utf-8")
    watch.written.clear()
    watch.on = True
    try:
        with pytest.raises(ScenarioError, match="tags are not accepted"):
            read(file)
    finally:
        watch.on = False
    assert (watch.worse, watch.written) == ([], [])
    assert [path.name for path in tmp_path.iterdir()] == ["f.yaml"]


def test_aliases_do_not_multiply(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten aliases of ten aliases, nine deep: 10^9 values if they were followed."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 9)]
    file = tmp_path / "f.yaml"
    file.write_text("\n".join(lines), encoding="utf-8")
    assert yaml_text.MAX_VALUES == 300_000
    monkeypatch.setattr(yaml_text, "MAX_VALUES", 20_000)
    with pytest.raises(ScenarioError, match="too many values; the aliases may multiply"):
        read_scenario(file)
    file.write_text("a: &a [*a]\n", encoding="utf-8")
    with pytest.raises(ScenarioError, match=r"nested too deep|recursive|not valid YAML"):
        read_scenario(file)


DEEP = {"lists": "[" * 100_000, "objects": '{"a":' * 100_000, "just": "[" * 41 + "]" * 41}


@EACH
@pytest.mark.parametrize("text", DEEP.values(), ids=DEEP)
def test_depth_is_limited(read: Callable[[Path], Any], text: str, tmp_path: Path) -> None:
    file = tmp_path / "f.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ScenarioError, match="nested too deep; at most 40"):
        read(file)


@EACH
def test_size_is_limited_before_anything_is_read(read: Callable[[Path], Any], tmp_path: Path) -> None:
    file = tmp_path / "f.json"
    with file.open("wb") as stream:
        # a sparse file: it takes no room
        stream.truncate((route_json if read is read_route else load).MAX_BYTES + 1)
    most = 128 if read is read_route else 64
    with pytest.raises(ScenarioError, match=f"{most} MB: the file is too large; at most {most} MB"):
        read(file)


def test_links_are_followed_as_any_program_does(tmp_path: Path) -> None:
    (tmp_path / "s.json").write_text(json.dumps(hostile(["A", "B"])), encoding="utf-8")
    (tmp_path / "link.json").symlink_to(tmp_path / "s.json")
    assert read_scenario(tmp_path / "link.json") == read_scenario(tmp_path / "s.json")


# -- letters that steer -------------------------------------------------------------------------

STEERING = {
    "escape": ("\x1b[2J", "U+001B"),
    "bell": ("a\x07", "U+0007"),
    "nothing": ("a\x00b", "U+0000"),
    "delete": ("\x7f", "U+007F"),
    "one byte": ("\x9b31m", "U+009B"),
    "line": ("a\nno rule broken", "U+000A"),
    "return": ("a\rb", "U+000D"),
    "half": ("\ud83d", "U+D83D"),
}


@pytest.mark.parametrize(("name", "code"), STEERING.values(), ids=STEERING)
def test_names_of_control_characters_are_refused(name: str, code: str, tmp_path: Path) -> None:
    data = hostile(["A", name])
    file = tmp_path / "s.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    for read, given in ((read_scenario, file), (parse_scenario, data)):
        with pytest.raises(ScenarioError, match=r"heads\[1\].id") as caught:
            read(given)  # type: ignore[arg-type]
        assert code in str(caught.value)
        assert str(caught.value).isprintable() or str(caught.value).replace("\n", "").isprintable()


def test_a_story_may_have_lines_but_no_escapes() -> None:
    data = hostile(["A"])
    assert parse_scenario({**data, "story": "one\n\ttwo\r\n"}).story == "one\n\ttwo\r\n"
    with pytest.raises(ScenarioError, match=r"story: .*U\+001B"):
        parse_scenario({**data, "story": "one\n\x1b[2J"})
    with pytest.raises(ScenarioError, match=r"\\u001b\]0;: .*U\+001B"):
        parse_scenario({**data, "\x1b]0;": 1})


@pytest.mark.parametrize("terminal", [True, False])
def test_no_escape_reaches_the_terminal(terminal: bool) -> None:
    out = io.StringIO()
    console = PlainConsole(
        file=out, force_terminal=terminal, width=80, color_system="truecolor" if terminal else None
    )
    table = Table()
    table.add_column(Text("a\x1b[2J"))
    table.add_row(Text("b\x1b]0;owned\x1b\\", style="red"))
    console.print(table)
    console.print(Text("\x9b31m \u202egnp.exe \x00", style="bold"), soft_wrap=True)
    text = out.getvalue()
    assert "␛[2J" in text
    assert "␛]0;owned" in text
    assert not set("\x9b\x00\u202e") & set(text)
    for sent in text.split("\x1b")[1:]:  # what is left is the style of the text itself
        assert terminal
        assert sent.startswith("[")
        assert sent.split("m")[0][1:].replace(";", "").isdigit()


def test_a_drawing_and_its_file_cannot_steer_the_terminal(tmp_path: Path) -> None:
    (tmp_path / "s.json").write_text(json.dumps(hostile(["A", "B"])), encoding="utf-8")
    drawing = tmp_path / "d\x1b[2J.csv"
    rows = "x1,y1,z1,x2,y2,z2,size,id\n0,0,3200,6000,0,3200,50,\x1b[2J\n0,0,0,1,a,1,25,\x9b31m\n"
    drawing.write_text(rows, encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(tmp_path / "s.json"), str(drawing)])
    assert result.exit_code == 2
    assert "d\\u001b[2J.csv" in result.output
    assert not set("\x1b\x9b") & set(result.output)


# -- other programs read them as text -------------------------------------------------------------


def _cells(text: str) -> Iterator[str]:
    for row in csv.reader(io.StringIO(text)):
        yield from row


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_spreadsheets_see_no_formula(made: tuple[Scenario, Route], tmp_path: Path) -> None:
    import openpyxl

    scenario, route = made
    write_cut_list(scenario, route, tmp_path / "cut")
    seen = ""
    for name in TABLES:
        text = (tmp_path / "cut" / f"{name}.csv").read_text(encoding="utf-8")
        seen += text
        assert [cell for cell in _cells(text) if cell.startswith(FORMULA) and not _is_number(cell)] == []
    only = {"rules": {"styles": ["return_bend", "straight_drop"]}}
    pinned = parse_scenario({**hostile([NAMES[key] for key in FEW]), **only})
    kept = route_scenario(pinned, keep=route)[0].kept
    assert kept is not None
    assert any(change.id == NAMES["formula"] for change in kept.changes)
    changes = list(_cells(changes_text(kept, ".csv")))
    assert f"'{NAMES['formula']}" in changes
    assert [cell for cell in changes if cell.startswith(FORMULA) and not _is_number(cell)] == []

    with zipfile.ZipFile(tmp_path / "cut" / WORKBOOK) as archive:
        for name in archive.namelist():
            assert b"<f>" not in archive.read(name)
            assert b"<f " not in archive.read(name)
            assert "external" not in name.lower()
            assert "vba" not in name.lower()
    book: Any = openpyxl.load_workbook(tmp_path / "cut" / WORKBOOK)
    assert {cell.data_type for page in book for row in page.iter_rows() for cell in row} <= {"s", "n"}
    assert not any(cell.hyperlink for page in book for row in page.iter_rows() for cell in row)
    properties = {each.name: each.value for each in book.custom_doc_props.props}
    assert properties == {"format": "branch-drop-router/cutlist", "version": 1}


def test_drawings_are_sound_xml_of_text(made: tuple[Scenario, Route]) -> None:
    """By the standard library's parser: no element that could act, no attribute that could."""
    root = ElementTree.fromstring(draw_svg(*made))
    for element in root.iter():
        assert element.tag.rpartition("}")[2] not in {
            "script",
            "foreignObject",
            "image",
            "use",
            "a",
            "iframe",
        }
        for name, value in element.attrib.items():
            assert not name.lower().startswith("on")
            assert "javascript:" not in value
            assert "://" not in value
    assert NAMES["cdata"] in "".join(root.itertext())


def test_sheets_hold_no_action(made: tuple[Scenario, Route], tmp_path: Path) -> None:
    from pypdf import PdfReader

    write_sheets(*made, tmp_path / "sheets.pdf", paper_of(None, inch=False))
    reader = PdfReader(tmp_path / "sheets.pdf")
    keys: set[str] = set()
    for number in range(1, len(reader.xref[0]) + 1):
        found: Any = reader.get_object(number)
        keys |= {str(key) for key in found} if hasattr(found, "keys") else set()
    assert "/Type" in keys
    acts = {"/JavaScript", "/JS", "/OpenAction", "/AA", "/URI", "/Launch", "/EmbeddedFiles", "/Annots"}
    assert not keys & acts
    assert "/JavaScript" in "".join(page.extract_text() for page in reader.pages)  # as the text that it is


def test_models_drawings_and_topics_hold_names_as_text(made: tuple[Scenario, Route]) -> None:
    ezdxf = pytest.importorskip("ezdxf")
    ifcopenshell = pytest.importorskip("ifcopenshell")
    scenario, route = made
    model = ifcopenshell.file.from_string(route_ifc(scenario, route))
    assert not model.by_type("IfcWall")
    heads = {head.Name for head in model.by_type("IfcFireSuppressionTerminal")}
    assert {NAMES["step"], NAMES["up"], NAMES["formula"]} <= heads
    doc = ezdxf.read(io.StringIO(route_dxf(scenario, route)))
    assert not doc.audit().has_errors
    topics = findings_bcf(scenario, route, check_route(scenario, route), near=True)
    with zipfile.ZipFile(io.BytesIO(topics)) as archive:
        for name in archive.namelist():
            assert ".." not in name
            assert not name.startswith(("/", "\\"))
            if not name.endswith(".png"):
                ElementTree.fromstring(archive.read(name))


# -- what packs itself small ------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("what", ["&a9;", "&file;"])
def test_entities_in_a_workbook_do_nothing(encoding: str, what: str, tmp_path: Path) -> None:
    """In UTF-16 the declaration is not seen at first sight: the parser itself must refuse it."""
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(["id", "x", "y", "z"])
    book.save(tmp_path / "plain.xlsx")
    (tmp_path / "secret.txt").write_text("secret")
    many = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    sheet = (
        f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE x [<!ENTITY a0 "{"a" * 10}">{many}'
        f'<!ENTITY file SYSTEM "{(tmp_path / "secret.txt").as_uri()}">]>'
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1">'
        f'<c r="A1" t="inlineStr"><is><t>{what}</t></is></c></row></sheetData></worksheet>'
    )
    out = io.BytesIO()
    with (
        zipfile.ZipFile(tmp_path / "plain.xlsx") as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, sheet.encode(encoding) if name.endswith("sheet1.xml") else old.read(name))
    with pytest.raises(ScenarioError) as caught:
        xlsx_sheets(out.getvalue(), "f.xlsx")
    assert "secret" not in str(caught.value)
    assert len(str(caught.value).splitlines()) == 2
