"""The mapping file: which layer of a drawing holds what, and what the drawing does not say."""

from __future__ import annotations

from fnmatch import fnmatchcase
from pathlib import Path as FilePath
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from router.readers.dxf import names
from router.readers.spelled.kinds import head_kind, word_key
from router.scenario.errors import Fault, ScenarioError, place_text, value_text
from router.scenario.formats import DRAWING_MAPPING, format_faults
from router.scenario.load import load
from router.scenario.model import HeadKind, RunKind
from router.trade.sizes import parse_size

UNITS: Final = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in one unit of the drawing (inch and foot by definition, 1959)."""

RUN_KINDS: Final = ("main", "cross_main", "branch")
MOST_TOLERANCE_MM: Final = 500.0

Size = Annotated[int, BeforeValidator(parse_size)]
Holds = Literal["heads", "runs", "pipes", "obstructions", "ceilings", "keep_out", "nothing"]


def _head_word(word: object) -> object:
    """Give our word for a kind of head; what is none stays for the check."""
    return (head_kind(word) or word) if isinstance(word, str) else word


Head = Annotated[HeadKind, BeforeValidator(_head_word)]
HeadField = Literal["id", "kind", "thread", "k_factor", "facing", "elevation", "dry", "run", "size"]


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class BlockMapping(_Record):
    """What inserts of a block are, where that differs from their layer.

    ``facing``: direction of a sidewall's water in the block as it was drawn,
    degrees anticlockwise from its +x; turning and mirroring come on top.
    ``k_factor``: gpm/psi^0.5; one of 37 or more is taken as l/min/bar^0.5.
    """

    kind: Head | None = None
    thread: Size | None = None
    k_factor: Annotated[float, Field(gt=0.0)] | None = None
    facing: float | None = None
    dry: bool | None = None


class LayerMapping(_Record):
    """What a layer holds, and defaults for what its entities do not say.

    Lengths are in the drawing's unit. ``elevation``: of heads, runs, pipes and
    ceilings that are drawn flat (at 0). ``elevations``, or ``bottom`` and
    ``height``: of obstructions and keep-out zones without thickness. ``size``:
    of runs and pipes; ``kind`` says what obstructions, heads or runs are.
    ``k_factor``: gpm/psi^0.5; one of 37 or more is taken as l/min/bar^0.5.
    """

    holds: Holds
    kind: str | None = None
    elevation: float | None = None
    elevations: tuple[float, float] | None = None
    bottom: float | None = None
    height: float | None = None
    thread: Size = 15
    k_factor: Annotated[float, Field(gt=0.0)] | None = None
    facing: float | None = None
    size: Size | Literal["schedule"] | None = None
    clearance: float | None = None
    of: Literal["all", "outlets", "level_changes"] = "all"
    prefix: str | None = None
    attributes: dict[HeadField, str] = Field(default_factory=dict)
    blocks: dict[str, BlockMapping] = Field(default_factory=dict)

    @model_validator(mode="before")
    @classmethod
    def _ours(cls, data: Any) -> Any:
        """Take our words for kinds of heads and runs, however they are written."""
        if isinstance(data, dict) and isinstance(data.get("kind"), str):
            kind = data["kind"]
            if data.get("holds") == "heads":
                return {**data, "kind": _head_word(kind)}
            if data.get("holds") == "runs":
                key = word_key(kind).replace(" ", "_")
                return {**data, "kind": key if key in RUN_KINDS else key.removesuffix("s")}
        return data

    @model_validator(mode="after")
    def _fits(self) -> LayerMapping:
        kinds: dict[str, tuple[str, ...]] = {
            "heads": ("pendent", "upright", "sidewall"),
            "runs": RUN_KINDS,
        }
        allowed = kinds.get(self.holds)
        if self.kind is not None and allowed and self.kind not in allowed:
            raise ValueError(f'kind "{self.kind}": one of {", ".join(allowed)} expected')
        if self.elevations is not None and not self.elevations[0] < self.elevations[1]:
            raise ValueError(f"elevations {list(self.elevations)}: lowest first expected")
        if self.height is not None and self.height <= 0:
            raise ValueError(f"height {self.height:g}: more than 0 expected")
        if self.holds == "pipes" and self.size == "schedule":
            raise ValueError("size: a nominal size expected for pipes")
        return self

    def head_kind(self) -> HeadKind:
        """Kind of heads on this layer."""
        return self.kind if self.kind in ("upright", "sidewall") else "pendent"  # type: ignore[return-value]

    def run_kind(self) -> RunKind:
        """Kind of runs on this layer."""
        return self.kind if self.kind in ("main", "cross_main") else "branch"  # type: ignore[return-value]


class DxfMapping(_Record):
    """The whole file.

    ``units``: of the drawing's numbers, instead of what the drawing says.
    ``layers``: by layer name or pattern (``*``, ``?``), upper and lower case alike; the
    first that fits counts. ``attributes``: names of block attributes by field, for all layers;
    a unit in brackets behind such a name is that of its texts (``{"elevation": "LEVEL [m]"}``,
    ``{"k_factor": "K [l/min/bar^0.5]"}``), else a text's own unit counts, then the drawing's.
    ``decimal``: of numbers in attributes, where they leave it open.
    ``origin``: a point of the drawing that becomes 0, 0 (in its unit), so that several
    drawings of a site fit together; default: 0, 0, or near the drawing if it is far away.
    ``tolerance_mm``: how far apart ends may lie that are meant as one point, 0 to 500 mm.
    """

    format: Literal["branch-drop-router/drawing-mapping"] = "branch-drop-router/drawing-mapping"
    version: Literal[1] = 1
    units: Literal["mm", "cm", "m", "in", "ft"] | None = None
    origin: tuple[float, float] | None = None
    tolerance_mm: Annotated[float, Field(ge=0.0, le=MOST_TOLERANCE_MM)] = 5.0
    decimal: Literal["point", "comma"] | None = None
    attributes: dict[HeadField, str] = Field(default_factory=dict)
    layers: Annotated[dict[str, LayerMapping], Field(min_length=1)]

    def layer(self, name: str) -> LayerMapping | None:
        """Give the first entry that fits a layer's name."""
        for pattern, entry in self.layers.items():
            if fnmatchcase(name.upper(), pattern.upper()):
                return entry
        return None

    def tags(self, layer: LayerMapping) -> dict[str, str]:
        """Give the names of block attributes by field, as they hold on a layer."""
        tags: dict[str, str] = dict(names.HEAD_TAGS)
        for given in (self.attributes, layer.attributes):
            tags.update((str(name), tag) for name, tag in given.items())
        return tags


def own_mapping() -> DxfMapping:
    """Give the mapping of our own drawings.

    Returns
    -------
    DxfMapping
    """
    return DxfMapping.model_validate({"layers": {key: {"holds": what} for key, what in names.READ.items()}})


def read_dxf_mapping(path: str | FilePath) -> DxfMapping:
    """Read a mapping file.

    Parameters
    ----------
    path
        JSON or YAML: one object with ``layers`` and what :class:`DxfMapping` knows besides.

    Returns
    -------
    DxfMapping

    Raises
    ------
    ScenarioError
        With every fault by place, value and what would be accepted.
    """
    file = FilePath(path)
    document = load(file)
    if document.faults:
        raise ScenarioError([fault for _, fault in document.faults], str(file))
    if not isinstance(document.data, dict):
        message = "a mapping is one object with layers"
        raise ScenarioError([Fault("(file)", "", value_text(document.data), "", message)], str(file))
    wrong = format_faults(document.data, DRAWING_MAPPING, document.line)
    if wrong:
        raise ScenarioError(wrong, str(file))
    try:
        return DxfMapping.model_validate(document.data)
    except ValidationError as error:
        faults = []
        for each in error.errors(include_url=False):
            place = _place(each["loc"], document.data)
            faults.append(
                Fault(
                    place_text(place),
                    f"layer {place[1]}" if place[:1] == ("layers",) and len(place) > 1 else "",
                    "" if each["type"] == "missing" else value_text(each["input"]),
                    "mm" if place == ("tolerance_mm",) else "",
                    _message(each),
                    document.line(place),
                )
            )
        raise ScenarioError(list(dict.fromkeys(faults)), str(file)) from error


def _place(location: tuple[int | str, ...], data: Any) -> tuple[int | str, ...]:
    """Keep of a validation error's place what is in the file."""
    place: list[int | str] = []
    for part in location:
        in_list = isinstance(data, list) and isinstance(part, int) and part < len(data)
        if in_list or (isinstance(data, dict) and part in data):
            data = data[part]
        elif isinstance(data, dict) and part == location[-1]:
            data = None
        else:
            continue
        place.append(part)
    return tuple(place)


def _message(error: Any) -> str:
    kind = str(error["type"])
    if kind == "extra_forbidden":
        return "unknown field"
    if kind == "missing":
        return "is missing; it is required"
    if kind == "literal_error":
        return f"not accepted; {error['ctx']['expected']} expected"
    if kind in ("greater_than_equal", "less_than_equal"):  # only of tolerance_mm
        return f"0 to {MOST_TOLERANCE_MM:g} mm expected"
    text = str(error["msg"]).removeprefix("Value error, ")
    return text[0].lower() + text[1:]
