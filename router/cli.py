"""The command line: parse, call, print. Everything else is in the rooms below.

Exit codes: 0 all is well; 1 heads stay unserved (``route``) or rules are broken
(``check``, ``compare``); 2 the input or an output place cannot be used; 3 the referee refused
our own route; 4 a fault of this program; 130 Ctrl-C (``route`` then writes the best route so far).
"""

from __future__ import annotations

import json
import math
import os
import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

import router
from router.alternatives import DEFAULT, Found, find_front, find_sweep, read_weights, two_terms
from router.alternatives.sweep import MOST as MOST_WEIGHTS
from router.building.progress import Progress
from router.building.route import route_scenario
from router.building.stop import NothingDecidedError, Stop
from router.check import Verdict, check_route, rules_in_force
from router.compare import compare
from router.deliver.alternatives import check_alternatives_folder, write_alternatives
from router.deliver.alternatives_tables import alternatives_table
from router.deliver.any_route import read_any_route
from router.deliver.compare_draw import compare_svg
from router.deliver.compare_json import comparison_text
from router.deliver.compare_tables import comparison_table
from router.deliver.cutlist import check_cut_list_folder, write_cut_list
from router.deliver.cutlist_tables import cutlist_table
from router.deliver.draw import draw_svg
from router.deliver.ending import (
    BAD_INPUT,
    BROKEN,
    INTERRUPTED,
    UNSERVED,
    broken_rules,
    console,
    guarded,
    refuse,
    say,
    stop_with,
    unhung,
)
from router.deliver.files import OutputError, check_output, save
from router.deliver.progress import Shown, interruptible
from router.deliver.route_json import read_route, write_route
from router.deliver.segments_csv import write_segments
from router.deliver.tables import findings_table, route_table, rules_table, scenario_table, sources_text
from router.readers import read_csv_folder
from router.route.model import CAUTION, Route
from router.route.schema import route_schema
from router.scenario import dump_scenario, notes, read_scenario, scenario_schema, schema_text
from router.scenario.model import Scenario

MOST_BY_DEFAULT = 6
"""Routes of a front: a handful."""
MOST_ROUTES = 50
"""Of a front: more would not be a handful."""

app = typer.Typer(
    help="How every sprinkler head leaves its branch line: the fewest fittings and level changes, proven.",
    epilog=CAUTION,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
import_app = typer.Typer(help="Turn other data into a scenario.", no_args_is_help=True, rich_markup_mode=None)
app.add_typer(import_app, name="import")


class SchemaOf(StrEnum):
    """Which file a schema is wanted of."""

    scenario = "scenario"
    route = "route"


ScenarioFile = Annotated[Path, typer.Argument(metavar="SCENARIO", help="Scenario file, JSON or YAML.")]
RouteFile = Annotated[
    Path,
    typer.Argument(
        metavar="ROUTE",
        help="Route file as `route` writes it, or a drawing: a table of straight pipes (.csv).",
    ),
]


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"branch-router {router.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Take what holds for all commands."""


@app.command()
@guarded("validate")
def validate(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Scenario file, JSON or YAML.")],
) -> None:
    """Read a scenario and name every fault in it: place, line, value and unit."""
    scenario = read_scenario(file)
    out = console()
    out.print(Text(f"{file}: no fault. {scenario.name}"), soft_wrap=True)
    out.print(scenario_table(scenario))
    for note in notes(scenario):
        out.print(Text(f"note: {note}", style="yellow"), soft_wrap=True)


@app.command()
@guarded("print the schema")
def schema(
    of: Annotated[
        SchemaOf, typer.Argument(metavar="[scenario|route]", help="Which file.")
    ] = SchemaOf.scenario,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="Write it here (.json).")] = None,
) -> None:
    """Print the JSON Schema of the scenario file or of the route file."""
    text = schema_text(scenario_schema() if of is SchemaOf.scenario else route_schema())
    if output is None:
        sys.stdout.write(text)
        return
    check_output(output, (".json",))
    save(output, text)


@app.command()
@guarded("route")
def route(
    scenario_file: ScenarioFile,
    output: Annotated[Path, typer.Option("-o", "--output", help="Where the route goes (.json).")],
    time_limit: Annotated[
        float | None,
        typer.Option(
            "--time-limit", metavar="SECONDS", help="Then the best route so far, with its honest bound."
        ),
    ] = None,
    times: Annotated[
        Path | None, typer.Option("--times", metavar="FILE", help="Write the seconds by phase here (.json).")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress and no table.")] = False,
) -> None:
    """Find the best route, let the referee check it, write it and sum it up.

    Exit code 1: some head is unserved or a hanger has no place. 3: the referee
    found a rule broken, nothing is written. Ctrl-C and a time limit end with the
    best route so far and its bound; a second Ctrl-C ends at once.
    """
    _check_time_limit(time_limit)
    check_output(output, (".json",), keep=[scenario_file])
    if times is not None:
        check_output(times, (".json",), keep=[scenario_file, output])
    scenario = read_scenario(scenario_file)
    stop = Stop(time_limit)
    with Shown(console(error=True), quiet=quiet) as shown:

        def work() -> tuple[Route, Verdict, dict[str, float], str | None]:
            found, solution = route_scenario(
                scenario, tell=shown.tell, processes=os.cpu_count() or 1, stop=stop
            )
            spent, stopped = solution.seconds, solution.stopped
            del solution  # the referee needs the room
            shown.tell(Progress("referee"))
            return found, check_route(scenario, found), spent, stopped

        try:
            found, verdict, seconds, stopped = interruptible(work, stop, shown.say)
        except NothingDecidedError as error:
            stop_with(f"{error} before a head could be served; nothing was written",
                  INTERRUPTED if stop.wanted else UNSERVED)  # fmt: skip
    if broken_rules(verdict):
        refuse(verdict)
    write_route(found, output)
    if times is not None:
        save(times, json.dumps({k: round(v, 4) for k, v in seconds.items()}, indent=2) + "\n")
    if not quiet:
        out = console()
        out.print(route_table(scenario, found, verdict, seconds))
        out.print(Text(f"written: {output}"), soft_wrap=True)
    if stopped is not None:
        say(f"{stopped}; the best route so far was written: {output}", "yellow")
    elif stop.wanted:
        say(f"interrupted, but the route was already decided; it was written: {output}", "yellow")
    nowhere = unhung(verdict)
    for finding in nowhere:
        say(f"no place for a hanger: {finding.text}", "yellow")
    if stop.wanted:
        raise typer.Exit(INTERRUPTED)
    if found.counts.served < found.counts.heads or nowhere:
        raise typer.Exit(UNSERVED)


@app.command()
@guarded("find alternatives")
def alternatives(
    scenario_file: ScenarioFile,
    output: Annotated[
        Path, typer.Option("-o", "--output", help="Folder for routes, alternatives.json and front.svg.")
    ],
    of: Annotated[
        str, typer.Option("--of", metavar="TERM,TERM", help="The two terms that are traded.")
    ] = DEFAULT,
    most: Annotated[
        int | None,
        typer.Option(
            "--most",
            metavar="N",
            help=f"So many routes of the front are written at the most (default {MOST_BY_DEFAULT}).",
        ),
    ] = None,
    weights: Annotated[
        list[str] | None,
        typer.Option(
            "--weights",
            metavar="NAME=V,V...",
            help="Instead of the front: route these weights, every combination if given several times.",
        ),
    ] = None,
    time_limit: Annotated[
        float | None, typer.Option("--time-limit", metavar="SECONDS", help="Then what is known so far.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress and no table.")] = False,
) -> None:
    """Find the exact front of two terms and write a handful of its routes; or sweep weights.

    Exit code 1: written, but every route leaves some head unserved or a hanger
    without a place. 3: the referee found a rule broken, nothing is written.
    """
    _check_time_limit(time_limit)
    terms, swept = two_terms(of), read_weights(weights or [])
    if swept and most is not None:
        stop_with(f"--most: {most} routes: a sweep of --weights writes all of its routes", BAD_INPUT)
    most = MOST_BY_DEFAULT if most is None else most
    if not 1 <= most <= MOST_ROUTES:
        stop_with(f"--most: {most} routes: a number from 1 to {MOST_ROUTES} expected", BAD_INPUT)
    check_alternatives_folder(output, MOST_WEIGHTS if swept else most, keep=[scenario_file])
    scenario = read_scenario(scenario_file)
    stop = Stop(time_limit)
    with Shown(console(error=True), quiet=quiet) as shown:

        def work() -> Found:
            if swept:
                return find_sweep(scenario, terms, swept, stop, shown.tell)
            return find_front(scenario, terms, most, stop, shown.tell)

        try:
            found = interruptible(work, stop, shown.say)
        except NothingDecidedError as error:
            stop_with(f"{error} before anything was known; nothing was written",
                  INTERRUPTED if stop.wanted else UNSERVED)  # fmt: skip
    for name, verdict in found.verdicts.items():
        if broken_rules(verdict):
            refuse(verdict, name)
    write_alternatives(found, output)
    if not quiet:
        out = console()
        out.print(alternatives_table(found.record))
        out.print(Text(f"written: {output}"), soft_wrap=True)
    for name, verdict in found.verdicts.items():
        for finding in unhung(verdict):
            say(f"{name}: no place for a hanger: {finding.text}", "yellow")
    if stop.wanted:
        say(f"interrupted; what was known was written: {output}", "yellow")
        raise typer.Exit(INTERRUPTED)
    counts = [(name, route.counts) for name, route in found.routes.items()]
    if all(c.served < c.heads or unhung(found.verdicts[name]) for name, c in counts):
        raise typer.Exit(UNSERVED)


def _check_time_limit(seconds: float | None) -> None:
    if seconds is not None and not (math.isfinite(seconds) and seconds > 0):
        stop_with(f"--time-limit: {seconds:g} s: a number of seconds above 0 expected", BAD_INPUT)


@app.command()
@guarded("check")
def check(
    scenario_file: ScenarioFile,
    route_file: RouteFile,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write all findings here (.json).")
    ] = None,
) -> None:
    """Let the referee judge a route: measured value, limit and place of every finding.

    Exit code 1: a rule is broken.
    """
    if json_file is not None:
        check_output(json_file, (".json",), keep=[scenario_file, route_file])
    scenario = read_scenario(scenario_file)
    judged = _read(scenario, route_file, whole=False)
    verdict = check_route(scenario, judged)
    if json_file is not None:
        data = {"clean": verdict.clean, **verdict.model_dump(mode="json")}
        save(json_file, json.dumps(data, indent=2, ensure_ascii=False) + "\n")
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
    save(output, draw_svg(scenario, _read(scenario, route_file)))
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
    cuts, _ = write_cut_list(scenario, _read(scenario, route_file), output)
    out = console()
    out.print(cutlist_table(cuts))
    out.print(Text(f"written: {output}"), soft_wrap=True)


@app.command()
@guarded("infer")
def infer(
    scenario_file: ScenarioFile,
    drawing: Annotated[Path, typer.Argument(metavar="DRAWING", help="Table of straight pipes (.csv), mm.")],
    output: Annotated[Path, typer.Option("-o", "--output", help="Where the route goes (.json).")],
) -> None:
    """Read a person's drawing: how its pipes meet tells the fittings and styles."""
    check_output(output, (".json",), keep=[scenario_file, drawing])
    scenario = read_scenario(scenario_file)
    found = read_any_route(scenario, drawing)
    write_route(found.route, output)
    out = console()
    for remark in found.remarks:
        out.print(Text(f"{remark.kind}: {remark.text}", style="yellow"), soft_wrap=True)
    counts = found.route.counts
    out.print(
        Text(
            f"{counts.served} of {counts.heads} heads served, {counts.fittings_counted} fittings, "
            f"{counts.fittings_per_head:.2f} for each head at its takeoff; nothing is proven of a drawing"
        )
    )
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
        (name, _read(scenario, path)) for name, path in zip(_names(route_files), route_files, strict=True)
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


def _names(paths: list[Path]) -> list[str]:
    """Name routes by their files: as short as tells them apart."""
    short = [path.stem for path in paths]
    if len(set(short)) == len(short):
        return short
    return [f"{n + 1}: {path}" for n, path in enumerate(paths)]


def _read(scenario: Scenario, path: Path, *, whole: bool = True) -> Route:
    """Read a route or a drawing; say what there is to say of it."""
    found = read_any_route(scenario, path, whole=whole)
    if found.warning:
        say(f"warning: {found.warning}", "yellow")
    for remark in found.remarks:
        say(f"{remark.kind}: {remark.text}", "yellow")
    return found.route


@import_app.command("csv")
@guarded("import")
def import_csv(
    folder: Annotated[
        Path,
        typer.Argument(metavar="DIR", help="Folder with heads.csv, pipes.csv and obstructions.csv (mm)."),
    ],
    output: Annotated[
        Path, typer.Option("-o", "--output", help="Where the scenario goes (.json, .yaml or .yml).")
    ],
) -> None:
    """Turn tables of heads, pipes and obstructions into a scenario."""
    check_output(output, (".json", ".yaml", ".yml"))
    result = read_csv_folder(folder)
    try:
        dump_scenario(result.scenario, output)
    except OSError as error:
        raise OutputError(f"{output}: cannot be written: {error.strerror or error}") from error
    out = console()
    for line in result.report.text().splitlines():
        out.print(Text(line), soft_wrap=True)
    for note in notes(result.scenario):
        out.print(Text(f"note: {note}", style="yellow"), soft_wrap=True)
    out.print(Text(f"written: {output}"), soft_wrap=True)
