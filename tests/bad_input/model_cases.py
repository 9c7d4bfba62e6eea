"""Broken drawings (DXF), models (IFC), the files that say what they mean, and weights of a sweep."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bad_input.case import Case, written

HEADER = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
    "FILE_SCHEMA(('{}'));\nENDSEC;\nDATA;\n"
)
END = "ENDSEC;\nEND-ISO-10303-21;\n"
if TYPE_CHECKING:
    from collections.abc import Callable

Words = tuple[str, ...]


def _cut(name: str, target: str, share: float) -> Any:
    def make(folder: Path) -> Path:
        data = (folder / name).read_bytes()
        (folder / target).write_bytes(data[: int(len(data) * share)])
        return folder / target

    return make


def _swapped(name: str, target: str, old: bytes, new: bytes) -> Any:
    def make(folder: Path) -> Path:
        data = (folder / name).read_bytes()
        assert old in data, old
        (folder / target).write_bytes(data.replace(old, new))
        return folder / target

    return make


def _zip(*names: str, content: bytes = b"", flag: int = 0) -> Any:
    def make(folder: Path) -> Path:
        with zipfile.ZipFile(folder / "bad.ifczip", "w", zipfile.ZIP_DEFLATED) as archive:
            for name in names:
                archive.writestr(name, content)
        return folder / "bad.ifczip"

    return make


def _odd_name(folder: Path) -> Path:
    """An archive whose member has no name."""
    path = _zip("x.ifc", content=b"x")(folder)
    path.write_bytes(path.read_bytes().replace(b"x.ifc", b"\0.ifc"))
    return path  # type: ignore[no-any-return]


DXF: list[tuple[str, Any, Words]] = [
    ("empty", written("bad.dxf", ""), ("bad.dxf", "the file is empty")),
    ("cut off", _cut("drawn.dxf", "bad.dxf", 0.6), ("bad.dxf", "bytes", "is cut off")),
    ("words", written("bad.dxf", "hello\nworld\n"), ("bad.dxf", "is not a DXF file")),
    ("a DWG", written("bad.dxf", b"AC1032" + bytes(90)), ("bad.dxf", "is a DWG file")),
    ("zero bytes", written("bad.dxf", bytes(5000)), ("bad.dxf", "is not a DXF file")),
    ("head at 1e9", _swapped("drawn.dxf", "bad.dxf", b"\n1500.0\n", b"\n1e300\n"), ("bad.dxf", "mm")),
    ("head a NaN", _swapped("drawn.dxf", "bad.dxf", b"\n1500.0\n", b"\nnan\n"), ("bad.dxf", "nan")),
    ("no unit", _swapped("drawn.dxf", "bad.dxf", b"$INSUNITS", b"$INSUNITZ"), ("bad.dxf", "0", "$INSUNITS")),
    (
        "layers of others",
        _swapped("drawn.dxf", "bad.dxf", b"ROUTER-", b"OTHERS-"),
        ("bad.dxf", "nothing is on"),
    ),
    ("nothing carried", _swapped("drawn.dxf", "bad.dxf", b'{"id"', b'{"id'), ("bad.dxf", "carries")),
]
IFC: list[tuple[str, Any, Words]] = [
    ("empty", written("bad.ifc", ""), ("bad.ifc", "the file is empty")),
    ("words", written("bad.ifc", "hello"), ('"hello"', "does not begin with ISO-10303-21")),
    ("XML", written("bad.ifc", "<ifc/>"), ("bad.ifc", "is XML (ifcxml)")),
    ("another schema", written("bad.ifc", HEADER.format("IFC9") + END), ('"IFC9"', "IFC2X3, IFC4, IFC4X3")),
    ("no schema", written("bad.ifc", "ISO-10303-21;\n" + END), ("bad.ifc", "no FILE_SCHEMA")),
    ("cut off", _cut("model.ifc", "bad.ifc", 0.7), ("bad.ifc", "truncated")),
    ("deep", written("bad.ifc", HEADER.format("IFC4") + "#1=IFCWALL(" + "(" * 9**5 + "\n" + END), (
        "levels", "at most 64")),
    ("open", written("bad.ifc", HEADER.format("IFC4") + "#1=IFCWALL((1;\n" + END), ("not closed",)),
    ("a packed one", written("bad.ifc", b"PK\x03\x04" + bytes(90)), ("should end in .ifczip",)),
    ("no archive", written("bad.ifczip", b"PK\x03\x04" + bytes(90)), ("bad.ifczip", "cannot be unpacked")),
    ("two models", _zip("a.ifc", "b.ifc"), ("2 models", "exactly one")),
    ("no model", _zip("a.txt"), ("0 models", "exactly one")),
    ("no name", _odd_name, ("bad.ifczip",)),
    ("packed 20 MB of blanks", _zip("a.ifc", content=b" " * 20 * 1024 * 1024), ("times", "200 times")),
]  # fmt: skip
COLUMNS: list[tuple[str, str, Words]] = [
    ("empty", "", ("bad.yaml", "the file is empty")),
    ("a list", "[1, 2]", ("(file): [1, 2]", "an object with heads, obstructions or pipes")),
    ("unknown field", "heads: {colums: {id: No}}", ("heads.colums", "did you mean columns?")),
    ("no such column", "heads: {columns: {idd: No}}", ("heads.columns.idd", "did you mean id?")),
    ("unit unknown", "units: yd", ('units: "yd"', "'mm', 'cm', 'm', 'in' or 'ft' expected")),
    ("rows below 0", "heads: {skip_rows: -1}", ("heads.skip_rows: -1", "0 or more")),
    ("decimal unknown", "heads: {decimal: dot}", ('heads.decimal: "dot"', "'point' or 'comma'")),
    ("a key twice", "units: mm\nunits: m\n", ("line 2", 'units: "units"', "stands twice")),
    ("a tag", "heads: !!python/object:os.system {}", ("heads", "tags are not accepted")),
    ("syntax", "heads: {", ("line 2", "not valid YAML")),
]  # fmt: skip
DXF_MAPPING: list[tuple[str, str, Words]] = [
    ("empty", "", ("bad.yaml", "the file is empty")),
    ("a number", "5", ("(file): 5", "a mapping is one object with layers")),
    ("no layers", "units: mm", ("layers", "is missing")),
    ("layers empty", "layers: {}", ("layers: {}", "at least 1")),
    ("holds unknown", "layers: {A: {holds: cats}}", ('layers.A.holds: layer A: "cats"', "'heads', 'runs'")),
    ("size unknown", "layers: {A: {holds: pipes, size: 33}}", ("layers.A.size: layer A: 33", "nominal")),
    ("K of 0", "layers: {A: {holds: heads, k_factor: 0}}",
     ("layers.A.k_factor: layer A: 0", "greater than 0")),
    ("NaN", "layers: {A: {holds: heads, elevation: .nan}}", ("layers.A.elevation", "nan", "a finite number")),
    ("tolerance", "tolerance_mm: 900\nlayers: {A: {holds: heads}}", ("tolerance_mm: 900 mm", "0 to 500 mm")),
    ("reversed", "layers: {A: {holds: obstructions, elevations: [2, 1]}}", ("layers.A", "lowest first")),
    ("unit unknown", "units: yd\nlayers: {A: {holds: heads}}", ('units: "yd"', "'mm', 'cm'")),
]  # fmt: skip
IFC_MAPPING: list[tuple[str, str, Words]] = [
    ("empty", "", ("bad.yaml", "the file is empty")),
    ("a list", "[]", ("(file): mapping: []", "one object")),
    (
        "unknown field",
        "head_word: [x]",
        ("head_word: mapping", "unknown field; known here: format, version, head_words"),
    ),
    ("a word for a list", "head_words: x", ('head_words: mapping: "x"',)),
    ("box reversed", "box: {x: [2, 1]}", ("box", "lowest before highest")),
    ("origin short", "origin: [0, 0]", ("origin[2]: mapping", "required")),
    ("kind unknown", "obstructions: [cats]", ('obstructions[0]: mapping: "cats"', "'beam', 'column'")),
    ("infinite", "origin: [.inf, 0, 0]", ("origin[0]", "inf", "a finite number")),
]
WEIGHTS: list[tuple[str, str, Words]] = [
    ("no value", "fitting=", ("fitting",)),
    ("a word", "fitting=many", ("fitting", "many")),
    ("below 0", "fitting=-1", ("fitting", "-1")),
    ("NaN", "fitting=nan", ("fitting", "nan")),
    ("unknown", "fittings=1", ("fittings",)),
    ("no name", "=1", ("=1",)),
    ("nothing", "", ("--weights",)),
]

CASES = [Case(f"dxf: {name}", "dxf", make, says) for name, make, says in DXF]
CASES += [Case(f"ifc: {name}", "ifc", make, says) for name, make, says in IFC]
for _kind, _cases in (("columns", COLUMNS), ("dxf mapping", DXF_MAPPING), ("ifc mapping", IFC_MAPPING)):
    CASES += [Case(f"{_kind}: {name}", _kind, written("bad.yaml", text), says) for name, text, says in _cases]


def _given(text: str) -> Callable[[Path], Path]:
    """What is broken stands in the command itself."""
    return lambda folder: Path(text)


CASES += [Case(f"weights: {name}", "weights", _given(text), says) for name, text, says in WEIGHTS]
