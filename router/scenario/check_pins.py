"""Cross checks on pins: what they name exists, and no two of them contradict each other."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from router.scenario.check_rules import styles_are
from router.scenario.errors import Fault, Path, number_text, value_text
from router.scenario.view import View, some
from router.trade.styles import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.scenario.model import HeadPin, Run, RunPin

SIDES: dict[str, tuple[str, ...]] = {
    "straight_drop": ("bottom",),
    "sprig": ("top",),
    "side_arm": ("left", "right"),
    "return_bend": ("top",),
    "raised_arm": ("top",),
    "lowered_arm": ("bottom",),
    "shared_nipple": ("top",),
}
"""Where the outlet of a style points; styles that are not here may leave otherwise too."""
SAME_MM = 0.001
"""Levels nearer than this are one."""


def pin_heads(view: View) -> Iterator[Fault]:
    """Check that pins of heads name what exists and do not contradict the file."""
    asked = {head.id: head.run for head in view.scenario.heads}
    for key, pin in view.scenario.pins.heads.items():
        place, item = ("pins", "heads", key), f"head {key}"
        if not view.knows_head(key):
            yield view.fault(
                place, item, value_text(key), "", f"pinned, but no such head; heads are {some(list(asked))}"
            )
        if pin.style is not None and pin.style not in STYLES:
            yield view.fault((*place, "style"), item, value_text(pin.style), "", styles_are())
        for i, style in enumerate(pin.styles or []):
            if style not in STYLES:
                yield view.fault((*place, "styles", i), item, value_text(style), "", styles_are())
        yield from _styles_and_side(view, place, item, pin)
        if pin.run is not None and not view.knows_run(pin.run):
            message = f"no such run; runs are {some(list(view.runs))}"
            yield view.fault((*place, "run"), item, value_text(pin.run), "", message)
        elif pin.run is not None and asked.get(key) not in {None, pin.run}:
            message = f"contradicts the head's own run {asked[key]}"
            yield view.fault((*place, "run"), item, value_text(pin.run), "", message)
        if pin.stations is not None:
            run = pin.run or asked.get(key)
            yield from _stations(view, (*place, "stations"), item, pin.stations, run)


def _styles_and_side(view: View, place: Path, item: str, pin: HeadPin) -> Iterator[Fault]:
    """Name a style and a side, or two lists of styles, that cannot both hold."""
    if pin.styles is not None and not pin.styles:
        yield view.fault((*place, "styles"), item, "[]", "", "at least one style, or leave it out")
        return
    if pin.style is not None and pin.styles is not None and pin.style not in pin.styles:
        message = f"contradicts the pin styles, which has only {', '.join(pin.styles)}"
        yield view.fault((*place, "style"), item, value_text(pin.style), "", message)
        return
    wanted = [pin.style] if pin.style is not None else pin.styles or []
    sides = {side for style in wanted for side in SIDES.get(style, ("left", "right", "top", "bottom"))}
    if wanted and pin.side is not None and pin.side not in sides:
        words = " or ".join(sorted(sides))
        message = f"contradicts the pinned style {' or '.join(wanted)}, whose outlet points {words}"
        yield view.fault((*place, "side"), item, value_text(pin.side), "", message)


def _stations(
    view: View, place: Path, item: str, stations: tuple[float, float], run: str | None
) -> Iterator[Fault]:
    low, high = stations
    if low > high:
        yield view.fault(place, item, value_text(stations), "mm", "reversed; lower station first")
    elif high < 0 or (run in view.lines and low > view.lines[run].length):
        length = f" (0 to {number_text(view.lines[run].length)} mm)" if run in view.lines else ""
        yield view.fault(place, item, value_text(stations), "mm", f"not on the run{length}")


def pin_runs(view: View) -> Iterator[Fault]:
    """Check that pins of runs name runs, places on them and levels inside their bands."""
    for key, pin in view.scenario.pins.runs.items():
        place, item = ("pins", "runs", key), f"run {key}"
        if not view.knows_run(key):
            message = f"pinned, but no such run; runs are {some(list(view.runs))}"
            yield view.fault(place, item, value_text(key), "", message)
        run = view.runs.get(key)
        if run is None:
            continue
        if pin.level is not None:
            yield from _in_band(view, (*place, "level"), item, pin.level, run)
        for i, part in enumerate(pin.levels):
            yield from _stations(view, (*place, "levels", i, "stations"), item, part.stations, key)
            yield from _in_band(view, (*place, "levels", i, "level"), item, part.level, run)
        if not isinstance(pin.no_offset, bool):
            for i, stations in enumerate(pin.no_offset):
                yield from _stations(view, (*place, "no_offset", i), item, stations, key)
        yield from _together(view, place, item, pin, run)


def _in_band(view: View, place: Path, item: str, level: float, run: Run) -> Iterator[Fault]:
    low, high = run.band if run.band is not None else (run.elevation - 300.0, run.elevation + 300.0)
    if not low <= level <= high:
        message = f"outside the run's band, {number_text(low)} to {number_text(high)} mm"
        yield view.fault(place, item, number_text(level), "mm", message)


def _together(view: View, place: Path, item: str, pin: RunPin, run: Run) -> Iterator[Fault]:
    """Name two pins of a run that cannot both hold."""
    enters = run.supply_elevation
    if pin.level is not None and enters is not None and abs(pin.level - enters) > SAME_MM:
        message = f"contradicts supply_elevation {number_text(enters)} mm: the pin holds all along"
        yield view.fault((*place, "level"), item, number_text(pin.level), "mm", message)
    for i, part in enumerate(pin.levels):
        if pin.level is not None and abs(part.level - pin.level) > SAME_MM:
            message = f"contradicts the pin level {number_text(pin.level)} mm, which holds all along"
            yield view.fault((*place, "levels", i, "level"), item, number_text(part.level), "mm", message)
    for (i, one), (k, other) in combinations(enumerate(pin.levels), 2):
        if abs(one.level - other.level) <= SAME_MM:
            continue
        which = f"levels[{i}], {number_text(one.level)} mm at {value_text(one.stations)}"
        span = (
            min(one.stations[1], other.stations[1]),
            max(one.stations[0], other.stations[0]),
        )
        message = ""
        if span[0] > span[1]:
            message = f"contradicts {which}: they overlap"
        elif pin.no_offset is True:
            message = f"contradicts {which}: no_offset allows no change between them"
        elif not isinstance(pin.no_offset, bool) and any(
            a <= span[0] and span[1] <= b for a, b in pin.no_offset
        ):
            message = f"contradicts {which}: no_offset leaves no place for the change between them"
        if message:
            yield view.fault((*place, "levels", k, "level"), item, number_text(other.level), "mm", message)


CHECKS = (pin_heads, pin_runs)
