"""Broken drawings and tables: straight pipes, folders, tables of heads and obstructions, workbooks."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, Any

from bad_input.case import Case, written

if TYPE_CHECKING:
    from pathlib import Path

DRAWN = """\
id,x1,y1,z1,x2,y2,z2,size,role,line_id,head_ids
L1,0,0,3200,8100,0,3200,32,branch,B1,
A1,1500,0,3200,1500,0,2700,25,head_arm,,H1
"""
HEADS = "id,x,y,z,kind\nH1,1500,0,2700,pendent\nH2,4800,400,2700,pendent\n"
SOLIDS = "id,kind,xmin,ymin,xmax,ymax,bottom,top\nD,duct,0,1000,3000,1500,3000,3300\n"
PIPES = "id,x1,y1,z1,x2,y2,z2,size,role,line_id\nL1,0,0,3200,8100,0,3200,32,branch,B1\n"
ODD_SIZE = """\
id,x1,y1,z1,x2,y2,z2,size
A,0,0,3200,8600,0,3200,64
B,1500,0,3200,1500,0,2700,25
"""
TINY = "\n".join(
    ",".join(str(float(cell) / 1000) if k and 0 < c < 7 else cell for c, cell in enumerate(line.split(",")))
    for k, line in enumerate(DRAWN.splitlines())
)
"""The drawing in metres."""

Words = tuple[str, ...]
DRAWINGS: list[tuple[str, str | bytes, Words]] = [
    ("empty", "", ("bad.csv row 1", "x1", "this column is missing")),
    ("header only", DRAWN.splitlines()[0], ("bad.csv", "0 rows", "at least one pipe")),
    ("column missing", DRAWN.replace("z2", "zz"), ("bad.csv row 1", "z2", "this column is missing")),
    ("a word", DRAWN.replace("8100", "far"), ("row 2, column x2: pipe L1", '"far" mm', "a number in mm")),
    ("NaN", DRAWN.replace("8100", "nan"), ("row 2, column x2: pipe L1", '"nan" mm', "a finite number in mm")),
    ("infinite", DRAWN.replace("8100", "-inf"),
     ("row 2, column x2: pipe L1", '"-inf" mm', "a finite number")),
    ("1e9", DRAWN.replace("8100", "1e9"), ("row 2, column x2: pipe L1", '"1e9" mm', "10 km")),
    ("a comma", DRAWN.replace("8100", '"8,1"'), ("row 2, column x2: pipe L1", '"8,1" mm', "a number in mm")),
    ("cell empty", DRAWN.replace("8100", ""), ("row 2, column x2: pipe L1", '"" mm', "a number in mm")),
    ("row short", DRAWN + "A9,1,2\n", ("row 4, column z1: pipe A9", '"" mm', "a number in mm expected")),
    ("row long", DRAWN + "A9,1,2,3,1,2,9,25,,,,,,7\n", ("row 4", "more cells than columns")),
    ("id twice", DRAWN.replace("A1", "L1"), ('row 3, column id: pipe L1: "L1"', "already in row 2")),
    ("role unknown", DRAWN.replace("head_arm", "arm"), ('row 3, column role: pipe A1: "arm"', "head_arm")),
    ("size unknown", DRAWN.replace(",25,", ",x,"), ('row 3, column size: pipe A1: "x"', "a nominal size")),
    ("size that is not made", ODD_SIZE,
     ("A: DN64 is no size of pipe here",)),
    ("size of 100 digits", DRAWN.replace(",25,", f",{'9' * 100},"), ("row 3, column size", "a nominal size")),
    ("size of 9,000 digits", DRAWN.replace(",25,", f",{'9' * 9000},"),
     ("row 3, column size", "nominal size")),
    ("size in other digits", DRAWN.replace(",25,", ",²5,"), ('row 3, column size: pipe A1: "²5"', "nominal")),
    ("Latin-1", DRAWN.replace("L1", "Läng").encode("latin-1"), ("bad.csv", "is not UTF-8 text")),
    ("UTF-16", DRAWN.encode("utf-16"), ("bad.csv", "is not UTF-8 text")),
    ("a zero byte", DRAWN.replace("8100", "81\x0000"), ("row 2, column x2", "\\u0000")),
    ("a cell of 1 MB", DRAWN.replace("8100", "8" * 10**6), ("bad.csv", "field larger than field limit")),
    ("in metres", TINY, ("bad.csv row 2: pipe L1: [0, 0, 3.2] mm", "lengths in mm expected", "taken as m")),
    ("a turning mark", DRAWN.replace("A1", "A\u202e1"), ("row 3, column id", "A\\u202e1", "U+202E")),
]  # fmt: skip


def _folder(name: str, old: str, new: str | bytes) -> Any:
    def make(folder: Path) -> Path:
        made = folder / "bad"
        made.mkdir()
        files = {
            "heads.csv": "id,x,y,z,orientation,conn_dn,line_id\nH1,1500,0,2700,pendent,15,B1\n",
            "pipes.csv": "id,x1,y1,z1,x2,y2,z2,dn,role,line_id\nL1,0,0,3200,8100,0,3200,32,branch,B1\n",
            "obstructions.csv": "kind,zmin,zmax,x1,y1,x2,y2,x3,y3,x4,y4\n"
            "beam,3000,3400,0,900,9,900,9,990,0,990\n",
        }
        for file, text in files.items():
            if file != name or old:
                (made / file).write_text(text.replace(old, str(new)) if file == name else text)
            elif isinstance(new, bytes):
                (made / file).write_bytes(new)
        return made

    return make


FOLDERS: list[tuple[str, Any, Words]] = [
    ("nothing in it", lambda folder: (folder / "bad").mkdir() or folder / "bad", (
        "heads.csv", "pipes.csv", "obstructions.csv", "cannot be read")),
    ("no heads.csv", _folder("heads.csv", "", ""), ("heads.csv", "cannot be read")),
    ("heads in Latin-1", _folder("heads.csv", "", b"\xe4"), ("heads.csv", "is not UTF-8 text")),
    ("head at 1e9", _folder("heads.csv", "1500", "1e9"), ('row 2, column x: head H1: "1e9" mm', "10 km")),
    ("head a NaN", _folder("heads.csv", "2700", "NaN"), ('row 2, column z: head H1: "NaN" mm', "a finite")),
    ("orientation unknown", _folder("heads.csv", "pendent", "down"),
     ('column orientation: head H1: "down"',)),
    ("size unknown", _folder("heads.csv", ",15,", ",16,"),
     ('column conn_dn: head H1: "16" DN', "nominal size")),
    ("size in other digits", _folder("heads.csv", ",15,", ",²,"), ('column conn_dn: head H1: "²" DN',)),
    ("head id twice", _folder("heads.csv", "B1\n", "B1\nH1,1,2,3,pendent,15,B1\n"), (
        'row 3, column id: head H1: "H1"', "already in row 2")),
    ("role unknown", _folder("pipes.csv", "branch", "line"), ('column role: pipe L1: "line"', "head_arm")),
    ("run without length", _folder("pipes.csv", "8100", "0"), ("pipe",)),
    ("beam of no height", _folder("obstructions.csv", "3400", "x"), ('column zmax: obstruction: "x" mm',)),
    ("all in metres", _folder("heads.csv", "1500,0,2700,pendent",
     "1.5,0,2.7,pendent,15,B1\nH2,4.8,0,2.7,pendent"), ("head H1", "mm")),
]  # fmt: skip
HEAD_TABLES: list[tuple[str, str, str | bytes, Words]] = [
    ("empty", "bad.csv", "", ("bad.csv", "is empty")),
    ("no head", "bad.csv", "id,x,y,z,kind\n", ("bad.csv", "0 rows", "no heads below the header")),
    ("column missing", "bad.csv", "id,x,y\nH1,1,2\n",
     ("bad.csv row 1", "columns of heads that are missing: z")),
    ("a word", "bad.csv", HEADS.replace("1500", "far"),
     ("bad.csv row 2, column B (x)", '"far" mm', "a length")),
    ("infinite", "bad.csv", HEADS.replace("1500", "1e999"), ("bad.csv row 2, column B (x)", '"1e999"')),
    ("1e9", "bad.csv", HEADS.replace("1500", "1000000000"), ("bad.csv row 2, column B (x)", "mm", "km")),
    ("either a thousand", "bad.csv", HEADS.replace("1500", "1.500"),
     ("bad.csv row 2, column B (x)", '"1.500"')),
    ("unit unknown", "bad.csv", HEADS.replace("1500", "3 yd"), ('"3 yd" mm', "the unit yd is not known")),
    ("id twice", "bad.csv", HEADS.replace("H2", "H1"), ('bad.csv row 3, column A (id)', '"H1"', "row 2")),
    ("kind unknown", "bad.csv", HEADS.replace("pendent", "down", 1),
     ("bad.csv row 2, column E (kind)", '"down"')),
    ("quote open", "bad.csv", HEADS.replace("pendent", '"pendent', 1),
     ("bad.csv row 2", "not readable as CSV")),
    ("Latin-1", "bad.csv", HEADS.replace("H2", "Hö").encode("latin-1"),
     ("bad.csv row 3", "0xf6", "not UTF-8")),
    ("a zero byte", "bad.csv", HEADS.replace("H2", "H\x00"), ("bad.csv row 3", "0x00", "a zero byte")),
    ("UTF-32", "bad.csv", HEADS.encode("utf-32"), ("bad.csv", "is UTF-32 text")),
    ("ending unknown", "bad.ods", HEADS, ("bad.ods", "save it as .xlsx or .csv")),
    ("a book named text", "bad.csv", b"PK\x03\x04" + bytes(90), ("bad.csv", "is a workbook, not text")),
    ("a text named book", "bad.xlsx", HEADS, ("bad.xlsx", "is no XLSX workbook")),
    ("an old book", "bad.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), ("bad.xlsx", "old .xls")),
    ("a book cut off", "bad.xlsx", b"PK\x03\x04" + bytes(600), ("bad.xlsx", "is no readable XLSX workbook")),
    ("far columns", "bad.csv", "," * 5000 + "\n1\n",
     ("bad.csv row 1", "at most 200000 rows and 1000 columns")),
]  # fmt: skip
SOLID_TABLES: list[tuple[str, str, Words]] = [
    ("a word", SOLIDS.replace("3300", "high"), ("bad.csv row 2, column H (top)", '"high" mm')),
    ("upside down", SOLIDS.replace("3300", "2000"), ("bad.csv row 2", "2000", "mm")),
    ("without area", SOLIDS.replace("1500", "1000"), ("bad.csv row 2", "D")),
    ("id twice", SOLIDS + SOLIDS.splitlines()[1] + "\n", ("bad.csv row 3, column A (id)", '"D"', "row 2")),
    ("1e9", SOLIDS.replace("3300", "1e9"), ("bad.csv row 2, column H (top)", "mm", "km")),
]
PIPE_TABLES: list[tuple[str, str, Words]] = [
    ("a word", PIPES.replace("8100", "far"), ("bad.csv row 2, column E (x2)", '"far" mm')),
    ("size unknown", PIPES.replace(",32,", ",33,"), ("bad.csv row 2, column H (size)", '"33"', "nominal")),
    ("without length", PIPES.replace("8100", "0"), ("bad.csv row 2", "L1")),
]


def _book(**parts: bytes) -> Any:
    """A workbook with parts of it as given; ``__`` in a name is a slash, ``_xml`` an ending."""

    def make(folder: Path) -> Path:
        import openpyxl

        book = openpyxl.Workbook()
        sheet: Any = book.active
        for line in HEADS.splitlines():
            sheet.append([int(cell) if cell.isdigit() else cell for cell in line.split(",")])
        out = io.BytesIO()
        book.save(out)
        with zipfile.ZipFile(out) as archive:
            whole = {name: archive.read(name) for name in archive.namelist()}
        for name, part in parts.items():
            whole[name.replace("__", "/").replace("_xml", ".xml")] = part
        with zipfile.ZipFile(folder / "bad.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
            for name, part in whole.items():
                archive.writestr(name, part)
        return folder / "bad.xlsx"

    return make


BOMB = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "aaaa">]><worksheet>&a;</worksheet>'


def _said_to_be(mb: int) -> Any:
    """A workbook one of whose parts is said to unpack to so much."""

    def make(folder: Path) -> Path:
        path: Path = _book(more_xml=b"x" * 1000)(folder)
        data = bytearray(path.read_bytes())
        at = data.rindex(b"PK\x01\x02")  # its entry in the archive's directory, the size from byte 24 on
        data[at + 24 : at + 28] = (mb * 1024 * 1024).to_bytes(4, "little")
        path.write_bytes(data)
        return path

    return make


BOOKS: list[tuple[str, Any, Words]] = [
    (
        "entities that multiply",
        _book(xl__worksheets__sheet1_xml=BOMB),
        ("bad.xlsx", "declares a document type"),
    ),
    ("entities in UTF-16", _book(xl__worksheets__sheet1_xml=BOMB.decode().encode("utf-16")), ("bad.xlsx",)),
    ("a sheet of rubbish", _book(xl__worksheets__sheet1_xml=b"<rubbish"), ("bad.xlsx", "no readable XLSX")),
    ("no workbook in it", _book(xl__workbook_xml=b""), ("bad.xlsx", "no readable XLSX")),
    ("packed 300 MB", _said_to_be(300), ("bad.xlsx", "300 MB", "unpack to too much")),
]

CASES = [Case(f"drawing: {name}", "drawing", written("bad.csv", text), says) for name, text, says in DRAWINGS]
CASES += [Case(f"folder: {name}", "folder", make, says) for name, make, says in FOLDERS]
CASES += [
    Case(f"heads: {name}", "heads", written(file, text), says) for name, file, text, says in HEAD_TABLES
]
CASES += [Case(f"heads: {name}", "heads", make, says) for name, make, says in BOOKS]
CASES += [
    Case(f"obstructions: {name}", "obstructions", written("bad.csv", text), says)
    for name, text, says in SOLID_TABLES
]
CASES += [Case(f"pipes: {name}", "pipes", written("bad.csv", text), says) for name, text, says in PIPE_TABLES]
