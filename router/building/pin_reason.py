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


def pin_reason(prepared: Prepared, head: int) -> Attempt | None:
    """Name the pin of an unserved head, with how many takeoffs it leaves and how many it excludes."""
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
    with_pin, without = (
        len(outside_zones(prepared, frame, found).of_head(head))
        for found in (propose_heads(frame, each, solids, edges, more) for each in (scenario, free))
    )
    if with_pin:
        left = f"{with_pin:,} takeoffs that it leaves would fit alone, none fits beside the rest of the run"
    elif without:
        left = f"it leaves no takeoff that fits; without it {without:,} would fit alone"
    else:
        left = "no takeoff fits, without the pin neither"
    return Attempt(
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
