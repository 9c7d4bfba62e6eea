"""Which new thing is which old one: by the GlobalId of a model, else by id."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_NAMED = 6


def same_ids(
    old: Sequence[dict[str, Any]], new: Sequence[tuple[str, str | None]], what: str, notes: list[str]
) -> list[str]:
    """Give each new thing the id that it had, or one that no old thing has.

    Ids made of names that are not unique have numbers behind them, which shift where one
    thing is deleted; the GlobalId of an element (ISO 16739) stays.

    Parameters
    ----------
    old
        Records of a scenario file.
    new
        Id and GlobalId of each new thing; parts of one element share its GlobalId.
    what
        What they are, for the notes.
    notes
        Receives a sentence for things that cannot keep the ids that they come with.

    Returns
    -------
    list of str
        In the order of ``new``. An id that the new file itself uses twice stays so.
    """
    guid_of = {record["id"]: record.get("guid") for record in old}
    found = _by_guid(old, new)
    first = {guid_of[name]: name for name in reversed(found.values())}
    by_guid = set(found.values())
    for k, (name, guid) in enumerate(new):
        part = guid is not None and guid in first
        if k not in found and not part and name not in by_guid and not (guid and guid_of.get(name)):
            found[k] = name
    taken = {*guid_of, *found.values()}
    renamed = []
    for k, (name, guid) in enumerate(new):
        if k in found:
            continue
        if guid is not None and guid in first:
            found[k] = _free(f"{first[guid]}/", taken)  # one more part of a known element
        else:
            found[k] = _free(f"{name}-", taken)
            renamed.append(f"{name} is {found[k]}")
    if renamed:
        more = f" and {len(renamed) - MOST_NAMED} more" if len(renamed) > MOST_NAMED else ""
        told = ", ".join(renamed[:MOST_NAMED]) + more
        notes.append(f"{what} that are others than the known ones of their ids, named anew: {told}")
    return [found[k] for k in range(len(new))]


def _by_guid(old: Sequence[dict[str, Any]], new: Sequence[tuple[str, str | None]]) -> dict[int, str]:
    """Give the old ids of new things by their places: of several with one GlobalId, in their order."""
    waiting: dict[str, list[str]] = {}
    for record in old:
        if record.get("guid"):
            waiting.setdefault(record["guid"], []).append(record["id"])
    found: dict[int, str] = {}
    for exact in (True, False):
        for k, (name, guid) in enumerate(new):
            left = waiting.get(guid or "", [])
            if k not in found and left and (name in left or not exact):
                found[k] = name if exact else left[0]
                left.remove(found[k])
    return dict(sorted(found.items()))


def _free(stem: str, taken: set[str]) -> str:
    number = 2
    while f"{stem}{number}" in taken:
        number += 1
    taken.add(f"{stem}{number}")
    return f"{stem}{number}"
