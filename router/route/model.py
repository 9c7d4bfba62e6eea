"""The answer as typed records: what ``route.json`` holds. All lengths in mm.

Frames: world coordinates (x, y in plan, z up). A station is the plan distance
along a run from its supply end. A level is the elevation of the run's centre
line measured on the run's own datum: ``z = level + pitch/1000 * station``.
"""

from __future__ import annotations

from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from router.route.kept import Kept

FORMAT: Final = "branch-drop-router/route"
VERSION: Final = 1

CAUTION = (
    "First-pass coordination aid. Not a design, not a hydraulic calculation and not an approval. "
    "Rule values are paraphrased and partly from memory; the local code, the listing of each "
    "product and a licensed practitioner decide. Check every connection before fabrication."
)

Xyz = tuple[float, float, float]
Side = Literal["left", "right", "top", "bottom", "end"]
PieceKind = Literal["run", "nipple", "arm", "drop", "sprig", "barrel", "hose"]
"""``barrel``: a dry head's own barrel, ordered to length; neither it nor a hose counts as pipe."""
FittingKind = Literal[
    "tee",
    "cross",
    "elbow_90",
    "elbow_45",
    "elbow_odd",
    "outlet",
    "cap",
    "plug",
    "reducer",
    "reducing_coupling",
]
"""``outlet``: a welded or mechanical outlet. ``reducer``: at a head's inlet; ``reducing_coupling``: in a
run, where its size changes between two fittings (a concentric reducer where it is welded). ``elbow_odd``: a
plan bend that is neither 45 nor 90."""


class Record(BaseModel):
    """Base: unknown fields are faults, instances do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    def model_post_init(self, context: Any, /) -> None:
        """Share the set of given fields among records alike: each has one, larger than its figures."""
        given = self.__pydantic_fields_set__
        object.__setattr__(self, "__pydantic_fields_set__", _GIVEN.setdefault(frozenset(given), given))


_GIVEN: dict[frozenset[str], set[str]] = {}


class Piece(Record):
    """One straight pipe between two fittings (or a fitting and a head), centre to centre.

    ``fittings``: ids of the fittings at ``start`` and ``end``; ``None`` where the
    piece ends at a head's inlet or at the supply. ``make_up`` is the bare pipe
    length left between the two fittings: centre to centre less the take-outs
    plus the engagements. ``owner``: the takeoff's id, or the run's for run pipe.
    """

    id: str
    kind: PieceKind
    owner: str
    run: str
    start: Xyz
    end: Xyz
    dn: int
    length: float
    make_up: float
    fittings: tuple[str | None, str | None]


class Fitting(Record):
    """One fitting. ``directions``: unit vectors from its centre to each opening.

    ``sizes``: DN of each opening, in the order of ``directions``. A reducer at
    a head's inlet stands at the inlet. ``counts_as``: the objective term it
    belongs to.
    """

    id: str
    kind: FittingKind
    owner: str
    run: str
    at: Xyz
    directions: list[Xyz]
    sizes: list[int]
    counts_as: Literal["fitting", "reducer"]


class Takeoff(Record):
    """Whatever leaves a run. Either ``heads`` or ``child_runs`` is non-empty.

    ``level``: of the run at the outlet; ``arm_level``: elevation of the
    horizontal part. ``ends_run``: it is the run's last, made with an elbow or a
    plugged tee. ``occupies``: the stations its run fitting and make-up need.
    """

    id: str
    run: str
    style: str
    station: float
    level: float
    side: Side
    heads: list[str] = Field(default_factory=list)
    child_runs: list[str] = Field(default_factory=list)
    arm_level: float | None = None
    dogleg: bool = False
    ends_run: bool = False
    occupies: tuple[float, float]
    hangers: int = 0
    pieces: list[str] = Field(default_factory=list)
    fittings: list[str] = Field(default_factory=list)


class HeadResult(Record):
    """What became of a head. ``stopped_by``: for an unserved one, its nearest attempts.

    ``inlet``: where its inlet is in the route (moved only if the scenario
    allows a shift).
    """

    id: str
    served: bool
    takeoff: str | None = None
    run: str | None = None
    style: str | None = None
    inlet: Xyz
    stopped_by: list[Attempt] = Field(default_factory=list)


class Attempt(Record):
    """Why one way to serve a head does not work.

    ``rule`` is the rule's id; ``has`` and ``needs`` in mm, ``short`` their
    difference; ``against`` the obstruction, head or run that is in the way.
    """

    style: str
    run: str
    station: float | None
    rule: str
    against: str | None
    has: float | None
    needs: float | None
    short: float | None
    text: str


class ProfilePoint(Record):
    """A corner of a run's profile."""

    station: float
    level: float


class LevelChange(Record):
    """Where a run changes level. ``angle``: 45, 90, or 90 at a ``bend`` in plan."""

    id: str
    stations: tuple[float, float]
    levels: tuple[float, float]
    angle: Literal[45, 90]
    at_bend: bool
    fittings: list[str]
    pieces: list[str]
    reason: str = ""


class RunResult(Record):
    """A run as built: from its supply end to its last takeoff."""

    id: str
    supply_level: float
    pitch: float
    profile: list[ProfilePoint]
    built_to: float
    level_changes: list[LevelChange]
    takeoffs: list[str]
    joining: str | None = None
    """How its pipe is joined, where the system's joining depends on size."""
    trapped: list[tuple[float, float]] = Field(default_factory=list)
    """Station ranges that cannot drain back to the supply (dry and preaction)."""


class LowSection(Record):
    """A trapped low section: part of a run from which water cannot leave towards the supply.

    ``stations``: of ``run``, from where its pipe begins to fall to where it is
    that high again (or ends); ``None`` in both for a child run that leaves its
    parent downwards, all of which is trapped. ``volume_l``: litres held below the
    level at which it would spill back, in all pipe beyond. ``drain``: what the
    table asks for (``router.trade.drains``). ``counts_as``: the objective term,
    ``None`` where nothing is needed.
    """

    run: str
    stations: tuple[float, float] | None
    lowest: Xyz
    volume_l: float
    drain: str
    text: str
    counts_as: Literal["drain", "large_drain", "wet_drain"] | None
    source: str
    grade: str


class Hanger(Record):
    """A hanger (or, for a sprig, a lateral restraint).

    ``at``: on the pipe's centre line. ``structure``: the obstruction that it
    hangs from, ``None`` where the scenario gives none above. ``rod``: from the
    pipe's centre line up to the structure, mm. ``why``: the rule that asks for it.
    """

    id: str
    kind: Literal["run", "arm", "sprig_restraint"]
    run: str
    piece: str
    at: Xyz
    structure: str | None = None
    rod: float | None = None
    why: str


class Term(Record):
    """One objective term: ``amount`` in ``unit``, its weight, its cost.

    ``least``: no route over the candidate set that leaves as few heads
    unserved has a smaller amount of this term alone (``None``: not computed).
    """

    name: str
    unit: str
    amount: float
    weight: float
    cost: float
    least: float | None = None


class Objective(Record):
    """The weighted sum, its proven lower bound, and the terms."""

    value: float
    bound: float
    gap: float
    terms: list[Term]


STEPS = ("relaxation", "styles", "model_one_run", "model_several_runs", "unproven")
"""What decides a run: the dynamic programme's best choice held; the styles' exact programme had to
raise a table of it; the model, for that run alone or for several together; nothing yet."""


class SecondLook(Record):
    """What was asked a second time because heads are unserved, and how often the answer was the same.

    Another answer would have ended the work. What is missing took too long, or was too much.

    ``lines`` with unserved heads; ``lines_agree``: on so many the model, presolve
    flipped, proves the same cost. Unserved ``heads``; ``heads_agree``: so many a
    greedy could not serve either, or only at a higher cost.
    """

    lines: int
    lines_agree: int
    heads: int
    heads_agree: int


class Proof(Record):
    """Over what the claim holds, and what closed it.

    ``lines_closed``: how many of the scenario's runs each of :data:`STEPS` decided;
    steps that decided none are left out. Empty where nothing was proven or an
    older version wrote the file. ``second_look``: where heads are unserved.
    """

    scope: str
    closed_by: str
    candidates: int
    levels: int
    stations: int
    lines_closed: dict[str, int] = Field(default_factory=dict)
    second_look: SecondLook | None = None


class Counts(Record):
    """Totals recomputed from pieces and fittings."""

    heads: int
    served: int
    fittings: dict[str, int]
    """By kind, reducers included."""
    fittings_counted: int
    """Tees, crosses, elbows, outlets, caps and plugs: without reducers."""
    takeoff_fittings: int
    """Of those, the ones that belong to heads' takeoffs."""
    reducers: int
    level_changes: int
    drains: int
    """Trapped low sections of a dry or preaction system."""
    large_drains: int = 0
    """Of those, the ones whose volume asks for two valves."""
    wet_drains: int = 0
    price: float = 0.0
    """In the currency of the scenario's price table, labour included; 0 without one."""
    arm_hangers: int
    hoses: int
    styles: dict[str, int]
    pipe_m: dict[str, float]
    """Metres centre to centre by DN (as text)."""
    pipe_total_m: float
    fittings_per_head: float
    """``takeoff_fittings`` over served heads."""


class Route(Record):
    """The whole of ``route.json``."""

    format: Literal["branch-drop-router/route"] = FORMAT
    version: Literal[1] = VERSION
    caution: str = CAUTION
    scenario: str
    scenario_sha256: str
    status: Literal["optimal", "feasible", "infeasible"]
    objective: Objective
    proof: Proof
    counts: Counts
    heads: list[HeadResult]
    takeoffs: list[Takeoff]
    runs: list[RunResult]
    pieces: list[Piece]
    fittings: list[Fitting]
    low_sections: list[LowSection] = Field(default_factory=list)
    hangers: list[Hanger] = Field(default_factory=list)
    kept: Kept | None = None
    """Where it was found with an older route to be kept."""
    seed: int = 0
    versions: dict[str, str] = Field(default_factory=dict)


HeadResult.model_rebuild()
