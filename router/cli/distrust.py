"""What a command does when it has shown itself to be wrong: nothing is handed out, a bundle is written."""

from __future__ import annotations

import traceback
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import typer

from router.building.stop import NothingDecidedError
from router.check import Verdict
from router.deliver.ending import OUR_FAULT, REFUSED, say, stop_with
from router.deliver.files import OutputError
from router.deliver.reproducer import write_bundle
from router.model.doubt import DoubtError
from router.route.model import Route
from router.scenario.model import Scenario

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

PLEASE = "this is a fault of this program, not of your input: please report it with"


class Distrust:
    """All that a bundle holds, and where it goes."""

    def __init__(
        self, scenario: Scenario, output: Path, given: Sequence[Path], older: Route | None = None
    ) -> None:
        self.scenario, self.output, self.given, self.older = scenario, output, given, older

    def refuse(self, routes: dict[str, tuple[Route, Verdict]]) -> NoReturn:
        """Say why our own routes are not handed out: the referee and the search disagree."""
        texts = []
        for name, (_, verdict) in routes.items():
            which = "the route" if len(routes) == 1 and name == "route" else f"the route {name}"
            say(f"the referee found rules broken in {which}; nothing was written:", "bold red")
            for finding in verdict.breaks:
                say(f"  {finding.rule}: {finding.text}")
                texts.append(f"{finding.rule}: {finding.text}")
        what = "The referee refuses what the search found:\n" + "\n".join(texts)
        self.end(what, REFUSED, routes)

    def end(
        self,
        what: str,
        code: int,
        refused: dict[str, tuple[Route, Verdict]] | None = None,
        trace: str = "",
    ) -> NoReturn:
        """Write the bundle, name it and end the command."""
        try:
            place = write_bundle(
                self.output, what, self.scenario, self.given, dict(refused or {}), self.older, trace
            )
        except (OutputError, OSError) as error:
            stop_with(f"{PLEASE} the scenario (a bundle could not be written: {error})", code)
        stop_with(f"{PLEASE} this bundle: {place}", code)

    @contextmanager
    def watching(self, task: str) -> Iterator[None]:
        """Turn doubts and failures in the work into bundles."""
        try:
            yield
        except DoubtError as error:
            say(f"cannot {task}: two ways to the same answer disagree; nothing was written:", "bold red")
            say(f"  {error}")
            self.end(f"Two ways to the same answer disagree: {error}", REFUSED)
        except (typer.Exit, typer.Abort, NothingDecidedError, ValueError, OSError, MemoryError):
            raise  # told elsewhere: these are no faults of ours
        except Exception as error:
            at = traceback.extract_tb(error.__traceback__)[-1]
            text = f"{type(error).__name__}: {error} ({Path(at.filename).name} line {at.lineno})"
            say(f"cannot {task}: {text}; nothing was written", "bold red")
            self.end(f"The program failed: {text}", OUR_FAULT, trace=traceback.format_exc())
