"""The commands' common ground: the application, its arguments, how a route file is read."""

from pathlib import Path
from typing import Annotated

import typer

import router
from router.deliver.any_route import read_any_route
from router.deliver.ending import say
from router.deliver.keep import read_older
from router.route.model import CAUTION, Route
from router.scenario.model import Scenario

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

ScenarioFile = Annotated[Path, typer.Argument(metavar="SCENARIO", help="Scenario file, JSON or YAML.")]
RouteFile = Annotated[
    Path,
    typer.Argument(
        metavar="ROUTE",
        help="Route file as `route` writes it, or a drawing: a table of straight pipes (.csv).",
    ),
]


_began: list[float] = []


def time_runs_from(mark: float) -> None:
    """Let time limits count from a moment (of ``time.monotonic``): when the command was called."""
    _began[:] = [mark]


def began() -> float | None:
    """Give when the command was called; ``None``: it is called from a program that runs on."""
    return _began[0] if _began else None


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


def names_of(paths: list[Path]) -> list[str]:
    """Name routes by their files: as short as tells them apart."""
    short = [path.stem for path in paths]
    if len(set(short)) == len(short):
        return short
    return [f"{n + 1}: {path}" for n, path in enumerate(paths)]


def read_kept(scenario: Scenario, path: Path) -> Route:
    """Read an older route that is to be kept; say what there is to say of it."""
    found = read_older(scenario, path)
    for remark in found.remarks:
        say(f"{remark.kind}: {remark.text}", "yellow")
    return found.route


def read_judged(scenario: Scenario, path: Path, *, whole: bool = True) -> Route:
    """Read a route or a drawing; say what there is to say of it."""
    found = read_any_route(scenario, path, whole=whole)
    if found.warning:
        say(f"warning: {found.warning}", "yellow")
    for remark in found.remarks:
        say(f"{remark.kind}: {remark.text}", "yellow")
    return found.route
