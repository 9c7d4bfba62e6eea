"""Commands that give: drawings, the cut list, tables of pipe."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.cli.app import RouteFile, ScenarioFile, app, read_judged
from router.deliver.cutlist import check_cut_list_folder, write_cut_list
from router.deliver.cutlist_tables import cutlist_table
from router.deliver.draw import draw_svg
from router.deliver.ending import (
    console,
    guarded,
)
from router.deliver.files import check_output, save
from router.deliver.route_json import read_route
from router.deliver.segments_csv import write_segments
from router.scenario import read_scenario


@app.command()
@guarded("draw")
def draw(
    scenario_file: ScenarioFile,
    route_file: RouteFile,
    output: Annotated[Path, typer.Option("-o", "--output", help="Where the drawing goes (.svg).")],
) -> None:
    """Draw plan and sections of a route."""
    check_output(output, (".svg",), keep=[scenario_file, route_file])
    scenario = read_scenario(scenario_file)
    save(output, draw_svg(scenario, read_judged(scenario, route_file)))
    console().print(Text(f"written: {output}"), soft_wrap=True)


@app.command()
@guarded("make the cut list")
def cutlist(
    scenario_file: ScenarioFile,
    route_file: RouteFile,
    output: Annotated[Path, typer.Option("-o", "--output", help="Folder for the tables (CSV and XLSX).")],
) -> None:
    """Cut list, stock list, fittings and totals of a route."""
    check_cut_list_folder(output, keep=[scenario_file, route_file])
    scenario = read_scenario(scenario_file)
    cuts, _ = write_cut_list(scenario, read_judged(scenario, route_file), output)
    out = console()
    out.print(cutlist_table(cuts))
    out.print(Text(f"written: {output}"), soft_wrap=True)


@app.command()
@guarded("export")
def export(
    route_file: Annotated[Path, typer.Argument(metavar="ROUTE", help="Route file, as `route` writes it.")],
    output: Annotated[Path, typer.Option("-o", "--output", help="Where the table goes (.csv).")],
) -> None:
    """Write a route as a plain drawing: one row for each straight pipe, no fittings."""
    check_output(output, (".csv",), keep=[route_file])
    save(output, write_segments(read_route(route_file)))
    console().print(Text(f"written: {output}"), soft_wrap=True)
