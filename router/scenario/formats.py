"""Which files are ours, in which version, and what is said of a version that is not read.

Every JSON (or YAML) file of ours has ``format`` and ``version``. A file that a person
writes may leave both out: then it is taken for one of the version that is read. A version is
raised when a file of the earlier one would be misread or refused; the schemas are held
in ``tests/schemas`` so that this does not happen unnoticed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import router
from router.scenario.errors import Fault, value_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.scenario.errors import Path

OURS: Final = "branch-drop-router/"


@dataclass(frozen=True)
class Format:
    """One kind of file.

    Parameters
    ----------
    kind
        What stands in ``format`` behind ``branch-drop-router/``.
    version
        The one that is written; all from ``oldest`` on are read.
    noun
        What such a file is called in messages.
    again
        What a person can do whose file is of a version that is not read.
    """

    kind: str
    version: int
    noun: str
    again: str
    oldest: int = 1

    @property
    def name(self) -> str:
        """What stands in the file's ``format``."""
        return OURS + self.kind

    def reads(self, version: int) -> bool:
        """Whether files of a version are read."""
        return self.oldest <= version <= self.version

    def refusal(self, version: int) -> str:
        """Say why a version is not read, which are, and what to do.

        Returns
        -------
        str
            Empty if it is read.
        """
        if self.reads(version):
            return ""
        here = f"branch-router {router.__version__}"
        known = f"version {self.oldest}" + (f" to {self.version}" if self.version > self.oldest else "")
        if version > self.version:
            return f"a newer branch-router wrote this {self.noun}; {here} reads {known}: {self.again}"
        if version < 1:
            return f"there is no such version; {here} reads {known} of a {self.noun}"
        return f"too old a {self.noun}; {here} reads {known}: {self.again}"


SCENARIO: Final = Format(
    "scenario", 1, "scenario file", "use the one that wrote it, or write the scenario in that version"
)
_AGAIN = "use the one that wrote it, or route again: branch-router route SCENARIO -o ROUTE"
ROUTE: Final = Format("route", 1, "route file", _AGAIN)
_MAPPING = "use the one that it was written for, or write the file in that version"
MODEL_MAPPING: Final = Format("model-mapping", 1, "mapping of models", _MAPPING)
DRAWING_MAPPING: Final = Format("drawing-mapping", 1, "mapping of drawings", _MAPPING)
COLUMNS: Final = Format("columns", 1, "file of columns", _MAPPING)


def format_faults(data: Any, what: Format, line: Callable[[Path], int | None]) -> list[Fault]:
    """Find what is wrong with a file's ``format`` and ``version``; a file with such a fault is not read on.

    Parameters
    ----------
    data
        The file as plain data.
    what
        The kind of file that is expected.
    line
        Gives the line of a path.

    Returns
    -------
    list of Fault
        At most one: of another kind, or of a version that is not read.
    """
    if not isinstance(data, dict):
        return []
    kind = data.get("format", what.name)
    if kind != what.name:
        message = f'not a {what.noun}; "{what.name}" expected'
        return [Fault("format", "", value_text(kind), "", message, line(("format",)))]
    version = data.get("version", what.version)
    if isinstance(version, bool) or not isinstance(version, int):
        message = f"a whole number expected; version {what.version} of a {what.noun} is read"
        return [Fault("version", "", value_text(version), "", message, line(("version",)))]
    refused = what.refusal(version)
    return [Fault("version", "", str(version), "", refused, line(("version",)))] if refused else []
