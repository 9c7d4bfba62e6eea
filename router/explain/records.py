"""Reasons as typed records, as `branch-router explain` and the report tell them.

Lengths in mm, costs in points.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from router.route.model import Attempt, Record

Value = str | float | bool | list[str] | list[float] | list[list[float]] | None
"""A value of a scenario's field; ``None`` takes it away."""


class OtherWay(Record):
    """A style that the route did not choose for a head.

    ``costs_more``: points that the whole route would cost more with the style's best
    candidate, everything else chosen anew; ``None`` if no route has it. Of a route
    that is not proven the best (a drawing) everything else is chosen anew on both
    sides, so that the figure is what this head's style makes. ``exact``: found by
    solving; else the true figure is no less (a bound), or ``about`` it: of a route that
    is not proven, both sides by their bounds. ``where``: that
    candidate in words. ``stopped_by``: what stops the style where it cannot be had;
    ``here``: what stops it where the run keeps its level, if it needs another one.
    ``text``: one sentence.
    """

    style: str
    costs_more: float | None
    exact: bool
    about: bool = False
    where: str = ""
    stopped_by: Attempt | None = None
    here: str = ""
    text: str


class Relaxation(Record):
    """One change that would serve what is not served; verified by solving the changed scenario.

    ``change``: the scenario's field and its new value in mm, so that a person can make it
    (``heads[H12].shift``, ``rules.allow_cross``; see ``router.explain.changes``).
    ``amount``: by how many mm, where it is a length. ``serves``: heads that are served
    then and were not. ``costs``: points of that route less its unserved heads' cost.
    """

    text: str
    change: dict[str, Value]
    amount: float | None = None
    serves: list[str]
    costs: float


class HeadReasons(Record):
    """Why a head is served as it is, or is not served.

    ``chosen``: sentence on its takeoff. ``why``: what stops each simpler style, and
    what the next best would cost. ``others``: cheapest first, then what is
    stopped. ``conflict``: the smallest set of things and rules that cannot all
    hold (empty: served, or not looked for). ``relaxations``: cheapest first.
    """

    head: str
    served: bool
    style: str | None
    chosen: str
    why: str = ""
    others: list[OtherWay] = Field(default_factory=list)
    conflict: list[str] = Field(default_factory=list)
    relaxations: list[Relaxation] = Field(default_factory=list)


class Limit(Record):
    """One thing that a run's profile must respect, in words: ``beam B3 needs level <= 3,410 from 4,520 on``.

    ``stations``: where along the run it holds. ``level``: the limit, on the run's own datum.
    """

    kind: Literal["obstruction", "outlet", "tee", "band", "bend", "pin", "supply", "cost"]
    against: str | None
    stations: tuple[float, float] | None = None
    level: float | None = None
    text: str


class Binding(Record):
    """Why one part of a run's profile is where it is.

    ``part``: a stretch at one level, a level change, or how the run starts at its
    supply. ``item``: the level change's id. ``stations``: of the part.
    """

    part: Literal["stretch", "level_change", "start"]
    item: str | None = None
    stations: tuple[float, float]
    levels: tuple[float, float]
    limits: list[Limit]
    text: str


class RunReasons(Record):
    """Why a run goes as it goes. Unbuilt: ``conflict`` and ``relaxations`` as for a head."""

    run: str
    built: bool
    text: str
    bindings: list[Binding] = Field(default_factory=list)
    conflict: list[str] = Field(default_factory=list)
    relaxations: list[Relaxation] = Field(default_factory=list)


class Explained(Record):
    """The reasons for a whole route, heads and runs in the scenario's order."""

    heads: list[HeadReasons]
    runs: list[RunReasons]
