"""What several files hold under one GlobalId: one element, or two that were copied from one template."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from router.readers.ifc.found import FoundHead, FoundPipe, FoundSolid
from router.readers.ifc.heads import some
from router.readers.report import counted

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from router.readers.drawn import Xyz
    from router.readers.ifc.found import FileFound, Thing

SAME_MM = 1.0


def once(files: list[FileFound]) -> list[str]:
    """Take what two files hold under the same GlobalId once, but for what lies elsewhere in each.

    Parameters
    ----------
    files
        Changed in place: what is left out, and GlobalIds of what is taken twice.

    Returns
    -------
    list of str
        Notes.
    """
    seen = _first(files)
    twice: Counter[tuple[str, str]] = Counter()
    moved: dict[tuple[str, str], list[str]] = {}
    for each in files:
        renamed: dict[str, str] = {}
        for name in ("heads", "pipes", "solids"):
            kept = []
            for thing in getattr(each, name):
                first = seen[thing.guid]
                if first.file == each.file:
                    kept.append(thing)
                elif _same_place(first, thing):
                    twice[first.file, each.file] += 1
                else:
                    moved.setdefault((first.file, each.file), []).append(thing.label())
                    renamed[thing.guid] = f"{thing.guid} {each.file}"
                    kept.append(replace(thing, guid=renamed[thing.guid]))
            setattr(each, name, kept)
        things: list[FoundHead | FoundPipe | FoundSolid] = [*each.heads, *each.pipes, *each.solids]
        for thing in things:
            thing.linked = [renamed.get(guid, guid) for guid in thing.linked]
    notes = [
        counted(n, f"element[s] of {other} [is|are] in {one} too: taken once")
        for (one, other), n in twice.items()
    ]
    for (one, other), labels in moved.items():
        notes.append(
            counted(len(labels), f"element[s] of {other} [lies|lie] elsewhere in {one}: both are taken: ")
            + some(labels)
        )
    return notes


def sole(things: Iterable[Thing]) -> set[str]:
    """Give the GlobalIds that name one thing alone: which of two that share one is meant, nobody knows.

    Returns
    -------
    set of str
    """
    things = list(things)
    # what had the GlobalId of another is told apart by words behind it
    shared = Counter(thing.guid.split(" ")[0] for thing in things)
    return {thing.guid for thing in things if shared[thing.guid] == 1 and thing.guid.isprintable()}


def _first(files: list[FileFound]) -> dict[str, FoundHead | FoundPipe | FoundSolid]:
    """Give what counts of each GlobalId: the first that our own record stands beside, else the first."""
    seen: dict[str, FoundHead | FoundPipe | FoundSolid] = {}
    for each in files:
        things: list[FoundHead | FoundPipe | FoundSolid] = [*each.heads, *each.pipes, *each.solids]
        for thing in things:
            known = seen.setdefault(thing.guid, thing)
            if known.file != thing.file and _recorded(thing) and not _recorded(known):
                seen[thing.guid] = thing
    return seen


def _recorded(thing: FoundHead | FoundPipe | FoundSolid) -> bool:
    own = (thing.run, thing.piece) if isinstance(thing, FoundPipe) else (thing.ours,)
    return any(each is not None for each in own)


def _same_place(one: Thing, other: Thing) -> bool:
    first, second = _box(one), _box(other)
    return first.shape == second.shape and bool(np.abs(first - second).max(initial=0.0) <= SAME_MM)


def _box(thing: Thing) -> npt.NDArray[np.float64]:
    """Give the lowest and highest corner of what is known of an element."""
    places: list[Xyz] = []
    if isinstance(thing, FoundHead):
        places = [thing.at]
    elif isinstance(thing, FoundPipe) and thing.drawn is not None:
        places = list(thing.drawn)
    elif isinstance(thing, FoundPipe | FoundSolid):
        places = [(x, y, z) for plan, low, high in thing.parts for x, y in plan for z in (low, high)]
    points = np.array(places, dtype=float).reshape(-1, 3)
    return np.array([points.min(axis=0), points.max(axis=0)]) if len(points) else points
