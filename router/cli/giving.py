"""Commands that give: drawings, the cut list, tables of pipe."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.cli.app import RouteFile, ScenarioFile, app, read_judged
from router.deliver.cutlist import check_cut_list_folder, write_cut_list
from router.deliver.cutlist_tables import cutlist_table
from router.deliver.draw import draw_svg
from router.deliver.draw_sheet import plural
from router.deliver.ending import (
    console,
    guarded,
)
from router.deliver.files import OutputError, check_output, save
from router.deliver.sheets.paper import PAPERS
from router.deliver.sheets.write import check_sheet_folder, given_in_inches, sheet_paper, write_sheets
from router.scenario import read_scenario


@app.command()
@guarded("draw")
def draw(
    scenario_file: ScenarioFile,
    route_file: RouteFile,
    output: Annotated[
        Path,
        typer.Option(
            "-o",
            "--output",
            help="FILE.svg: one large sheet. FILE.pdf: sheets. A folder: an SVG for each sheet, and the PDF.",
        ),
    ],
    paper: Annotated[
        str | None,
        typer.Option(
            help=f"Of the sheets: {', '.join(PAPERS)}. [default: A3, or tabloid for inch scenarios]"
        ),
    ] = None,
    date: Annotated[
        str, typer.Option(help="Date in the title blocks; left out, it is filled in by hand.")
    ] = "",
) -> None:
    """Draw a route: an overview on one sheet, or plans, sections and isometrics on sheets of paper."""
    inputs = [scenario_file, route_file]
    chosen = sheet_paper(paper, inch=given_in_inches(scenario_file))
    ending = output.suffix.lower()
    if output.is_dir() or not ending:
        check_sheet_folder(output, keep=inputs)
    else:
        check_output(output, (".svg", ".pdf"), keep=inputs)
    if ending == ".svg" and not output.is_dir():
        if paper is not None or date:
            raise OutputError(f"{output}: --paper and --date are for sheets: a .pdf or a folder expected")
        scenario = read_scenario(scenario_file)
        save(output, draw_svg(scenario, read_judged(scenario, route_file)))
        console().print(Text(f"written: {output}"), soft_wrap=True)
        return
    scenario = read_scenario(scenario_file)
    sheets = write_sheets(scenario, read_judged(scenario, route_file), output, chosen, date)
    out = console()
    for number, page in enumerate(sheets.pages, 1):
        left = f"; {plural(page.dropped, 'label')} left out for want of room" if page.dropped else ""
        out.print(Text(f"sheet {number}: {page.title}, {page.scale}{left}"), soft_wrap=True)
    out.print(Text(f"written: {output}, {len(sheets.pages)} sheets of {chosen.name}"), soft_wrap=True)


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
