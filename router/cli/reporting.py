"""The command that tells everything: the report."""

import hashlib
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.cli.app import ScenarioFile, app, names_of, read_judged
from router.deliver.any_route import DRAWING
from router.deliver.ending import console, guarded
from router.deliver.files import check_output, save
from router.deliver.report import prepare, report_html
from router.deliver.report.prepare import Given, Source
from router.scenario import read_scenario


@app.command()
@guarded("write the report")
def report(
    scenario_file: ScenarioFile,
    route_files: Annotated[
        list[Path],
        typer.Argument(metavar="ROUTE [ROUTE...]", help="One or more routes or drawings (.csv)."),
    ],
    output: Annotated[Path, typer.Option("-o", "--output", help="Where the report goes (.html).")],
) -> None:
    """Write one HTML file that opens offline: answer, reasons, plan, sections, 3D, tables, proof."""
    check_output(output, (".html",), keep=[scenario_file, *route_files])
    scenario = read_scenario(scenario_file)
    given = [
        Given(name, read_judged(scenario, path), path.suffix.lower() == DRAWING)
        for name, path in zip(names_of(route_files), route_files, strict=True)
    ]
    sources = [
        Source(path.name, hashlib.sha256(path.read_bytes()).hexdigest())
        for path in (scenario_file, *route_files)
    ]
    save(output, report_html(prepare(scenario, given, sources)))
    console().print(Text(f"written: {output}"), soft_wrap=True)
