"""The comparison as typed records; lengths in mm unless the name says otherwise."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from router.route.model import CAUTION, Record, Term

FORMAT: Final = "branch-drop-router/comparison"

Judgement = Literal["same", "better", "worse", "equal", "neither"]
"""Of a head, against the first route. ``equal``: made otherwise at the same cost; ``neither``: both
break a rule there, or one breaks a rule and the other leaves the head unserved."""


class RouteFigures(Record):
    """One route as the referee sees it: nothing here is taken from what the route says of itself."""

    name: str
    clean: bool
    breaks: dict[str, int]
    """Findings that break a rule, by rule id."""
    near: int
    notes: int
    heads: int
    served: int
    unserved: list[str]
    fittings: dict[str, int]
    """By kind, without reducers."""
    fittings_counted: int
    fittings_per_head: float
    """Fittings of the heads' takeoffs over served heads."""
    reducers: int
    level_changes: int
    drains: int
    arm_hangers: int
    hoses: int
    styles: dict[str, int]
    """Takeoffs of heads by style."""
    pipe_m: dict[str, float]
    """Metres centre to centre by DN (as text); hoses and barrels are no pipe."""
    pipe_total_m: float
    steel_kg: float
    """Of that pipe; fittings are not weighed."""
    water_l: float
    """In that pipe's bore."""
    terms: list[Term]
    """Of the objective, all routes with the same weights."""
    value: float
    """Points."""


class HeadInRoute(Record):
    """How one route serves a head. ``breaks``: what breaks a rule on its takeoff.

    ``fittings``: of its whole takeoff without reducers; ``shared_with``: other heads
    on it. ``pipe_m``: from the run to the head, centre to centre, hose and barrel included.
    """

    served: bool
    style: str | None = None
    run: str | None = None
    station: float | None = None
    level: float | None = None
    side: str | None = None
    fittings: int = 0
    reducers: int = 0
    hangers: int = 0
    pipe_m: float = 0.0
    shared_with: list[str] = Field(default_factory=list)
    breaks: list[str] = Field(default_factory=list)


class HeadDifference(Record):
    """What a route does otherwise for a head than the first one, and whether that is better."""

    route: str
    judgement: Judgement
    changes: list[str]
    why: str


class HeadRow(Record):
    """One head in every route (by route name), and each later route against the first."""

    id: str
    routes: dict[str, HeadInRoute]
    differences: list[HeadDifference]

    @property
    def changed(self) -> bool:
        """Whether some route does it otherwise than the first."""
        return any(d.judgement != "same" for d in self.differences)


class Pair(Record):
    """Two routes: which is better (``None``: neither is called so), and why in plain words."""

    first: str
    second: str
    better: str | None
    why: str


class Ranking(Record):
    """The route that is better than every other one, if there is one."""

    best: str | None
    why: str
    pairs: list[Pair]


class Comparison(Record):
    """The whole of a comparison; written as JSON."""

    format: Literal["branch-drop-router/comparison"] = FORMAT
    version: Literal[1] = 1
    caution: str = CAUTION
    scenario: str
    routes: list[RouteFigures]
    heads: list[HeadRow]
    ranking: Ranking
    sources: list[str]
    """Where weight and volume come from, each with its grade."""

    @property
    def exit_code(self) -> int:
        """0 if every route is clean, 1 if one breaks a rule."""
        return int(any(not route.clean for route in self.routes))
