"""Words for kinds of heads and obstructions: case, plural and usual synonyms."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from router.readers.csv_tables import KINDS
from router.readers.spelled.numbers import tidy

if TYPE_CHECKING:
    from router.scenario.model import HeadKind

HEAD_WORDS: Final[dict[str, HeadKind]] = {
    **KINDS,
    **dict.fromkeys(("pendant", "hanging", "ssp", "dry pendent", "concealed pendent"), "pendent"),
    **dict.fromkeys(("up", "ssu"), "upright"),
    **dict.fromkeys(("side wall", "horizontal sidewall", "hsw", "wall"), "sidewall"),
}
"""SSP and SSU are the usual marks of standard spray pendent and upright heads (from memory)."""

SOLIDS: Final = (
    *("beam", "column", "slab", "wall", "joist", "purlin", "truss", "girder", "deck", "roof", "floor"),
    *("duct", "tray", "pipe", "light", "luminaire", "equipment", "terminal", "obstruction"),
)
"""Kinds of obstruction that something here asks for: hangers, pictures, models, explanations."""

_SAME: Final = {
    "beam": ("steel beam", "concrete beam", "i beam"),
    "joist": ("bar joist", "steel joist"),
    "truss": ("roof truss",),
    "duct": (
        *("ductwork", "air duct", "ventilation duct", "hvac duct", "supply duct", "return duct"),
        *("exhaust duct", "extract duct", "supply air duct", "return air duct", "exhaust air duct"),
    ),
    "tray": ("cable tray", "cable ladder", "cable carrier", "cabletray"),
    "pipe": ("pipework", "piping"),
    "light": ("light fixture", "lighting fixture", "light fitting"),
}
_KNOWN: Final = {
    **{kind: kind for kind in SOLIDS},
    **{word: kind for kind, words in _SAME.items() for word in words},
}
"""Every word that is known, in the singular, and the kind that it means. Common practice, no source."""


def word_key(text: str) -> str:
    """Give what of a word is compared: no case, ``-`` and ``_`` as blanks."""
    return " ".join(re.sub(r"[_-]", " ", tidy(text).casefold()).split())


def singular(key: str) -> str | None:
    """Give the known kind that a word, singular or plural, means; ``None`` if none."""
    for end in ("", "s", "es"):
        found = _KNOWN.get(key.removesuffix(end)) if key.endswith(end) else None
        if found is not None:
            return found
    return None


def solid_kind(text: str) -> str:
    """Give the kind of an obstruction as scenarios name it; an unknown word as written, in lower case.

    Returns
    -------
    str
        ``obstruction`` for an empty word.
    """
    return singular(word_key(text)) or " ".join(text.lower().split()) or "obstruction"


def head_kind(text: str) -> HeadKind | None:
    """Give the kind of a head that a word means, singular or plural; ``None`` if none."""
    key = word_key(text)
    return HEAD_WORDS.get(key) or HEAD_WORDS.get(key.removesuffix("s"))
