"""Nominal sizes with the spellings of other scripts and a decimal comma."""

from __future__ import annotations

from router.readers.spelled.numbers import tidy
from router.trade.sizes import parse_size


def plain_size(text: str) -> str | int:
    """Give a size as :func:`router.trade.sizes.parse_size` takes it."""
    text = tidy(text)
    return int(text) if text.isascii() and text.isdigit() else text.replace(",", ".")


def size(text: str) -> int:
    """Read a nominal size, the whole text.

    Returns
    -------
    int
        The DN.

    Raises
    ------
    ValueError
        Names the value and what is accepted.
    """
    return parse_size(plain_size(text))
