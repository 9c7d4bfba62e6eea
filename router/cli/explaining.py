"""The command that tells reasons: why a head or a run of a route is as it is."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.building.stop import Stop
from router.cli.app import RouteFile, ScenarioFile, app, read_judged
from router.deliver.ending import BAD_INPUT, INTERRUPTED, console, guarded, say, stop_with
from router.deliver.explain_tables import explained_table, head_reasons_table, run_reasons_table
from router.deliver.files import check_output, save
from router.deliver.progress import Shown, interruptible
from router.deliver.told_json import reasons_text
from router.explain import KEPT, Explained, HeadReasons, RunReasons, explain_head, explain_route, explain_run
from router.route.model import CAUTION
from router.scenario import read_scenario
from router.scenario.view import some


@app.command()
@guarded("explain")
def explain(
    scenario_file: ScenarioFile,
    route_file: RouteFile,
    item: Annotated[
        str | None,
        typer.Argument(metavar="[HEAD|RUN]", help="Whose reasons; without it a line for every head and run."),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the reasons here (.json).")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress.")] = False,
) -> None:
    """Tell why a head or a run is as it is, and what would make an unserved one work.

    For one head or run every other way is solved anew. Without one, all are told
    from what the bounds say, which is quick: "at least" so many points more.
    """
    if json_file is not None:
        check_output(json_file, (".json",), keep=[scenario_file, route_file])
    scenario = read_scenario(scenario_file)
    heads, runs = {h.id for h in scenario.heads}, {r.id for r in scenario.runs}
    if item is not None and item not in heads | runs:
        known = f"heads: {some(sorted(heads))}; runs: {some(sorted(runs))}"
        stop_with(f"{item!r}: no head or run of {scenario_file} has this id ({known})", BAD_INPUT)
    route = read_judged(scenario, route_file)
    if route.kept is not None:
        say(KEPT, "yellow")
    stop = Stop()
    with Shown(console(error=True), quiet=quiet) as shown:

        def work() -> list[HeadReasons | RunReasons] | Explained:
            if item is None:
                return explain_route(scenario, route, stop)
            found: list[HeadReasons | RunReasons] = []
            if item in heads:
                found.append(explain_head(scenario, route, item, stop))
            if item in runs:
                found.append(explain_run(scenario, route, item, stop))
            return found

        found = interruptible(work, stop, shown.say)
    if isinstance(found, list):
        tables = [
            head_reasons_table(r) if isinstance(r, HeadReasons) else run_reasons_table(r) for r in found
        ]
    else:
        tables = [explained_table(found)]
    if json_file is not None:
        save(json_file, reasons_text(found))
    out = console()
    for table in tables:
        out.print(table)
    if json_file is not None:
        out.print(Text(f"written: {json_file}"), soft_wrap=True)
    out.print(Text(CAUTION, style="italic"))
    if stop.wanted:
        say("interrupted; told is what was known by then", "yellow")
        raise typer.Exit(INTERRUPTED)
