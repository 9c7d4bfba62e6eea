"""What a route kept of an older one, and what changed: records of ``route.json``."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class Record(BaseModel):
    """Base: unknown fields are faults, instances do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Change(Record):
    """One thing that is other than in the older route.

    ``what``: what is other. ``before`` and ``now``: in words and numbers, empty
    where there is none. ``moved``: how far the outlet (of a head), the begin (of
    a run) or the middle (of a change of level) moved, mm; ``None`` where there
    is nothing to measure. ``counts``: whether it is a change that costs, ``points`` what: 0 for what is
    new or no longer wanted. ``why``: as measured on the older route's pieces by the
    referee, ``rule`` and ``against`` from there.
    """

    kind: Literal["head", "run", "level_change"]
    id: str
    what: Literal["new", "gone", "moved", "outlet_stays", "unserved", "served_again"]
    before: str = ""
    now: str = ""
    moved: float | None = None
    points: float = 0.0
    counts: bool = False
    why: str
    rule: str | None = None
    against: str | None = None


class KeptWeights(Record):
    """Weights in force, points: per head, per run's begin, per change of level."""

    head: float
    run: float
    offset: float


class Kept(Record):
    """What was kept: counts over what is in both the older route and the scenario.

    ``sha256``: of the older route as it was read. ``heads``, ``runs``,
    ``level_changes``, ``pieces``: how many of the older route's the scenario
    still asks for; ``..._kept``: how many of those are the same to the
    micrometre (a piece: kind, run, size and both ends). ``matched``: heads that
    both have.
    """

    scenario: str
    sha256: str
    weights: KeptWeights
    matched: int
    heads: int
    heads_kept: int
    runs: int
    runs_kept: int
    level_changes: int
    level_changes_kept: int
    pieces: int
    pieces_kept: int
    points: float
    changes: list[Change] = Field(default_factory=list)
