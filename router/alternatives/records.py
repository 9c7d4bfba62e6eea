"""What is found, as typed records; amounts in the units of a route's terms (pipe in m)."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from router.route.model import CAUTION, Record

FORMAT: Final = "branch-drop-router/alternatives"


class Point(Record):
    """One alternative.

    ``first``, ``second``: amounts of the two terms. ``proven``: no route over the
    candidates that serves as many heads has less of one term and not more of the
    other; of a sweep, none costs less at those weights. ``value``: points at the
    scenario's own weights; ``route``: the file that it is written to, if any.
    """

    first: float
    second: float
    served: int
    amounts: dict[str, float]
    """Of all terms of the objective."""
    value: float
    proven: bool
    chosen_by_own_weights: bool = False
    route: str | None = None


class Weighed(Record):
    """One combination of weights of a sweep; ``point``: index of what it chooses."""

    weights: dict[str, float]
    point: int
    proven: bool


class Alternatives(Record):
    """The whole of ``alternatives.json``."""

    format: Literal["branch-drop-router/alternatives"] = FORMAT
    version: Literal[1] = 1
    caution: str = CAUTION
    scenario: str
    scenario_sha256: str
    kind: Literal["front", "sweep"]
    first: str
    second: str
    units: list[str]
    """Of the two terms; empty for a plain count."""
    claim: str
    proven: bool
    heads: int
    points: list[Point]
    """Of a front, by ascending second term; of a sweep, in the order in which they are first chosen."""
    own: Point
    """What the scenario's own weights choose; it need not be on the front, since all terms count in it."""
    sweep: list[Weighed] = Field(default_factory=list)
    together: list[list[str]] = Field(default_factory=list)
    """Runs whose trees had to be decided together, since they would clash."""
