"""Why a pinned head is not served: what its pin asks, and whether anything is left of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from router.building.graphs import binding_stations, wanted
from router.building.pinned import outside_zones
from router.route.model import Attempt
from router.takeoffs.propose import propose_heads

if TYPE_CHECKING:
    from router.building.prepare import Prepared
    from router.scenario.model import HeadPin


def pin_words(pin: HeadPin) -> str:
    """Say what a pin of a head asks."""
    parts = []
    styles = [pin.style] if pin.style is not None else pin.styles or []
    if styles:
        parts.append(" or ".join(style.replace("_", " ") for style in styles))
    if pin.run is not None:
        parts.append(f"on {pin.run}")
    if pin.side is not None:
        parts.append(f"outlet {pin.side}")
    if pin.stations is not None:
        parts.append(f"stations {pin.stations[0]:,.0f} to {pin.stations[1]:,.0f}")
    return ", ".join(parts)


def with_pin(prepared: Prepared, head: int, others: list[Attempt]) -> list[Attempt]:
    """Put the pin of an unserved head among what else stops it: first where nothing else can.

    That is where it leaves nothing that would fit alone. Where it excludes
    nothing it is not told; else it may matter, and is told last.
    """
    found = _pin_reason(prepared, head)
    if found is None:
        return others
    attempt, decides = found
    return [attempt, *others] if decides or not others else [*others, attempt]


def _pin_reason(prepared: Prepared, head: int) -> tuple[Attempt, bool] | None:
    """Name the pin, with how many takeoffs it leaves and excludes, and whether it leaves none that fits."""
    scenario = prepared.scenario
    name = scenario.heads[head].id
    pin = scenario.pins.heads.get(name)
    words = "" if pin is None else pin_words(pin)
    if not words:
        return None
    frame = next(frame for frame in prepared.frames if head in frame.heads)
    others = {key: each for key, each in scenario.pins.heads.items() if key != name}
    free = scenario.model_copy(update={"pins": scenario.pins.model_copy(update={"heads": others})})
    solids, edges = prepared.solids_at(frame), np.array(binding_stations(prepared, frame))
    more = wanted(prepared, frame)
    left_over, without = (
        len(outside_zones(prepared, frame, found).of_head(head))
        for found in (propose_heads(frame, each, solids, edges, more) for each in (scenario, free))
    )
    if left_over == without > 0:
        return None  # it excludes nothing of what would fit on this run
    if left_over:
        left = f"it leaves {left_over:,} of the {without:,} takeoffs that would fit alone"
    elif without:
        left = f"it leaves no takeoff that fits; without it {without:,} would fit alone"
    else:
        left = "no takeoff fits, without the pin neither"
    made = Attempt(
        style=pin.style or "" if pin is not None else "",
        run=frame.run.id,
        station=None,
        rule="pins",
        against=None,
        has=None,
        needs=None,
        short=None,
        text=f"pinned to {words}: {left}",
    )
    return made, not left_over and without > 0
