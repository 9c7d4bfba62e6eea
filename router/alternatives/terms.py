"""The terms of the objective that can be set against each other."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class TradeTerm:
    """A term that a front can be about.

    Parameters
    ----------
    name
        What the user writes, in the plural.
    term
        Its name among the objective's terms.
    unit
        Of its amount as a reader sees it; empty for a plain count.
    rank
        Which of two terms is limited while the other is made least: the smaller
        one. ``None``: it cannot be limited, as it is no count.
    """

    name: str
    term: str
    unit: str = ""
    rank: int | None = None

    @property
    def counts(self) -> bool:
        """Whether its amounts are whole."""
        return self.term != "pipe"


# terms with few units each come first: a limit is tried for every amount of them
TERMS = (
    TradeTerm("fittings", "fitting", rank=7),
    TradeTerm("level_changes", "level_change", rank=0),
    TradeTerm("drains", "drain", rank=1),
    TradeTerm("wet_drains", "wet_drain", rank=2),
    TradeTerm("hoses", "hose", rank=4),
    TradeTerm("reducers", "reducer", rank=6),
    TradeTerm("arm_hangers", "hanger", rank=5),
    TradeTerm("pipe", "pipe", "m"),
    TradeTerm("styles", "style", rank=3),
)
BY_NAME = {t.name: t for t in TERMS}
DEFAULT = "fittings,level_changes"


def two_terms(text: str) -> tuple[TradeTerm, TradeTerm]:
    """Read the two terms of a front, as ``fittings,level_changes``.

    Raises
    ------
    ValueError
        Names what is wrong and what would be accepted.
    """
    names = [name.strip().replace("-", "_") for name in text.split(",")]
    known = ", ".join(BY_NAME)
    for name in names:
        if name not in BY_NAME:
            raise ValueError(f"--of {text}: {name!r} is no term to trade; known are {known}")
    if len(names) != 2:
        one = "1 is given" if len(names) == 1 else f"{len(names)} are given"
        raise ValueError(f"--of {text}: two terms are needed, {one}; known are {known}")
    if names[0] == names[1]:
        raise ValueError(f"--of {text}: {names[0]!r} is given twice: two different terms are needed")
    return BY_NAME[names[0]], BY_NAME[names[1]]


def limited(first: TradeTerm, second: TradeTerm) -> tuple[TradeTerm, TradeTerm]:
    """Give the term that is limited, and the one that is made least under each limit."""
    a, b = sorted((first, second), key=lambda t: 99 if t.rank is None else t.rank)
    return a, b
