"""What in a building model is meant: which words make a head, which pipes are ours, what is kept.

Every field has a default, so that a model can be read without a file; a file
(JSON or YAML) gives only what is different.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, ValidationError, model_validator

from router.scenario.errors import Fault, Path, ScenarioError, place_text, value_text
from router.scenario.formats import MODEL_MAPPING, format_faults
from router.scenario.load import load
from router.scenario.model import Record

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path as FilePath

SolidKind = Literal[
    "beam", "column", "slab", "wall", "duct", "tray", "pipe", "light", "equipment", "terminal", "other"
]
Words = Annotated[tuple[Annotated[str, Field(min_length=1)], ...], Field(max_length=200)]
Range = tuple[float, float]


class Box(Record):
    """Ranges in mm to keep, in the coordinates of the model; an absent one keeps all."""

    x: Range | None = None
    y: Range | None = None
    z: Range | None = None

    @model_validator(mode="after")
    def _ordered(self) -> Box:
        for name in ("x", "y", "z"):
            span = getattr(self, name)
            if span is not None and span[0] >= span[1]:
                raise ValueError(f"{name}: lowest before highest expected")
        return self


class KindWords(Record):
    """Words that tell how a head sits; ``dry``: that it is a dry one."""

    pendent: Words = ("pendent", "pendant", "concealed")
    upright: Words = ("upright",)
    sidewall: Words = ("sidewall", "side wall")
    dry: Words = ("dry",)


class Mapping(Record):
    """How to read a model.

    Words are looked for as whole words, whatever their case, in a name, object
    type, description, type name or predefined type.

    Parameters
    ----------
    head_words, not_head_words
        A terminal or unclassified element is a head if one of the first is there and none of the second.
    kind_words
        Pendent, upright, sidewall, dry.
    system_words
        A pipe in a system so named, or itself so named, is a sprinkler pipe even without a head. One in no
        system is if it leads to a head, one in a system of another name if that system has a pipe that
        ports connect with a head, directly or through fittings.
    size_properties, k_properties, thread_properties
        Names of properties in any property set, first match taken.
    obstructions
        Kinds taken as obstructions. ``pipe``: pipes of other systems with their fittings;
        ``terminal``: air terminals and the like; ``other``: all other bodies.
    ceilings
        Whether ceilings of the model are taken; their elevation is their top.
    storeys
        Names of the storeys to keep; empty: all.
    box
        Part of the model to keep, mm.
    origin
        Place of the model, mm, that becomes 0, 0, 0, so that several models and later states of one
        fit together; default: 0, 0, 0, or near the model's middle if that is far away.
    broken
        ``refuse`` a file in which lines cannot be read, or only ``note`` them.
    """

    format: Literal["branch-drop-router/model-mapping"] = "branch-drop-router/model-mapping"
    version: Literal[1] = 1
    head_words: Words = ("sprinkler", "sprinkler head")
    not_head_words: Words = (
        "valve",
        "alarm",
        "pump",
        "tank",
        "cabinet",
        "guard",
        "pipe",
        "switch",
        "detector",
        "extinguisher",
        "hose",
    )
    kind_words: KindWords = KindWords()
    system_words: Words = ("fire protection", "fireprotection", "sprinkler", "fire suppression")
    size_properties: Words = ("NominalDiameter", "Nominal Diameter", "NominalSize", "Nominal Size", "Size")
    k_properties: Words = ("KFactor", "K-Factor", "K Factor", "DischargeCoefficient")
    thread_properties: Words = ("ConnectionSize", "Connection Size", "ThreadSize", "NominalDiameter", "Size")
    obstructions: tuple[SolidKind, ...] = (
        "beam",
        "column",
        "slab",
        "duct",
        "tray",
        "pipe",
        "light",
        "equipment",
        "terminal",
    )
    ceilings: bool = False
    storeys: Words = ()
    box: Box = Box()
    origin: tuple[float, float, float] | None = None
    broken: Literal["refuse", "note"] = "refuse"


def read_mapping(path: FilePath) -> Mapping:
    """Read a mapping file.

    Parameters
    ----------
    path
        JSON or YAML.

    Returns
    -------
    Mapping

    Raises
    ------
    ScenarioError
        With every fault by its place.
    """
    document = load(path)
    faults = [fault for _, fault in document.faults]
    if not isinstance(document.data, dict):
        value = value_text(document.data)
        faults.append(
            Fault("(file)", "mapping", value, "", "one object with fields of a mapping expected", 1)
        )
        raise ScenarioError(faults, str(path))
    wrong = format_faults(document.data, MODEL_MAPPING, document.line)
    if wrong:
        raise ScenarioError(wrong, str(path))
    try:
        found = Mapping.model_validate_json(json.dumps(document.data), strict=True)
    except ValidationError as error:
        for each in error.errors(include_url=False):
            place: Path = tuple(each["loc"])
            if place_text(place) in {fault.place for fault in faults}:
                continue
            value = "" if each["type"] == "missing" else value_text(each["input"])
            faults.append(Fault(place_text(place), "mapping", value, "", _said(each), document.line(place)))
        raise ScenarioError(faults, str(path)) from error
    if faults:
        raise ScenarioError(faults, str(path))
    return found


def _said(error: Any) -> str:
    if error["type"] == "extra_forbidden":
        known = Box if len(error["loc"]) > 1 and error["loc"][0] == "box" else Mapping
        return f"unknown field; known here: {', '.join(known.model_fields)}"
    text = str(error["msg"]).removeprefix("Value error, ")
    return text[0].lower() + text[1:]


_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")
_BETWEEN = re.compile(r"[\W_]+")


def plain(text: str) -> str:
    """Give a text in lower case, words parted by single spaces, humps (``FireProtection``) as words.

    Returns
    -------
    str
    """
    return _BETWEEN.sub(" ", _HUMP.sub(" ", text)).strip().lower()


def has_word(text: str, words: Iterable[str]) -> bool:
    """Tell whether one of the words (or its plural) stands in a text as a whole word.

    Returns
    -------
    bool
    """
    found = f" {plain(text)} "
    return any(f" {plain(word)} " in found or f" {plain(word)}s " in found for word in words)
