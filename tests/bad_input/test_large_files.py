"""Files that are too large, or large and broken: refused without reading more of them than it takes."""

from __future__ import annotations

import json
import os
import shlex
import zipfile
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from bad_input.case import MINIMAL
from bad_input.commands import KINDS
from bad_input.table_cases import DRAWN
from router.cli import app

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

MB = 1024 * 1024
ENDINGS = {
    "drawing": ".csv",
    "heads": ".csv",
    "obstructions": ".xlsx",
    "pipes": ".csv",
    "dxf": ".dxf",
    "ifc": ".ifc",
}


def refused(command: str, *says: str) -> str:
    result = CliRunner(env={"COLUMNS": "200"}).invoke(app, shlex.split(command))
    assert result.exit_code == 2, (result.output[:2000], result.exception)
    for words in says:
        assert words in result.output, result.output[:2000]
    assert len(result.output) < 20_000
    return result.output


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ("weights", "folder")])
def test_too_many_megabytes(kind: str, here: Path) -> None:
    """Nothing of them is read: more than such a file may have (a hole takes no room on the disk)."""
    suffix = ENDINGS.get(kind, ".json")
    size = {"dxf": 300, "ifc": 3000}.get(kind, 130 if kind.startswith("route") else 100)
    (here / f"bad{suffix}").touch()
    os.truncate(here / f"bad{suffix}", size * MB)
    (here / "by_size.json").write_text(json.dumps(MINIMAL))
    command = KINDS[kind][0].replace("{bad}", f"bad{suffix}")
    refused(command, "bad", f"{size} MB", "the file is too large; at most")


def test_a_folder_of_large_tables(here: Path) -> None:
    for name in ("heads", "pipes", "obstructions"):
        os.truncate(here / "folder" / f"{name}.csv", 100 * MB)
    refused(
        "import csv folder -o out.json",
        *(f"{name}.csv: 100 MB" for name in ("heads", "pipes", "obstructions")),
    )


def test_a_real_100_mb(here: Path) -> None:
    with (here / "bad.json").open("wb") as out:
        out.write(b'{"name": "a", "heads": [')
        for _ in range(100):
            out.write(b"[1, 2, 3]," * (MB // 10))
    refused("validate bad.json", "100 MB", "at most 64 MB")


def heads(count: int) -> str:
    return ",\n".join(f'{{"id": "H{k}", "at": [{k}, 0, 2700]}}' for k in range(count))


LARGE: dict[str, tuple[Callable[[], str], tuple[str, ...]]] = {
    "numbers": (lambda: json.dumps({"name": "a", "runs": list(range(100_000)), "heads": []}), (
        "runs[0]: run without id: 0", "an object expected", "faults in all")),
    "empty lists": (lambda: "[" + "[]," * 3_500_000 + "[]]", ("values", "too many values; at most 6000000")),
    "cut off": (lambda: f'{{"name": "a", "heads": [\n{heads(20_000)}', (
        "line 20001", "not valid JSON at column")),
    "a key twice at the end": (
        lambda: f'{{"heads": [\n{heads(20_000)},\n{{"id": "x", "at": [0, 0, 0], "id": "y"}}]}}',
        ("line 20002", 'heads[20000].id: head x: "id"', "stands twice")),
    "a NaN at the end": (
        lambda: f'{{"name": "a", "heads": [\n{heads(20_000)},\n{{"id": "x", "at": [0, NaN, 0]}}]}}',
        ("line 20002", "heads[20000].at[1]: head x: nan", "a finite number")),
    "one text": (lambda: json.dumps({**MINIMAL, "system": "x" * 5 * MB}), (
        "system", '"xxx', "an object expected")),
    "one key": (lambda: json.dumps({**MINIMAL, "x" * 5 * MB: 1}), ("xxx...", "unknown field")),
    "levels": (lambda: "[" * 5 * MB, ("over 40 levels", "nested too deep")),
    "levels after much": (lambda: json.dumps(["a[" * 100] * 9_000) + "[" * MB, (
        "not valid JSON", "extra data")),
}  # fmt: skip


@pytest.mark.parametrize("which", LARGE)
def test_large_and_broken(which: str, here: Path) -> None:
    make, says = LARGE[which]
    (here / "bad.json").write_text(make())
    refused("validate bad.json", *says)


def test_a_drawing_of_faults_is_not_read_to_its_end(here: Path) -> None:
    (here / "bad.csv").write_text(DRAWN + "A9,a,b,c,d,e,f,g\n" * 100_000)
    refused("infer scenario.json bad.csv -o out.json", "faults", "row 4, column x1: pipe A9", "more")


def test_more_rows_than_any_drawing_has(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("router.readers.plain_csv.MAX_ROWS", 5_000)
    line = DRAWN.splitlines()[1].partition(",")[2]
    (here / "bad.csv").write_text(
        DRAWN.splitlines()[0] + "\n" + "".join(f"L{k},{line}\n" for k in range(9_000))
    )
    refused("infer scenario.json bad.csv -o out.json", "bad.csv row 5002: 5001 rows", "at most 5000 are read")


def test_a_workbook_that_unpacks_to_a_gigabyte(here: Path) -> None:
    """What an archive says of its size is believed only upwards: here it says so."""
    with zipfile.ZipFile(here / "bad.xlsx", "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
    data = bytearray((here / "bad.xlsx").read_bytes())
    at = data.rindex(b"PK\x01\x02")
    data[at + 24 : at + 28] = (1024 * MB).to_bytes(4, "little")
    (here / "bad.xlsx").write_bytes(data)
    refused("import table --heads bad.xlsx --into scenario.json -o out.json", "1024 MB", "unpack to too much")


@pytest.mark.parametrize("suffix", [".json", ".yaml"])
def test_marks_and_line_ends_that_do_no_harm(suffix: str, here: Path) -> None:
    text = "\ufeff" + json.dumps(MINIMAL, indent=1).replace("\n", "\r\n")
    (here / f"good{suffix}").write_bytes(text.encode("utf-8"))
    assert CliRunner().invoke(app, ["validate", f"good{suffix}"]).exit_code == 0
