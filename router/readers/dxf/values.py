"""Values of an entity: what it carries, its attributes, its id; a wrong one is a fault with a name."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from router.readers.dxf.carrying import carried_by, readable
from router.trade.sizes import parse_size

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.readers.dxf.walk import Found, Reading

YES: Final = {"yes", "true", "1", "y", "dry"}
NO: Final = {"no", "false", "0", "n", "", "wet"}
LONGEST_ID: Final = 80


@dataclass
class Ids:
    """Ids that are given away. ``what``: the word for a thing, ``letter``: begins a number.

    ``wanted``: ids that things of the drawing have themselves; no number takes one of them.
    """

    what: str
    letter: str
    wanted: set[str] = field(default_factory=set)
    taken: set[str] = field(default_factory=set)
    counts: dict[str, int] = field(default_factory=dict)
    again: dict[str, int] = field(default_factory=dict)

    def give(self, reading: Reading, wanted: str | None, prefix: str | None = None) -> str:
        """Give the id that is wanted, with a number behind it if it is taken, or the next free number."""
        if wanted:
            if wanted not in self.taken:
                self.taken.add(wanted)
                return wanted
            # counted on from the last one: a drawing may call all its heads alike
            k = self.again.get(wanted, 1) + 1
            while f"{wanted}-{k}" in self.taken or f"{wanted}-{k}" in self.wanted:
                k += 1
            self.again[wanted] = k
            reading.notes.append(f"{self.what} {wanted} is drawn more than once: one is now {wanted}-{k}")
            self.taken.add(f"{wanted}-{k}")
            return f"{wanted}-{k}"
        letter = prefix or self.letter
        k = self.counts.get(letter, 0) + 1
        while f"{letter}{k}" in self.taken or f"{letter}{k}" in self.wanted:
            k += 1
        self.counts[letter] = k
        self.taken.add(f"{letter}{k}")
        return f"{letter}{k}"


def named(records: Iterable[dict[str, Any] | None]) -> set[str]:
    """Give the ids that records have."""
    return {str(record["id"]) for record in records if record is not None and "id" in record}


def beside(reading: Reading, found: Found) -> dict[str, Any] | None:
    """Give the record of ours that an entity carries; ``None`` if none, or if it is broken (a fault)."""
    try:
        record = carried_by(found.entity)
    except ValueError as error:
        reading.fault(found, f"what it carries of a scenario of ours cannot be read: {error}")
        return None
    except Exception as error:  # a damaged dictionary
        reading.fault(found, f"what it carries cannot be reached ({type(error).__name__})")
        return None
    if record is not None and not isinstance(record.get("id"), str):
        reading.fault(found, "what it carries of a scenario of ours has no id")
        return None
    reading.ours = reading.ours or record is not None
    return record


def attributes(found: Found) -> dict[str, str]:
    """Give the attributes of an insert by tag in capitals."""
    if found.kind != "INSERT":
        return {}
    texts = {}
    for each in found.entity.attribs:
        long = each.has_embedded_mtext_entity
        text = each.plain_mtext() if long else each.dxf.get("text", "")
        texts[str(each.dxf.get("tag", "")).strip().upper()] = readable(str(text)).strip()
    return texts


def told(reading: Reading, found: Found) -> dict[str, Any]:
    """Read the attributes that the mapping names, by field; empty ones are passed over."""
    texts = attributes(found)
    if not texts:
        return {}
    result: dict[str, Any] = {}
    for name, tag in reading.mapping.tags(found.entry).items():
        text = texts.get(tag.strip().upper(), "")
        if text:
            try:
                result[name] = _READ[name](text)
            except ValueError as error:
                reading.fault(found, f"attribute {tag}: {error}", f'"{text[:60]}"')
    return result


def _id(text: str) -> str:
    if len(text) > LONGEST_ID:
        raise ValueError(f"an id of at most {LONGEST_ID} letters expected")
    return text


def _number(text: str) -> float:
    match = re.search(r"[-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?", text)
    if match is None:
        raise ValueError("a number expected")
    value = float(match.group().replace(",", "."))
    if not math.isfinite(value):
        raise ValueError("a finite number expected")
    return value


def _kind(text: str) -> str:
    word = text.lower()
    for kind in ("pendent", "upright", "sidewall"):
        if word.startswith(kind):
            return kind
    if word.startswith("pendant"):
        return "pendent"
    raise ValueError("pendent, upright or sidewall expected")


def _dry(text: str) -> bool:
    if text.lower() in YES:
        return True
    if text.lower() in NO:
        return False
    raise ValueError("yes or no expected")


_READ: Final[dict[str, Any]] = {
    "id": _id,
    "kind": _kind,
    "thread": parse_size,
    "size": parse_size,
    "k_factor": _number,
    "facing": _number,
    "elevation": _number,
    "dry": _dry,
    "run": _id,
}
