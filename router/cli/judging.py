"""Commands that judge: the referee, its rules, routes side by side."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.check import check_route, rules_in_force
from router.cli.app import RouteFile, ScenarioFile, app, names_of, read_judged, read_kept
from router.compare import compare
from router.deliver.compare_draw import compare_svg
from router.deliver.compare_json import comparison_text
from router.deliver.compare_tables import comparison_table
from router.deliver.ending import (
    BAD_INPUT,
    BROKEN,
    console,
    guarded,
    stop_with,
)
from router.deliver.files import check_output, save
from router.deliver.tables import findings_table, rules_table, sources_text
from router.deliver.verdict_json import write_verdict
from router.route.model import CAUTION
from router.scenario import read_scenario


@app.command()
@guarded("check")
def check(
    scenario_file: ScenarioFile,
    route_file: RouteFile,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write all findings here (.json).")
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option("--keep", metavar="OLD", help="The route that was to be kept: changes are recomputed."),
    ] = None,
) -> None:
    """Let the referee judge a route: measured value, limit and place of every finding.

    Exit code 1: a rule is broken.
    """
    if json_file is not None:
        check_output(json_file, (".json",), keep=[scenario_file, route_file, *([keep] if keep else [])])
    scenario = read_scenario(scenario_file)
    older = None if keep is None else read_kept(scenario, keep)
    judged = read_judged(scenario, route_file, whole=False)
    verdict = check_route(scenario, judged, older)
    if json_file is not None:
        write_verdict(verdict, json_file)
    out = console()
    if verdict.findings:
        out.print(findings_table(verdict.findings))
        out.print(sources_text(verdict.findings))
    broken = len(verdict.breaks)
    near = sum(1 for finding in verdict.findings if finding.severity == "near")
    rules = (
        "no rule broken"
        if not broken
        else f"{broken} {'finding breaks' if broken == 1 else 'findings break'} a rule"
    )
    out.print(
        Text(f"{rules}, {near} near a limit, {verdict.counts.served} of {len(scenario.heads)} heads served")
    )
    out.print(Text(CAUTION, style="italic"))
    if broken:
        raise typer.Exit(BROKEN)


@app.command()
@guarded("list the rules")
def rules(scenario_file: ScenarioFile) -> None:
    """List the rules in force for a scenario: limit, source and how sure it is."""
    console().print(rules_table(rules_in_force(read_scenario(scenario_file))))


@app.command("compare")
@guarded("compare")
def compare_routes(
    scenario_file: ScenarioFile,
    route_files: Annotated[
        list[Path],
        typer.Argument(metavar="ROUTE ROUTE...", help="Two or more routes or drawings (.csv)."),
    ],
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the comparison here (.json).")
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", metavar="FILE", help="Draw the first two over each other (.svg)."),
    ] = None,
) -> None:
    """Set two or more routes side by side, judged by the same rules.

    A route that breaks a rule is never called better. Exit code 1: a rule is broken.
    """
    for output, suffix in ((json_file, ".json"), (picture, ".svg")):
        if output is not None:
            check_output(output, (suffix,), keep=[scenario_file, *route_files])
    if len(route_files) < 2:
        stop_with("two routes or more are needed to compare, 1 is given", BAD_INPUT)
    scenario = read_scenario(scenario_file)
    routes = [
        (name, read_judged(scenario, path))
        for name, path in zip(names_of(route_files), route_files, strict=True)
    ]
    found = compare(scenario, routes)
    if json_file is not None:
        save(json_file, comparison_text(found))
    if picture is not None:
        save(picture, compare_svg(scenario, routes[0], routes[1]))
    out = console()
    out.print(comparison_table(found, scenario.system.standard))
    for output in (json_file, picture):
        if output is not None:
            out.print(Text(f"written: {output}"), soft_wrap=True)
    if found.exit_code:
        raise typer.Exit(BROKEN)
