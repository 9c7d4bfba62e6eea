"""Mutations of what a route says of its low sections and their drains."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mutant_work import Claim, Record, Work, broken

if TYPE_CHECKING:
    import random

DRAINS = {
    "valve_and_plug": "drain",
    "two_valves_and_condensate_nipple": "large_drain",
    "nipple_and_cap": "wet_drain",
    "wet_valve_and_plug": "wet_drain",
    "piped_valve": "wet_drain",
}
"""Every drain and the term of the objective that it counts as."""
LITRES_PER_GALLON = 3.785411784


def _books(work: Work) -> None:
    work.keep_drains()
    work.keep_counts()
    work.keep_objective()


def low_section_dropped(work: Work, rng: random.Random) -> Claim | None:
    """Leave a low section out; half the time counts, price and objective follow."""
    lows = work.route["low_sections"]
    low = rng.choice(lows)
    lows.remove(low)
    if rng.random() < 0.5:
        _books(work)
    return broken(f"{low['run']} holds water", "trapped")


def low_section_invented(work: Work, rng: random.Random) -> Claim | None:
    """Put one in that is none, or one that is there a second time; half the time the books follow."""
    lows = work.route["low_sections"]
    if lows:
        lows.append(dict(rng.choice(lows)))
    else:
        wet = work.scenario["system"]["kind"] == "wet"
        low: Record = {
            "run": rng.choice(work.runs)["id"],
            "stations": rng.choice([None, (0.0, 100.0)]),
            "lowest": (0.0, 0.0, 0.0),
            "volume_l": rng.uniform(0.1, 5.0),
            "drain": "nipple_and_cap" if wet else "valve_and_plug",
            "text": "a drain",
            "counts_as": "wet_drain" if wet else "drain",
            "source": "",
            "grade": "C",
        }
        lows.append(low)
    if rng.random() < 0.5:
        _books(work)
    return broken("a low section that is none", "trapped")


def low_volume_lied(work: Work, rng: random.Random) -> Claim | None:
    """Write more or less water, half the time just more than the slack of 0.01 l."""
    low = rng.choice(work.route["low_sections"])
    by = rng.choice((-1.0, 1.0)) * (low["volume_l"] * rng.uniform(0.2, 0.9) + 0.1)
    if rng.random() < 0.5 and low["volume_l"] < 90.0:
        by = rng.choice((-0.02, 0.02))
    low["volume_l"] += by
    return broken(f"{low['run']} holds {by:+.2f} l less than is said", "trapped")


def low_drain_swapped(work: Work, rng: random.Random) -> Claim | None:
    """Give a low section another drain, or let it count as another; half the time the books follow."""
    low = rng.choice(work.route["low_sections"])
    if rng.random() < 0.7:
        low["drain"] = rng.choice([name for name in DRAINS if name != low["drain"]])
        low["counts_as"] = DRAINS[low["drain"]]
    else:
        low["counts_as"] = rng.choice([c for c in (*DRAINS.values(), None) if c != low["counts_as"]])
    if rng.random() < 0.5:
        _books(work)
    return broken(f"{low['run']}: its water asks for another drain", "trapped")


def low_section_moved(work: Work, rng: random.Random) -> Claim | None:
    """Say that a low section is elsewhere: other stations, all of the run or part of it, another run."""
    low = rng.choice(work.route["low_sections"])
    others = [r["id"] for r in work.runs if r["id"] != low["run"]]
    if others and rng.random() < 0.3:
        low["run"] = rng.choice(others)
    elif low["stations"] is None:
        low["stations"] = (0.0, 100.0)
    elif rng.random() < 0.3:
        low["stations"] = None
    else:
        k = rng.randrange(2)
        by = rng.choice((-1.5, 1.5, 200.0))
        low["stations"] = tuple(s + (by if j == k else 0.0) for j, s in enumerate(low["stations"]))
    return broken(f"low section of {low['run']} is not there", "trapped")


def drain_limit_lowered(work: Work, rng: random.Random) -> Claim | None:
    """Let the scenario ask for the larger drain from the very volume on that a low section holds."""
    low = rng.choice(work.route["low_sections"])
    row = {
        "valve_and_plug": ("drain_volume_dry", "two valves"),
        "nipple_and_cap": ("drain_volume_wet", "valve"),
    }.get(low["drain"])
    if row is None:
        return None
    tables = work.scenario["rules"]["tables"]
    tables[row[0]] = {**tables.get(row[0], {}), row[1]: low["volume_l"] / LITRES_PER_GALLON * 0.999}
    return broken(f"{low['run']} holds more than its drain is for", "trapped")


def drains_miscounted(work: Work, rng: random.Random) -> Claim | None:
    """Write another number of drains, the objective follows."""
    counts = work.route["counts"]
    name = rng.choice(("drains", "large_drains", "wet_drains"))
    counts[name] += 1
    if rng.random() < 0.5:
        work.keep_price()
        work.keep_objective()
    return broken(f"{name} misstated", "counts")


LOWS = {
    "low section dropped": low_section_dropped,
    "low section invented": low_section_invented,
    "volume of a low section misstated": low_volume_lied,
    "drain of a low section exchanged": low_drain_swapped,
    "low section misplaced": low_section_moved,
    "limit of a drain lowered": drain_limit_lowered,
    "drains miscounted": drains_miscounted,
}
