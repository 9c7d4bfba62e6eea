"""The command that hands a scenario or a route on to other programs, in open formats."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.check import check_route
from router.cli.app import app, read_judged
from router.deliver.bcf import findings_bcf
from router.deliver.dxf import route_dxf, scenario_dxf
from router.deliver.ending import console, guarded
from router.deliver.files import OutputError, check_output, save, save_bytes
from router.deliver.ifc import route_ifc, scenario_ifc
from router.deliver.route_json import read_route
from router.deliver.segments_csv import write_segments
from router.scenario import read_scenario

ENDINGS = (".csv", ".ifc", ".dxf", ".bcf", ".bcfzip")


@app.command()
@guarded("export")
def export(
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="[SCENARIO] [ROUTE]",
            help="Both: the route is written. Only the scenario: its heads, lines and obstructions "
            "(.ifc, .dxf). Only a route file: its pipes (.csv).",
        ),
    ],
    output: Annotated[
        Path,
        typer.Option(
            "-o",
            "--output",
            help="FILE.ifc: a model. FILE.dxf: plan and sections. FILE.csv: a row for each straight pipe. "
            "FILE.bcf: what the referee found, as topics for a coordination meeting.",
        ),
    ],
    near: Annotated[bool, typer.Option("--near", help="Near misses become topics too (.bcf).")] = False,
    date: Annotated[
        str, typer.Option(help="Date of the topics, as 2030-01-31 (.bcf). [default: today]")
    ] = "",
) -> None:
    """Write a scenario or a route in an open format: IFC, DXF, BCF, or a table of pipes."""
    check_output(output, ENDINGS, keep=files)
    ending = output.suffix.lower()
    if len(files) > 2:
        raise OutputError(f"{files[2]}: one scenario and one route expected, {len(files)} files given")
    topics = ending.startswith(".bcf")
    if (near or date) and not topics:
        raise OutputError(f"{output}: --near and --date are for topics: .bcf expected")
    if len(files) == 2:
        _route(files[0], files[1], output, near, date)
    elif ending == ".csv":
        save(output, write_segments(read_route(files[0])))
    elif topics:
        raise OutputError(f"{output}: topics are about a route: SCENARIO and ROUTE expected")
    else:
        scenario = read_scenario(files[0])
        save(output, scenario_ifc(scenario) if ending == ".ifc" else scenario_dxf(scenario))
    console().print(Text(f"written: {output}"), soft_wrap=True)


def _route(scenario_file: Path, route_file: Path, output: Path, near: bool, date: str) -> None:
    scenario = read_scenario(scenario_file)
    route = read_judged(scenario, route_file)
    ending = output.suffix.lower()
    if ending == ".csv":
        save(output, write_segments(route))
    elif ending == ".ifc":
        save(output, route_ifc(scenario, route))
    elif ending == ".dxf":
        save(output, route_dxf(scenario, route))
    else:
        day = date or datetime.now(UTC).date().isoformat()
        save_bytes(output, findings_bcf(scenario, route, check_route(scenario, route), near=near, date=day))
