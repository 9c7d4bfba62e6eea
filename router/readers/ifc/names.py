"""Ids for what a model holds: short, unique, the same every time."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.readers.ifc.found import Thing

LONGEST = 32


class Names:
    """Ids in use; ``prefixes``: what to call things without a name or tag."""

    def __init__(self, taken: set[str] | None = None) -> None:
        self.taken = set(taken or ())
        self._last: dict[str, int] = {}

    def of(self, things: Sequence[Thing], prefixes: Sequence[str]) -> list[str]:
        """Give each thing an id: its name if no other has it and it is short, else its tag, else a number.

        Parameters
        ----------
        things
            In the order of the files.
        prefixes
            For each, what it is called where it has neither name nor tag.

        Returns
        -------
        list of str
        """
        names = Counter(thing.name for thing in things)
        tags = Counter(thing.tag for thing in things)
        result = []
        for thing, prefix in zip(things, prefixes, strict=True):
            if thing.name and names[thing.name] == 1 and len(thing.name) <= LONGEST:
                wanted = thing.name
            elif thing.tag and tags[thing.tag] == 1 and len(thing.tag) <= LONGEST:
                wanted = thing.tag if prefix in ("head", "pipe") else f"{prefix} {thing.tag}"
            else:
                wanted = thing.name[:LONGEST].strip() or prefix
            result.append(self.free(wanted))
        return result

    def free(self, wanted: str) -> str:
        """Give an id that is not in use: the one wanted, or with a number behind it."""
        # counted on from the last one: a model may call all its beams alike
        name, number = wanted, self._last.get(wanted, 1)
        while name in self.taken:
            number += 1
            name = f"{wanted}-{number}"
        self._last[wanted] = number
        self.taken.add(name)
        return name
