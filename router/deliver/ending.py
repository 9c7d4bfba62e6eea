"""How a command speaks and ends: one clear message and its exit code, whatever stops it."""

from __future__ import annotations

import errno
import functools
import gc
import os
import re
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, ParamSpec, TypeVar

import typer
from rich.console import Console
from rich.segment import Segment
from rich.text import Text

from router.building.collector import collector_paused
from router.deliver.files import OutputError, written
from router.deliver.patient import patient_streams
from router.model.doubt import DoubtError
from router.scenario import ScenarioError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from rich.console import ConsoleOptions, RenderableType

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


_STEERING = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
_SEEN = {code: chr(0x2400 + code) for code in range(0x20)} | {0x7F: "\u2421"}
"""What stands for a control character: its picture, one column wide."""


class PlainConsole(Console):
    """Prints what a file says as text: no name of its steers the terminal or turns the reading direction."""

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """Render, with pictures for control characters; what rich itself uses to steer passes."""
        for segment in super().render(renderable, options):
            if segment.control or not _STEERING.search(segment.text):
                yield segment
            else:
                text = _STEERING.sub(lambda found: _SEEN.get(ord(found[0]), "\ufffd"), segment.text)
                yield Segment(text, segment.style)


def console(*, error: bool = False) -> Console:
    """Return where to print: standard output, or standard error."""
    out = PlainConsole(stderr=error, highlight=False, markup=False, emoji=False)
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
            written.clear()
            try:
                with patient_streams(), collector_paused():
                    return command(*args, **kwargs)
            except (typer.Exit, typer.Abort):
                raise
            except BaseException as error:
                with patient_streams():
                    _end(task, error)

        return inner

    return wrap


def _end(task: str, error: BaseException) -> NoReturn:
    """Say what stopped a command."""
    if isinstance(error, KeyboardInterrupt):
        stop_with(f"interrupted{_so_far()}", INTERRUPTED)
    if not isinstance(error, Exception):
        raise error
    if isinstance(error, ScenarioError | OutputError):
        stop_with(f"{error}{_so_far(silent=True)}", BAD_INPUT)
    if short_of_memory(error):
        # what the work held is let go: to say so takes memory too
        error.__traceback__ = error.__context__ = error.__cause__ = None
        gc.collect()
        text = f"cannot {task}: out of memory{_so_far()}"
        try:
            say(text, "bold red")
        except MemoryError:
            os.write(2, f"{text}\n".encode())
        raise typer.Exit(BAD_INPUT)
    if isinstance(error, OSError):
        stop_with(f"{error.filename or task}: {error.strerror or error}{_so_far(silent=True)}", BAD_INPUT)
    if isinstance(error, ValueError):
        stop_with(f"cannot {task}: {' '.join(str(error).split())}", BAD_INPUT)
    if isinstance(error, DoubtError):
        say(f"cannot {task}: two ways to the same answer disagree: {error}", "bold red")
        stop_with(
            "this is a fault of this program, not of your input: please report it with the scenario", REFUSED
        )
    at = traceback.extract_tb(error.__traceback__)[-1]
    stop_with(
        f"cannot {task}: a fault of this program, not of your input: "
        f"{type(error).__name__}: {error} ({Path(at.filename).name} line {at.lineno})",
        OUR_FAULT,
    )


def short_of_memory(error: BaseException) -> bool:
    """Whether the machine, or what this process may take of it, is what fails.

    Returns
    -------
    bool
        Also for libraries and threads that find no room, which have no error of their own.
    """
    if isinstance(error, MemoryError):
        return True
    text = str(error).lower()
    if isinstance(error, OSError):
        return error.errno == errno.ENOMEM
    return isinstance(error, ImportError | RuntimeError | SystemError) and any(
        sign in text for sign in ("bad_alloc", "cannot allocate memory", "failed to map", "start new thread")
    )


def _so_far(*, silent: bool = False) -> str:
    """Say what was written before the command was stopped; ``silent``: not that nothing was."""
    if written:
        return f"; written before that: {', '.join(map(str, written))}"
    return "" if silent else "; nothing was written"


def unhung(verdict: Verdict) -> list[Finding]:
    """Give the findings that a hanger has no place: the route stands, and someone must see to it on site."""
    return [finding for finding in verdict.by_rule("hangers") if finding.severity == "breaks"]


def broken_rules(verdict: Verdict) -> bool:
    """Whether our own route breaks a rule that it must not break."""
    return len(verdict.breaks) > len(unhung(verdict))
