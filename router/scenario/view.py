"""A scenario together with where its items stand in the file, for the cross checks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from shapely.geometry import LineString

from router.scenario.errors import Fault, Path, place_text

if TYPE_CHECKING:
    from router.scenario.model import Run, Scenario

ITEM = {
    "runs": "run",
    "heads": "head",
    "obstructions": "obstruction",
    "ceilings": "ceiling",
    "keep_out": "keep-out zone",
}
"""The lists of a scenario and what one entry is called in a message."""


@dataclass(frozen=True)
class View:
    """What a cross check sees.

    Parameters
    ----------
    scenario
        In mm.
    index
        For each list, the position in the file of each entry that is left
        (entries with a fault of their own are not in ``scenario``).
    dropped
        Ids of such entries by list, so that naming them is no second fault.
    unit
        The file's own unit, to be asked about; all values are in mm.
    line
        Gives the line of a path.
    """

    scenario: Scenario
    index: dict[str, list[int]] = field(default_factory=dict)
    dropped: dict[str, set[str]] = field(default_factory=dict)
    unit: str = "mm"
    line: Callable[[Path], int | None] = lambda path: None

    def fault(self, path: Path, item: str, value: str, unit: str, message: str) -> Fault:
        """Make a fault at a path whose list position is the scenario's.

        Returns
        -------
        Fault
        """
        if len(path) > 1 and isinstance(path[1], int):
            listed = self.index.get(str(path[0]))
            if listed is not None:
                path = (path[0], listed[path[1]], *path[2:])
        return Fault(place_text(path), item, value, unit, message, self.line(path))

    @cached_property
    def runs(self) -> dict[str, Run]:
        """Runs by id (the first, where an id stands twice)."""
        result: dict[str, Run] = {}
        for run in self.scenario.runs:
            result.setdefault(run.id, run)
        return result

    @cached_property
    def lines(self) -> dict[str, LineString]:
        """Plan lines of the runs that have at least two points."""
        return {key: LineString(run.plan) for key, run in self.runs.items() if len(run.plan) > 1}

    def knows_run(self, run_id: str) -> bool:
        """Tell whether the file has such a run, faulty or not.

        Returns
        -------
        bool
        """
        return run_id in self.runs or run_id in self.dropped.get("runs", set())

    def knows_head(self, head_id: str) -> bool:
        """Tell whether the file has such a head, faulty or not.

        Returns
        -------
        bool
        """
        dropped = self.dropped.get("heads", set())
        return head_id in dropped or any(head.id == head_id for head in self.scenario.heads)


Check = Callable[[View], Iterator[Fault]]
"""A cross check: goes through a view and yields what is wrong."""


def some(names: list[str], limit: int = 8) -> str:
    """List a few names for a message.

    Returns
    -------
    str
    """
    shown = ", ".join(names[:limit])
    return shown + (f" and {len(names) - limit} more" if len(names) > limit else "")
