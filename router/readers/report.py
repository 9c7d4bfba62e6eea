"""What an import did: counts and remarks, for a person to read."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.readers.drawn import DrawnPipe


_EITHER = re.compile(r"\[([^\[\]|]*)(?:\|([^\[\]]*))?\]")


def counted(count: int, text: str) -> str:
    """Spell a number of things.

    Parameters
    ----------
    count
        How many.
    text
        ``pipe[s]`` has the letters in brackets for several only, ``[is|are]`` the first word for one.

    Returns
    -------
    str
    """
    if count == 1:
        said = _EITHER.sub(lambda each: "" if each[2] is None else each[1], text)
    else:
        said = _EITHER.sub(lambda each: each[1] if each[2] is None else each[2], text)
    return f"{count} {said}"


@dataclass
class ImportReport:
    """Counts of an import, and one sentence for everything that was decided or left out.

    ``joints``: places where pipes were joined; ``left_out_*``: what the
    scenario does not hold. ``drawing``: pipes of the person's route.
    """

    source: str = ""
    heads: int = 0
    runs: int = 0
    roots: int = 0
    obstructions: int = 0
    pipes: int = 0
    joints: int = 0
    arms_ignored: int = 0
    left_out_pipes: int = 0
    left_out_obstructions: int = 0
    notes: list[str] = field(default_factory=list)
    drawing: list[DrawnPipe] = field(default_factory=list)

    def text(self) -> str:
        """Spell the report.

        Returns
        -------
        str
            A line of counts, then the notes.
        """
        first = (
            f"{self.source}: {counted(self.heads, 'head[s]')}, {counted(self.runs, 'run[s]')} in "
            f"{counted(self.roots, 'tree[s]')}{self._pipes()}, {counted(self.obstructions, 'obstruction[s]')}"
        )
        left = [
            (self.arms_ignored, "pipe[s] of as-built arms"),
            (self.left_out_pipes, "pipe[s] (risers between runs among them)"),
            (self.left_out_obstructions, "obstruction[s]"),
        ]
        if any(count for count, _ in left):
            first += "; left out: " + ", ".join(counted(count, what) for count, what in left if count)
        return "\n".join([first, *(f"  {note}" for note in self.notes)])

    def _pipes(self) -> str:
        if not self.pipes:
            return ""
        return f" (from {counted(self.pipes, 'pipe[s]')}, {counted(self.joints, 'joint[s]')})"
