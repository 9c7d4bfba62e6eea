"""Commands that find: the best route, alternatives."""

import math
import os
from contextlib import suppress
from pathlib import Path
from time import monotonic
from typing import Annotated

import typer
from rich.text import Text

from router.alternatives import DEFAULT, Found, find_front, find_sweep, read_weights, two_terms
from router.alternatives.sweep import MOST as MOST_WEIGHTS
from router.building.progress import Progress
from router.building.route import route_scenario
from router.building.stop import NothingDecidedError, Stop
from router.check import Verdict, check_route
from router.cli.app import ScenarioFile, app, began, read_kept
from router.cli.distrust import Distrust
from router.deliver.alternatives import check_alternatives_folder, write_alternatives
from router.deliver.alternatives_tables import alternatives_table
from router.deliver.ending import (
    BAD_INPUT,
    INTERRUPTED,
    UNSERVED,
    broken_rules,
    console,
    guarded,
    say,
    stop_with,
    unhung,
)
from router.deliver.files import check_output, save
from router.deliver.keep import changes_table, cost_of_keeping, write_changes
from router.deliver.progress import Shown, interruptible
from router.deliver.route_json import write_route
from router.deliver.tables import route_table
from router.deliver.told_json import times_text
from router.route.model import Route
from router.scenario import read_scenario
from router.scenario.model import Scenario

ALSO_ANEW = 300
"""Heads. So small a scenario is also routed without the older route, to say what keeping costs."""
MOST_BY_DEFAULT = 6
"""Routes of a front: a handful."""
MOST_ROUTES = 50
"""Of a front: more would not be a handful."""


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
    keep: Annotated[
        Path | None,
        typer.Option(
            "--keep",
            metavar="OLD",
            help="An older route (or a drawing, .csv): what still holds stays exactly as it was.",
        ),
    ] = None,
    changes: Annotated[
        Path | None,
        typer.Option(
            "--changes", metavar="FILE", help="With --keep: write what changed and why (.json or .csv)."
        ),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress and no table.")] = False,
) -> None:
    """Find the best route, let the referee check it, write it and sum it up.

    Exit code 1: some head is unserved or a hanger has no place. 3: the referee
    found a rule broken, nothing is written. Ctrl-C and a time limit end with the
    best route so far and its bound; a second Ctrl-C ends at once. If the program
    shows itself to be wrong (codes 3 and 4), a bundle to report it with is written
    beside the output instead.
    """
    _check_time_limit(time_limit)
    given = [scenario_file] if keep is None else [scenario_file, keep]
    check_output(output, (".json",), keep=given)
    if times is not None:
        check_output(times, (".json",), keep=[*given, output])
    if changes is not None:
        if keep is None:
            stop_with(f"--changes {changes}: there are changes only with --keep OLD", BAD_INPUT)
        check_output(changes, (".json", ".csv"), keep=[*given, output, *([times] if times else [])])
    scenario, pace = _read_timed(scenario_file)
    older = None if keep is None else read_kept(scenario, keep)
    stop = Stop(time_limit, began=began(), pace=pace)
    distrust = Distrust(scenario, output, given, older)
    with distrust.watching("route"), Shown(console(error=True), quiet=quiet) as shown:

        def work() -> tuple[Route, Verdict, dict[str, float], str | None, str]:
            found, solution = route_scenario(
                scenario, tell=shown.tell, processes=os.cpu_count() or 1, stop=stop, keep=older
            )
            spent, stopped = solution.seconds, solution.stopped
            del solution  # the referee needs the room
            shown.tell(Progress("referee"))
            verdict = check_route(scenario, found, older)
            more = ""
            small = len(scenario.heads) <= ALSO_ANEW and time_limit is None
            if older is not None and small and not quiet:
                with suppress(NothingDecidedError):
                    more = cost_of_keeping(found, route_scenario(scenario, stop=stop)[0])
            return found, verdict, spent, stopped, more

        try:
            found, verdict, seconds, stopped, more = interruptible(work, stop, shown.say)
        except NothingDecidedError as error:
            stop_with(f"{error} before a head could be served; nothing was written",
                  INTERRUPTED if stop.wanted else UNSERVED)  # fmt: skip
    if broken_rules(verdict):
        distrust.refuse({"route": (found, verdict)})
    write_route(found, output)
    if times is not None:
        save(times, times_text(seconds))
    if changes is not None and found.kept is not None:
        write_changes(found.kept, changes)
    if not quiet:
        out = console()
        out.print(route_table(scenario, found, verdict, seconds))
        if found.kept is not None:
            out.print(changes_table(found, more))
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
    scenario, pace = _read_timed(scenario_file)
    stop = Stop(time_limit, began=began(), pace=pace)
    distrust = Distrust(scenario, output, [scenario_file])
    with distrust.watching("find alternatives"), Shown(console(error=True), quiet=quiet) as shown:

        def work() -> Found:
            if swept:
                return find_sweep(scenario, terms, swept, stop, shown.tell)
            return find_front(scenario, terms, most, stop, shown.tell)

        try:
            found = interruptible(work, stop, shown.say)
        except NothingDecidedError as error:
            stop_with(f"{error} before anything was known; nothing was written",
                  INTERRUPTED if stop.wanted else UNSERVED)  # fmt: skip
    broken = {
        name: (found.routes[name], verdict)
        for name, verdict in found.verdicts.items()
        if broken_rules(verdict)
    }
    if broken:
        distrust.refuse(broken)
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


def _read_timed(file: Path) -> tuple[Scenario, float]:
    """Read a scenario, and say how many seconds that took: so fast is this machine now."""
    mark = monotonic()
    return read_scenario(file), monotonic() - mark


def _check_time_limit(seconds: float | None) -> None:
    if seconds is not None and not (math.isfinite(seconds) and seconds > 0):
        stop_with(f"--time-limit: {seconds:g} s: a number of seconds above 0 expected", BAD_INPUT)
