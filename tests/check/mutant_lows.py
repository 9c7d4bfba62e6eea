"""Mutations of what a route says of its low sections, its hangers and its price."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mutant_work import Claim, Work, broken

if TYPE_CHECKING:
    import random


def low_section_lied(work: Work, rng: random.Random) -> Claim | None:
    """Leave a low section out, or give it other water, another drain or another place."""
    lows = work.route["low_sections"]
    if not lows:
        lows.append(
            {
                "run": rng.choice(work.runs)["id"],
                "stations": (0.0, 100.0),
                "lowest": (0.0, 0.0, 0.0),
                "volume_l": 1.0,
                "drain": "valve_and_plug",
                "text": "a drain",
                "counts_as": "drain",
                "source": "",
                "grade": "C",
            }
        )
        return broken("a low section that is none", "trapped")
    low = rng.choice(lows)
    way = rng.randrange(4)
    if way == 0:
        lows.remove(low)
    elif way == 1:
        low["volume_l"] = low["volume_l"] * rng.choice((0.5, 1.5)) + 0.1
    elif way == 2:
        low["drain"] = "listed_device"
    elif low["stations"] is None:
        low["stations"] = (0.0, 100.0)
    else:
        low["stations"] = (low["stations"][0] + 5.0, low["stations"][1])
    return broken(f"low section of {low['run']} misstated", "trapped")


def hanger_misplaced(work: Work, rng: random.Random) -> Claim | None:
    """Hang a pipe that is not there, or hang a hanger beside its pipe."""
    hangers = work.route["hangers"]
    if not hangers:
        return None
    hanger = rng.choice(hangers)
    if rng.random() < 0.5:
        hanger["piece"] = "no such pipe"
    else:
        x, y, z = hanger["at"]
        hanger["at"] = (x, y, z + rng.choice((-1.0, 1.0)) * rng.uniform(1.0, 500.0))
    return broken(f"{hanger['id']} hangs nothing", "hangers")


def hangers_of_a_run_dropped(work: Work, rng: random.Random) -> Claim | None:
    """Leave out every hanger of a run that has several, where others still hang."""
    hangers = work.route["hangers"]
    runs = sorted({h["run"] for h in hangers if h["kind"] == "run"})
    runs = [r for r in runs if sum(h["run"] == r and h["kind"] == "run" for h in hangers) > 2]
    if not runs or len({h["run"] for h in hangers}) < 2:
        return None
    run = rng.choice(runs)
    work.route["hangers"] = [h for h in hangers if h["run"] != run]
    return broken(f"{run} hangs on nothing", "hangers")


def money_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write another price, or another number of large or wet drains."""
    counts = work.route["counts"]
    name = rng.choice(("price", "large_drains", "wet_drains"))
    counts[name] += 1
    return broken(f"{name} misstated", "counts")


LOWS = {
    "low section misstated": low_section_lied,
    "hanger misplaced": hanger_misplaced,
    "all hangers of a run dropped": hangers_of_a_run_dropped,
    "price or drains misstated": money_lied,
}
