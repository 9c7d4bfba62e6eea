"""How a run of a size is joined, where a system gives its joining by size range."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.trade.given import JoiningRange


def joining_for(joining: str | Sequence[JoiningRange], dn: int) -> str:
    """Return how a run is joined whose largest size is ``dn``.

    Parameters
    ----------
    joining : str or sequence
        One method for all sizes, or ranges by ``up_to``, smallest first. A size
        above the last range takes the last range's method (the reader asks that
        the last one leaves ``up_to`` out, so no scenario gets there).
    dn : int
        The run's size at its supply end, as DN.

    Returns
    -------
    str
        ``threaded``, ``welded``, ``grooved`` or ``butt_weld``.

    Raises
    ------
    ValueError
        If there is no range at all.
    """
    if isinstance(joining, str):
        return joining
    if not joining:
        raise ValueError("joining by size has no range; at least one expected")
    for each in joining:
        if each.up_to is None or dn <= each.up_to:
            return each.joining
    return joining[-1].joining
