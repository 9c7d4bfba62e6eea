"""Every way to write a file, and every command that writes one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from .conftest import ROOT

if TYPE_CHECKING:
    from pathlib import Path

COORDINATION = ROOT / "scenarios" / "coordination"
WORKSHOP = ROOT / "scenarios" / "workshop"


@dataclass(frozen=True)
class Writer:
    """A command; ``{s}``, ``{r}`` and ``{o}`` stand for scenario, route and output."""

    command: str
    output: str

    def args(self, scenario: Path, route: Path, folder: Path) -> list[str]:
        """Give the arguments that write into a folder."""
        at = {"s": scenario, "r": route, "o": folder / self.output, "c": COORDINATION, "w": WORKSHOP}
        return [word.format_map(at) for word in self.command.split()]

    def named(self, output: str) -> Writer:
        """Give the same with another name of the output."""
        return replace(self, output=output)


ROUTE = Writer("route {s} -o {o} --quiet", "r.json")
CHECK = Writer("check {s} {r} --json {o}", "c.json")
CUTLIST = Writer("cutlist {s} {r} -o {o}", "cuts")
SHEETS = Writer("draw {s} {r} -o {o}", "sheets")
FILES = {
    "route": ROUTE,
    "check": CHECK,
    "compare": Writer("compare {s} {r} {r} --json {o}", "c.json"),
    "explain": Writer("explain {s} {r} --json {o}", "e.json"),
    "report": Writer("report {s} {r} -o {o} --no-reasons --quiet", "p.html"),
    "svg": Writer("draw {s} {r} -o {o}", "d.svg"),
    "pdf": Writer("draw {s} {r} -o {o}", "d.pdf"),
    "ifc": Writer("export {s} {r} -o {o}", "m.ifc"),
    "dxf": Writer("export {s} {r} -o {o}", "m.dxf"),
    "bcf": Writer("export {s} {r} -o {o} --near", "m.bcf"),
    "csv": Writer("export {s} {r} -o {o}", "m.csv"),
    "schema": Writer("schema -o {o}", "s.json"),
    "import-ifc": Writer("import ifc {c}/sprinklers.ifc -o {o}", "i.json"),
    "import-dxf": Writer("import dxf {c}/ceiling.dxf --mapping {c}/layers.yaml --into {s} -o {o}", "i.json"),
    "import-csv": Writer("import csv {w} -o {o}", "i.json"),
    "import-table": Writer(
        "import table --obstructions {c}/ducts.csv --columns {c}/columns.yaml --into {s} -o {o}", "i.yaml"
    ),
}
FOLDERS = {
    "cutlist": CUTLIST,
    "sheets": SHEETS,
    "alternatives": Writer("alternatives {s} -o {o} --quiet --most 2", "front"),
}
EVERY = {**FILES, **FOLDERS}
