"""What helps where nothing was recognised: the words that the models themselves use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.readers.report import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from router.readers.ifc.found import FileFound, FoundPipe
    from router.readers.ifc.mapping import Mapping

MOST_NAMED = 6


def quoted(names: Iterable[str]) -> str:
    """Spell the different names, the first few of them.

    Returns
    -------
    str
        Empty without names.
    """
    found = list(dict.fromkeys(name for name in names if name))
    more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    return ", ".join(f'"{name}"' for name in found[:MOST_NAMED]) + more


def hints(files: Sequence[FileFound], others: Sequence[FoundPipe]) -> dict[str, str]:
    """Say what was seen in place of heads and of sprinkler pipes, and where to name it.

    Parameters
    ----------
    files
        What was found in each.
    others
        Pipes that are no sprinkler pipes.

    Returns
    -------
    dict
        By ``heads`` and ``pipes``.
    """
    result = {}
    types = quoted(
        [name for each in files for name in each.terminals]
        + [name for each in files for name in each.unclassified]
    )
    if types:
        result["heads"] = f"types seen: {types}; head_words of the mapping says which are heads"
    else:
        result["heads"] = "no terminals and no unclassified elements were seen either"
    if not others:
        result["pipes"] = "no pipes of other systems were seen either"
        return result
    systems = quoted(pipe.systems for pipe in others)
    bare = sum(1 for pipe in others if not pipe.systems)
    seen = f"in systems {systems}" if systems else ""
    if bare:
        seen += (" and " if seen else "") + counted(bare, "pipe[s] in no system that [leads|lead] to no head")
    result["pipes"] = f"seen: pipes {seen}" if systems else f"seen: {seen}"
    result["pipes"] += "; system_words of the mapping says which are sprinkler pipes"
    return result


def unknown_storeys(files: Sequence[FileFound], mapping: Mapping) -> list[str]:
    """Say which storeys of the mapping no model has.

    Returns
    -------
    list of str
        A sentence, or none.
    """
    known = list(dict.fromkeys(name for each in files for name in each.storeys))
    unknown = [name for name in mapping.storeys if name not in known]
    if not unknown:
        return []
    # all of them: a person looks here for the right name
    names = ", ".join(f'"{name}"' for name in known) or "none"
    return [f"storeys of the mapping that are unknown: {quoted(unknown)}; known: {names}"]
