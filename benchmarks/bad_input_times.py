"""How long it takes to refuse a broken file: each case of the corpus as a process of its own.

    python benchmarks/bad_input_times.py [--every N] [--out benchmarks/results/bad_input.md]

Each case of ``tests/bad_input`` goes through the first command of its kind by ``python -m router``;
then files of a hundred megabytes, and some just below the limits. Seconds are of the whole
process, its start included, by the clock and of the processor; memory is its peak. The machine's load
is printed beside them. Ends with code 1 if an exit code is not 2 or an output was written.
"""

from __future__ import annotations

import argparse
import json
import os
import shlex
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
MB = 1024 * 1024
LIMIT_S = 2.0


@dataclass
class Measured:
    """One process."""

    name: str
    command: str
    code: int
    clock: float
    processor: float
    peak_mb: float
    told: str


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--every", type=int, default=1, help="only every N-th case of the corpus")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    from bad_input.all_cases import CASES
    from bad_input.commands import KINDS
    from bad_input.sound import make_sound

    load = os.getloadavg()[0]
    found: list[Measured] = []
    with tempfile.TemporaryDirectory(prefix="bad-input-") as name:
        folder = Path(name)
        os.chdir(folder)
        make_sound(folder)
        for case in CASES[:: given.every]:
            command = KINDS[case.kind][0].replace("{bad}", str(case.make(folder)))
            found.append(measured(case.name, command, folder))
            remove(folder)
        corpus = len(found)
        for name, suffix, command, write in LARGE:
            write(folder / f"bad{suffix}")
            found.append(measured(name, command.replace("{bad}", f"bad{suffix}"), folder))
            remove(folder)
        written = [
            path.name for path in folder.glob("out.*") if path.read_bytes() != b"what stood here before"
        ]
    text = page(found[:corpus], found[corpus:], load, os.getloadavg()[0])
    print(text)
    if given.out:
        given.out.write_text(text, encoding="utf-8")
    bad = [one.name for one in found if one.code != 2]
    if bad or written:
        sys.exit(f"not refused: {', '.join(bad)}; written: {', '.join(written)}")


def remove(folder: Path) -> None:
    """Take the broken files out."""
    for path in folder.glob("bad*"):
        if path.is_dir():
            for each in path.iterdir():
                each.unlink()
            path.rmdir()
        else:
            path.unlink()


def measured(name: str, command: str, folder: Path) -> Measured:
    """Run one command."""
    errors = folder / "errors.txt"
    start = time.monotonic()
    with errors.open("wb") as stream:
        process = subprocess.Popen(
            [sys.executable, "-m", "router", *shlex.split(command)],
            cwd=folder,
            stdout=subprocess.DEVNULL,
            stderr=stream,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    told = errors.read_text(encoding="utf-8", errors="replace").strip()
    return Measured(
        name,
        command.split()[0],
        process.returncode,
        time.monotonic() - start,
        used.ru_utime + used.ru_stime,
        used.ru_maxrss / 1024,
        " ".join(told.split())[:160],
    )


def _hole(size: int) -> Callable[[Path], None]:
    def write(path: Path) -> None:
        path.touch()
        os.truncate(path, size * MB)

    return write


def _repeated(head: str, part: str, size: int, end: str = "") -> Callable[[Path], None]:
    def write(path: Path) -> None:
        with path.open("w", encoding="utf-8") as out:
            out.write(head)
            block = part * max(1, MB // len(part))
            for _ in range(size):
                out.write(block)
            out.write(end)

    return write


HEAD = json.dumps({"id": "H", "at": [1500.5, 200.25, 2700]}) + ",\n"
IFC = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
    "FILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n"
)
LARGE: list[tuple[str, str, str, Callable[[Path], None]]] = [
    ("100 MB list of heads", ".json", "validate {bad}", _repeated('{"heads": [', HEAD, 100)),
    ("100 MB text", ".json", "validate {bad}", _repeated('{"name": "', "x", 100, '"}')),
    ("100 MB of YAML", ".yaml", "validate {bad}", _repeated("heads:\n", "- {id: H, at: [1, 2, 3]}\n", 100)),
    ("100 MB route", ".json", "check scenario.json {bad}", _repeated('{"pieces": [', HEAD, 100)),
    ("100 MB drawing", ".csv", "infer scenario.json {bad} -o out.json", _repeated("x1,y1\n", "1,2\n", 100)),
    ("100 MB table", ".csv", "import table --heads {bad} -o out.json", _repeated("id,x,y,z\n",
     "H,1,2,3\n", 100)),
    ("100 MB drawing cut off", ".dxf", "import dxf {bad} -o out.json", _repeated("  0\nSECTION\n",
     "  0\nLINE\n", 100)),
    ("100 MB model cut off", ".ifc", "import ifc {bad} -o out.json", _repeated(IFC,
     "#1=IFCWALL($,$,$);\n", 100)),
    ("100 MB model, deep", ".ifc", "import ifc {bad} -o out.json",
     _repeated(IFC, "(", 100, "\nENDSEC;\nEND-ISO-10303-21;\n")),
    ("100 MB hole", ".json", "validate {bad}", _hole(100)),
    ("60 MB of heads, cut off", ".json", "validate {bad}", _repeated('{"heads": [', HEAD, 60)),
    ("60 MB text, no runs", ".json", "validate {bad}", _repeated('{"name": "', "x", 60, '"}')),
    ("60 MB of brackets", ".json", "validate {bad}", _repeated("", "[", 60)),
    ("60 MB of empty lists", ".json", "validate {bad}", _repeated("[", "[],", 60, "1]")),
    ("10 MB of heads without runs", ".json", "validate {bad}", _repeated('{"heads": [', HEAD, 10, "0]}")),
    ("10 MB of heads, a key twice", ".json", "validate {bad}",
     _repeated('{"heads": [', HEAD, 10, '{"id": 1, "id": 2}]}')),
    ("3 MB of YAML, cut off", ".yaml", "validate {bad}", _repeated("heads:\n",
     "- {id: H, at: [1, 2, 3]}\n", 3, "- {")),
    ("60 MB drawing of words", ".csv", "infer scenario.json {bad} -o out.json",
     _repeated("x1,y1,z1,x2,y2,z2,size\n", "a,b,c,d,e,f,g\n", 60)),
]  # fmt: skip


def page(corpus: list[Measured], large: list[Measured], before: float, after: float) -> str:
    """Lay the figures out."""
    lines = [
        "# Seconds to refuse a broken file",
        "",
        "`python benchmarks/bad_input_times.py`: every case of `tests/bad_input` through `python -m router`,",
        f"start included. Load of the machine (2 cores) {before:.1f} before, {after:.1f} after.",
        "",
        "| | cases | worst clock s | median clock s | worst processor s | median processor s | worst MB |",
        "|---|---|---|---|---|---|---|",
    ]
    for name, part in (("corpus", corpus), ("large files", large)):
        if part:
            clock, used = sorted(one.clock for one in part), sorted(one.processor for one in part)
            lines.append(
                f"| {name} | {len(part)} | {clock[-1]:.2f} | {clock[len(clock) // 2]:.2f} | {used[-1]:.2f} | "
                f"{used[len(used) // 2]:.2f} | {max(one.peak_mb for one in part):.0f} |"
            )
    over = [one for one in (*corpus, *large) if one.processor > LIMIT_S]
    lines += ["", f"Over {LIMIT_S:g} s of the processor: {len(over)}. The slowest, and all large files:", ""]
    lines += ["| case | command | clock s | processor s | MB | message |", "|---|---|---|---|---|---|"]
    for one in [*sorted(corpus, key=lambda one: -one.processor)[:12], *large]:
        told = one.told.replace("|", "/")
        used = f"{one.clock:.2f} | {one.processor:.2f} | {one.peak_mb:.0f}"
        lines.append(f"| {one.name} | {one.command} | {used} | {told} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
