"""The command that tells everything: the report."""

import hashlib
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.building.progress import Progress
from router.building.stop import Stop
from router.cli.app import ScenarioFile, app, names_of
from router.deliver.any_route import read_any_route
from router.deliver.ending import INTERRUPTED, console, guarded, say
from router.deliver.files import check_output, save
from router.deliver.progress import Shown, interruptible
from router.deliver.report import Contents, prepare, report_html
from router.deliver.report.prepare import Given, Source
from router.deliver.route_json import belongs_to
from router.explain import Explained, explain_route
from router.scenario import read_scenario
from router.scenario.model import Scenario

NOT_ASKED = "they were not asked for (--no-reasons)"


@app.command()
@guarded("write the report")
def report(
    scenario_file: ScenarioFile,
    route_files: Annotated[
        list[Path],
        typer.Argument(metavar="ROUTE [ROUTE...]", help="One or more routes or drawings (.csv)."),
    ],
    output: Annotated[Path, typer.Option("-o", "--output", help="Where the report goes (.html).")],
    no_reasons: Annotated[
        bool, typer.Option("--no-reasons", help="Leave the reasons out: they take about as long as routing.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress.")] = False,
) -> None:
    """Write one HTML file that opens offline: answer, reasons, plan, sections, 3D, tables, proof.

    Ctrl-C ends the work on reasons: the report is written with those that are known.
    """
    check_output(output, (".html",), keep=[scenario_file, *route_files])
    scenario = read_scenario(scenario_file)
    given = [
        _given(scenario, name, path) for name, path in zip(names_of(route_files), route_files, strict=True)
    ]
    sources = [
        Source(path.name, hashlib.sha256(path.read_bytes()).hexdigest())
        for path in (scenario_file, *route_files)
    ]
    stop = Stop()
    with Shown(console(error=True), quiet=quiet) as shown:

        def work() -> Contents:
            reasons = {}
            for item in given:
                shown.tell(Progress(f"reasons of {item.name}" if len(given) > 1 else "reasons"))
                reasons[item.name] = NOT_ASKED if no_reasons else reasons_of(scenario, item, stop)
            shown.tell(Progress("page"))
            return prepare(scenario, given, sources, reasons)

        contents = interruptible(work, stop, shown.say)
    save(output, report_html(contents))
    console().print(Text(f"written: {output}"), soft_wrap=True)
    if stop.wanted:
        say("interrupted: the report was written with the reasons that were known", "yellow")
        raise typer.Exit(INTERRUPTED)


def _given(scenario: Scenario, name: str, path: Path) -> Given:
    """Read a route or a drawing; what there is to say of it goes on the page and to the terminal."""
    found = read_any_route(scenario, path)
    remarks = [f"{remark.kind}: {remark.text}" for remark in found.remarks]
    for text in [f"warning: {found.warning}"] * bool(found.warning) + remarks:
        say(text, "yellow")
    return Given(name, found.route, found.drawn, remarks)


def reasons_of(scenario: Scenario, item: Given, stop: Stop) -> Explained | str:
    """Find the reasons for a route, or say why there are none."""
    if item.drawn:
        return "the route is a person's drawing; reasons are known of routes that were computed here"
    if not belongs_to(scenario, item.route):
        return "the route was made for another scenario, or for an older state of this one"
    if stop.wanted:
        return "the work was interrupted"
    return explain_route(scenario, item.route, stop)
