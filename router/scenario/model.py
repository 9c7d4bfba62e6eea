"""What the designer gives, as typed records.

One record per thing in the scenario file. A field that holds a length is
marked :class:`Length`, so that one walk over the fields converts a whole
scenario to millimetres (``router.scenario.units``); everything behind the
reader may rely on millimetres. Defaults of lengths are in millimetres and are
*not* converted: they are filled in after the conversion.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from router.trade.sizes import parse_size

FORMAT: Final = "branch-drop-router/scenario"
VERSION: Final = 1


class Length:
    """Marker: the number is a length in the file's unit, or nested lists of such."""


class Pitch:
    """Marker: a slope in mm per m (the same number in any unit); never converted."""


Mm = Annotated[float, Length()]
Point2 = Annotated[tuple[float, float], Length()]
Point3 = Annotated[tuple[float, float, float], Length()]
Size = Annotated[int, BeforeValidator(parse_size)]
"""A nominal size as DN (25 for 1 in.). The file may say ``"1-1/4"``, ``"DN32"`` or ``32``."""

Joining = Literal["threaded", "welded", "grooved", "butt_weld"]
ScheduleCase = Literal["standard", "above_and_below", "long_spacing"]
"""Which pipe schedule table: ``above_and_below`` where a line feeds heads above and below a
ceiling, ``long_spacing`` where heads or lines stand over 12 ft apart (ordinary hazard only)."""
HeadKind = Literal["pendent", "upright", "sidewall"]
RunKind = Literal["main", "cross_main", "branch"]
Side = Literal["left", "right", "top", "bottom"]
"""Where an outlet points. Left and right as seen looking along the run, away from its supply."""


class Record(BaseModel):
    """Base of every record: unknown fields are faults, instances do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class JoiningUpTo(Record):
    """How runs up to a size are joined. ``up_to`` absent: all larger sizes."""

    up_to: Size | None = None
    joining: Joining


class System(Record):
    """The system as a whole.

    ``joining``: one method, or by size range, smallest first; a run is joined
    one way, by its size at its supply end. ``pressure``: static pressure at the
    heads, bar; over 6.9 bar (100 psi) pendent heads below a ceiling have
    shorter arms and end distances without a hanger.

    ``water``: ``clean`` (potable or treated) or ``raw`` (may carry sediment).
    ``pitch_branch`` / ``pitch_main``: mm per m, rising away from the supply;
    ``None`` takes the table value for the system kind (0 for wet).
    """

    kind: Literal["wet", "dry", "preaction"] = "wet"
    water: Literal["clean", "raw"] = "clean"
    heated: bool = True
    refrigerated: bool = False
    hazard: Literal["light", "ordinary"] = "light"
    schedule: ScheduleCase = "standard"
    joining: Joining | Annotated[list[JoiningUpTo], Field(min_length=1)] = "threaded"
    pressure: float | None = None
    standard: Literal["inch", "metric"] = "inch"
    pitch_branch: Annotated[float | None, Pitch()] = None
    pitch_main: Annotated[float | None, Pitch()] = None


class Run(Record):
    """A pipe line given in plan. ``plan`` starts at the supply end.

    ``elevation`` is the nominal level (of the centre line at the supply end),
    ``band`` the lowest and highest level it may take (default: 300 mm either
    way). ``size``: nominal, or by the pipe schedule and then no smaller than
    ``least_size``. ``supply`` names the run it leaves; its first plan point lies on that
    run. A root run may fix its incoming level with ``supply_elevation``.
    """

    id: str
    kind: RunKind = "branch"
    plan: Annotated[list[tuple[float, float]], Length()]
    elevation: Mm
    band: Annotated[tuple[float, float] | None, Length()] = None
    size: Size | Literal["schedule"] = "schedule"
    least_size: Size | None = None
    schedule: ScheduleCase | None = None
    supply: str | None = None
    supply_elevation: Annotated[float | None, Length()] = None
    joining: Joining | None = None


class Head(Record):
    """A sprinkler. ``at`` is its inlet; for a dry head the lower end of its barrel.

    A dry head's barrel is ordered to length, so it reaches from ``at`` up to
    the tee that it stands in.

    ``k_factor``: in gpm/psi^0.5, as US listings print it; a metric one
    (l/min/bar^0.5) is 14.416 times as large: K 80 is 5.6 here.

    ``facing`` (sidewall only): plan direction of the water, degrees
    anticlockwise from +x; pipe arrives in that direction. ``shift``: how far
    the inlet may move in plan (0: fixed). ``run``: the run that must serve it
    (default: the nearest). ``exposed``: least length of a dry head's barrel
    between its tee and the ceiling it goes through (or its lower end, where no
    ceiling is given), as its listing asks. ``guid``: GlobalId (ISO 16739) of the element
    that it was in a model.
    """

    id: str
    at: Point3
    kind: HeadKind = "pendent"
    thread: Size = 15
    k_factor: float = 5.6
    dry: bool = False
    facing: float | None = None
    shift: Annotated[float, Length()] = 0.0
    run: str | None = None
    exposed: Annotated[float | None, Length()] = None
    guid: str | None = None


class Obstruction(Record):
    """Beam, duct, tray, column ...: a plan polygon and a range of elevations.

    ``guid``: GlobalId (ISO 16739) of the element that it was in a model, or is a part of.
    """

    id: str
    kind: str = "obstruction"
    polygon: Annotated[list[tuple[float, float]], Length()]
    elevations: Annotated[tuple[float, float], Length()]
    clearance: Annotated[float | None, Length()] = None
    guid: str | None = None


class Ceiling(Record):
    """A ceiling plane: above it all pipe but the last vertical to a head."""

    id: str
    polygon: Annotated[list[tuple[float, float]], Length()]
    elevation: Mm


class KeepOut(Record):
    """A place that something must stay out of: a plan polygon, and a range of elevations (default: all).

    ``of``: what stays out: all pipe and fittings (surface, without any
    clearance), or only ``outlets`` (no takeoff may leave a run there), or only
    ``level_changes`` (no part of an offset). ``why``: for whoever reads it.
    """

    id: str
    polygon: Annotated[list[tuple[float, float]], Length()]
    elevations: Annotated[tuple[float, float] | None, Length()] = None
    of: Literal["all", "outlets", "level_changes"] = "all"
    why: str = ""


class Rules(Record):
    """Rule values in force. Lengths in the file's unit; defaults in mm.

    Sources: see ``router.trade`` for table values (``None`` here takes the
    table's). The others are common practice, no source.
    """

    clearance: Annotated[float, Length()] = 25.0
    piece_clearance: Annotated[float, Length()] = 25.0
    ceiling_clearance: Annotated[float, Length()] = 25.0
    working_allowance: Annotated[float, Length()] = 25.0
    alignment: Annotated[float, Length()] = 3.0
    reach: Annotated[float, Length()] = 4500.0
    slide: Annotated[float, Length()] = 600.0
    station_step: Annotated[float, Length()] = 60.0
    rise: Annotated[float, Length()] = 1500.0
    arm_unsupported: Annotated[float | None, Length()] = None
    hanger_spacing: Annotated[float | None, Length()] = None
    hanger_to_end: Annotated[float | None, Length()] = None
    stock_lengths: Annotated[list[float] | None, Length()] = None
    saw_cut: Annotated[float, Length()] = 3.0
    outlet_spacing: Annotated[float | None, Length()] = None
    square_tolerance_deg: float = 3.0
    arm_size: Size = 25
    allow_cross: bool = False
    allow_shared_nipple: bool = True
    allow_flexible: bool = False
    hose_lengths: Annotated[list[float] | None, Length()] = None
    hose_bend_radius: Annotated[float | None, Length()] = None
    hose_max_bends: int | None = None
    styles: list[str] | None = None
    tables: dict[str, Any] = Field(default_factory=dict)


class Weights(Record):
    """Objective weights, in points. One fitting is 1000 points by default.

    ``drain`` is per trapped low section of a dry or preaction system,
    ``large_drain`` on top where its volume asks for two valves, ``wet_drain``
    per trapped low section of a wet system that no pendent head drains.
    ``pipe`` is per metre; ``price`` per unit of currency of ``prices``; ``moved``
    per mm that a run's supply end leaves its nominal level; ``unserved``
    per head, ``None`` for "more than anything else can cost".

    Where an older route is kept: ``changed_head`` per head that is served
    otherwise (half where its outlet stays), ``changed_run`` per run that begins
    otherwise, ``changed_offset`` per change of level that is gone or new. ``None``
    takes ten fittings (or ten of the dearest thing of a price table that decides).
    """

    unserved: float | None = None
    fitting: float = 1000.0
    level_change: float = 500.0
    drain: float = 3000.0
    large_drain: float = 1500.0
    wet_drain: float = 500.0
    hanger: float = 300.0
    pipe: float = 20.0
    moved: float = 0.5
    style: float = 10.0
    reducer: float = 0.0
    hose: float = 1500.0
    price: float = 0.0
    changed_head: float | None = None
    changed_run: float | None = None
    changed_offset: float | None = None


class Cost(Record):
    """What one thing costs: ``price`` in the table's currency, ``minutes`` of labour."""

    price: float = 0.0
    minutes: float = 0.0


class PriceTable(Record):
    """The user's own prices and labour minutes; nothing here comes from a standard.

    ``minute``: price of one minute of labour. ``pipe``: per metre by size.
    ``fittings``: by kind, then by the fitting's largest size; ``"other"`` is
    taken where a size is not listed. ``hanger``, ``drain`` (its valve and plug),
    ``large_drain`` (on top), ``wet_drain`` and ``hose``: each.
    ``as_objective``: the route with the least price is wanted; then all other
    weights but those of unserved heads, ``moved`` and ``style`` are 0.
    """

    currency: str = "EUR"
    minute: float = 0.0
    pipe: dict[str, Cost] = Field(default_factory=dict)
    fittings: dict[str, dict[str, Cost]] = Field(default_factory=dict)
    hanger: Cost = Field(default_factory=Cost)
    drain: Cost = Field(default_factory=Cost)
    large_drain: Cost = Field(default_factory=Cost)
    wet_drain: Cost = Field(default_factory=Cost)
    hose: Cost = Field(default_factory=Cost)
    as_objective: bool = False


class HeadPin(Record):
    """What is decided already for a head. Absent fields stay open.

    ``style``: this one; ``styles``: one of these.
    """

    style: str | None = None
    styles: list[str] | None = None
    run: str | None = None
    side: Side | None = None
    stations: Annotated[tuple[float, float] | None, Length()] = None


class LevelPin(Record):
    """The level of a run between two stations."""

    stations: Annotated[tuple[float, float], Length()]
    level: Mm


class RunPin(Record):
    """What is decided already for a run.

    ``level``: one level all along. ``levels``: levels between stations.
    ``no_offset``: true for no change of level anywhere, or the ranges of
    stations in which none may stand.
    """

    level: Annotated[float | None, Length()] = None
    levels: list[LevelPin] = Field(default_factory=list)
    no_offset: Annotated[bool | list[tuple[float, float]], Length()] = False


class Pins(Record):
    """Pins by head id and by run id."""

    heads: dict[str, HeadPin] = Field(default_factory=dict)
    runs: dict[str, RunPin] = Field(default_factory=dict)


class Scenario(Record):
    """The whole file. After ``router.scenario.read_scenario`` ``units`` is always mm."""

    format: Literal["branch-drop-router/scenario"] = FORMAT
    version: Literal[1] = VERSION
    name: str
    story: str = ""
    units: Literal["mm", "m", "in", "ft"] = "mm"
    system: System = Field(default_factory=System)
    runs: list[Run] = Field(min_length=1)
    heads: list[Head] = Field(min_length=1)
    obstructions: list[Obstruction] = Field(default_factory=list)
    ceilings: list[Ceiling] = Field(default_factory=list)
    keep_out: list[KeepOut] = Field(default_factory=list)
    rules: Rules = Field(default_factory=Rules)
    weights: Weights = Field(default_factory=Weights)
    prices: PriceTable | None = None
    pins: Pins = Field(default_factory=Pins)
