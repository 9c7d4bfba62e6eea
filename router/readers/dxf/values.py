"""Values of an entity: what it carries, its attributes, its id; a wrong one is a fault with a name."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

from router.readers.csv_tables import FARTHEST_MM
from router.readers.dxf.carrying import carried_by, readable
from router.readers.spelled.brackets import in_brackets
from router.readers.spelled.k_factors import US, k_unit
from router.readers.spelled.kinds import HEAD_WORDS, head_kind
from router.readers.spelled.lengths import (
    ANGLE_WORDS,
    K_WORDS,
    TO_MM,
    bare,
    length,
    number,
    spelled,
    unit_word,
)
from router.readers.spelled.numbers import MARKS, Mark, Marks, Unclear
from router.readers.spelled.sizes import size

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from router.readers.dxf.walk import Found, Reading

YES: Final = {"yes", "true", "1", "y", "dry"}
NO: Final = {"no", "false", "0", "n", "", "wet"}
LONGEST_ID: Final = 80
KIND_BEGINS: Final = ("pendent", "upright", "sidewall", "pendant")
LIKE_METRES: Final = 100.0
"""A bare elevation with a decimal mark below this in mm (or cm) may be a level in metres. Common practice,
no source."""


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
    except MemoryError:
        raise
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


def told(reading: Reading, found: Found, marks: Marks, ours: bool = False) -> dict[str, Any]:
    """Read the attributes that the mapping names, by field; empty ones are passed over.

    Parameters
    ----------
    marks
        What points and commas mean in this drawing, from :func:`marks_of`.
    ours
        It is a head of ours: its K-factor is in the unit of scenarios.

    Returns
    -------
    dict
        Elevations in mm, angles in degrees, K-factors in gpm/psi^0.5.
    """
    result: dict[str, Any] = {}
    for name, tag, said, text in _named(reading, found):
        unit = said
        try:
            if name == "elevation":
                unit = said or reading.unit
                result[name] = _elevation(reading, text, said, marks)
            elif name == "facing":
                unit = "deg"
                result[name] = number(text, marks, ANGLE_WORDS)
            elif name == "k_factor":
                k_said = US if ours else k_unit(said) if said else None
                result[name] = reading.k_factors.us(number(text, marks, K_WORDS), k_said)
            elif name in ("thread", "size"):
                result[name] = size(text)
            else:
                result[name] = _READ[name](text)
        except ValueError as error:
            reading.fault(found, f"attribute {tag}: {error}", f'"{text[:60]}"', unit)
            if name == "elevation":  # it is said, though wrongly: no fault of a head without one
                result[name] = 0.0
    return result


def marks_of(reading: Reading, found: Iterable[Found]) -> Marks:
    """Learn what points and commas mean from the attributes of all heads."""
    said: Mark | None = {"point": MARKS[0], "comma": MARKS[1], None: None}[reading.mapping.decimal]
    marks = Marks(said=said, file="the mapping")
    texts = []
    for each in found:
        for name, _, _, text in _named(reading, each):
            if name in ("elevation", "facing", "k_factor"):
                try:
                    texts.append(spelled(bare(text, (*ANGLE_WORDS, *K_WORDS))).number)
                except Unclear:
                    continue
    marks.learn(text for text in texts if text)
    return marks


def _named(reading: Reading, found: Found) -> Iterator[tuple[str, str, str, str]]:
    """Yield field, tag, unit in brackets behind the tag in the mapping, and text."""
    texts = attributes(found)
    if not texts:
        return
    for name, wanted in reading.mapping.tags(found.entry).items():
        tag, unit = wanted, ""
        if tag.strip().upper() not in texts:
            tag, unit = in_brackets(wanted)
        text = texts.get(tag.strip().upper(), "")
        if text:
            yield name, tag, unit, text


def _elevation(reading: Reading, text: str, said: str, marks: Marks) -> float:
    """Read an elevation in mm: in the unit in it, or of its tag in the mapping, or of the drawing."""
    unit = unit_word(said) if said else reading.unit
    if unit is None:
        raise Unclear(f"the unit {said} is not known; mm, cm, m, in or ft expected")
    try:
        parts = spelled(text)
    except Unclear as error:
        message = f"a length in {unit} expected (or one with its unit) and nothing beside it"
        raise Unclear(str(error).replace("a length expected", message)) from error
    if parts.unit or unit in TO_MM:
        # 2.900 m is no climb of 2900 m because someone else wrote 2,900 elsewhere
        value = length(text, unit, replace(marks, leaning=Counter()) if parts.unit == "m" else marks)
        small = unit in ("mm", "cm") and not said and 0.0 < abs(value) < LIKE_METRES * TO_MM[unit]
        if small and not parts.unit and any(mark in parts.number for mark in MARKS):
            raise Unclear(f"{unit} or m? write the unit behind it, or behind the attribute in the mapping")
    else:  # units that only drawings have
        value = round(reading.factor * number(text, marks), 6)
    if abs(value) > FARTHEST_MM:
        raise Unclear(f"more than 10 km from the origin; is it in {parts.unit or unit}?")
    return value


def _id(text: str) -> str:
    if len(text) > LONGEST_ID:
        raise ValueError(f"an id of at most {LONGEST_ID} letters expected")
    return text


def _kind(text: str) -> str:
    found = head_kind(text)
    if found is None:  # a description that begins with the word
        word = next((word for word in KIND_BEGINS if text.lower().startswith(word)), None)
        found = HEAD_WORDS[word] if word else None
    if found is None:
        raise ValueError("pendent, upright or sidewall expected")
    return found


def _dry(text: str) -> bool:
    if text.lower() in YES:
        return True
    if text.lower() in NO:
        return False
    raise ValueError("yes or no expected")


_READ: Final[dict[str, Any]] = {
    "id": _id,
    "kind": _kind,
    "dry": _dry,
    "run": _id,
}
