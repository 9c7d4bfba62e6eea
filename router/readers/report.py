"""What an import did: counts and remarks, for a person to read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.readers.drawn import DrawnPipe


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
            f"{self.source}: {self.heads} heads, {self.runs} runs in {self.roots} trees{self._pipes()}, "
            f"{self.obstructions} obstructions"
        )
        left = [
            (self.arms_ignored, "as-built arms"),
            (self.left_out_pipes, "pipes (risers between runs among them)"),
            (self.left_out_obstructions, "obstructions"),
        ]
        if any(count for count, _ in left):
            first += "; left out: " + ", ".join(f"{count} {what}" for count, what in left if count)
        return "\n".join([first, *(f"  {note}" for note in self.notes)])

    def _pipes(self) -> str:
        return f" (from {self.pipes} pipes, {self.joints} joints)" if self.pipes else ""
