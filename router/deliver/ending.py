"""How a command speaks and ends: one clear message and its exit code, whatever stops it."""

from __future__ import annotations

import functools
import os
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, ParamSpec, TypeVar

import typer
from rich.console import Console
from rich.text import Text

from router.building.collector import collector_paused
from router.deliver.files import OutputError
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.check import Finding, Verdict

UNSERVED = BROKEN = 1
BAD_INPUT = 2
REFUSED = 3
OUR_FAULT = 4
INTERRUPTED = 130

_WIDTH = 110
"""Columns where the output is not a terminal."""

P = ParamSpec("P")
R = TypeVar("R")


def console(*, error: bool = False) -> Console:
    """Return where to print: standard output, or standard error."""
    out = Console(stderr=error, highlight=False, markup=False, emoji=False)
    if not out.is_terminal and "COLUMNS" not in os.environ:
        out.width = _WIDTH
    return out


def say(text: str, style: str = "") -> None:
    """Print a message on standard error, never wrapped, so that it can be searched."""
    console(error=True).print(Text(text, style=style), soft_wrap=True)


def stop_with(text: str, code: int) -> NoReturn:
    """Print a message and end the command with an exit code."""
    say(text, "bold red")
    raise typer.Exit(code)


def guarded(task: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """End a command with one clear message and its exit code, whatever stops it."""

    def wrap(command: Callable[P, R]) -> Callable[P, R]:
        @functools.wraps(command)
        def inner(*args: P.args, **kwargs: P.kwargs) -> R:
            try:
                with collector_paused():
                    return command(*args, **kwargs)
            except (typer.Exit, typer.Abort, BrokenPipeError):
                raise
            except KeyboardInterrupt:
                stop_with("interrupted; nothing was written", INTERRUPTED)
            except (ScenarioError, OutputError) as error:
                stop_with(str(error), BAD_INPUT)
            except OSError as error:
                stop_with(f"{error.filename or task}: {error.strerror or error}", BAD_INPUT)
            except ValueError as error:
                stop_with(f"cannot {task}: {' '.join(str(error).split())}", BAD_INPUT)
            except Exception as error:
                at = traceback.extract_tb(error.__traceback__)[-1]
                stop_with(
                    f"cannot {task}: a fault of this program, not of your input: "
                    f"{type(error).__name__}: {error} ({Path(at.filename).name} line {at.lineno})",
                    OUR_FAULT,
                )

        return inner

    return wrap


def unhung(verdict: Verdict) -> list[Finding]:
    """Give the findings that a hanger has no place: the route stands, and someone must see to it on site."""
    return [finding for finding in verdict.by_rule("hangers") if finding.severity == "breaks"]


def broken_rules(verdict: Verdict) -> bool:
    """Whether our own route breaks a rule that it must not break."""
    return len(verdict.breaks) > len(unhung(verdict))
