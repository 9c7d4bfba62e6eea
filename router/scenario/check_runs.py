"""Cross checks on runs: the tree, the plans, bands and sizes."""

from __future__ import annotations

from itertools import pairwise
from math import dist
from typing import TYPE_CHECKING

from shapely.geometry import LineString, Point

from router.scenario.errors import Fault, number_text, value_text
from router.scenario.view import View, some

if TYPE_CHECKING:
    from collections.abc import Iterator

START_TOLERANCE_MM = 5.0
"""How far a child run's first plan point may lie off its parent's plan."""

SHORTEST_MM = 1.0
"""Two neighbouring plan points closer than this are one point."""


def run_supply(view: View) -> Iterator[Fault]:
    """Check that a run's supply is a run of the file."""
    for i, run in enumerate(view.scenario.runs):
        if run.supply is not None and not view.knows_run(run.supply):
            yield view.fault(
                ("runs", i, "supply"),
                f"run {run.id}",
                value_text(run.supply),
                "",
                f"no such run; runs are {some(list(view.runs))}",
            )


def run_cycle(view: View) -> Iterator[Fault]:
    """Check that runs form trees: nothing supplies itself."""
    reported: set[str] = set()
    position = {run.id: i for i, run in reversed(list(enumerate(view.scenario.runs)))}
    for start in view.runs:
        trail: list[str] = []
        current: str | None = start
        while current is not None and current in view.runs and current not in trail:
            trail.append(current)
            current = view.runs[current].supply
        if current is None or current not in trail or current in reported:
            continue
        ring = trail[trail.index(current) :]
        reported.update(ring)
        first = min(ring, key=lambda key: position[key])
        turn = ring.index(first)
        shown = " <- ".join([*ring[turn:], *ring[:turn], first])
        yield view.fault(
            ("runs", position[first], "supply"),
            f"run {first}",
            shown,
            "",
            "runs supply each other in a circle; one of them must be a root (no supply)",
        )


def run_plan(view: View) -> Iterator[Fault]:
    """Check that a plan has two points, no repeats, and does not meet itself."""
    for i, run in enumerate(view.scenario.runs):
        item = f"run {run.id}"
        if len(run.plan) < 2:
            yield view.fault(
                ("runs", i, "plan"), item, str(len(run.plan)), "points", "a plan needs at least 2 points"
            )
            continue
        repeated = False
        for k, (a, b) in enumerate(pairwise(run.plan)):
            if dist(a, b) < SHORTEST_MM:
                repeated = True
                yield view.fault(
                    ("runs", i, "plan", k + 1),
                    item,
                    number_text(dist(a, b)),
                    "mm",
                    f"repeated plan point, that far from the last; at least {SHORTEST_MM:g} mm expected",
                )
        length = LineString(run.plan).length
        if length < SHORTEST_MM:
            yield view.fault(
                ("runs", i, "plan"),
                item,
                number_text(length),
                "mm",
                "the plan has no length; more than 1 mm expected",
            )
        elif not repeated and _meets_itself(run.plan):
            yield view.fault(
                ("runs", i, "plan"),
                item,
                f"{len(run.plan)} points",
                "",
                "the plan crosses or touches itself; split it into runs",
            )


def _meets_itself(plan: list[tuple[float, float]]) -> bool:
    line = LineString(plan)
    return bool(not line.is_simple or line.is_ring)


def run_start(view: View) -> Iterator[Fault]:
    """Check that a child run starts on its parent's plan."""
    for i, run in enumerate(view.scenario.runs):
        if run.supply not in view.lines or run.supply == run.id or not run.plan:
            continue
        away = view.lines[run.supply].distance(Point(run.plan[0]))
        if away > START_TOLERANCE_MM:
            yield view.fault(
                ("runs", i, "plan", 0),
                f"run {run.id}",
                number_text(away),
                "mm",
                f"its first plan point lies that far off its supply {run.supply}; "
                f"at most {START_TOLERANCE_MM:g} mm",
            )


def run_band(view: View) -> Iterator[Fault]:
    """Check that a band is low to high and contains the nominal elevation."""
    for i, run in enumerate(view.scenario.runs):
        if run.band is None:
            continue
        low, high = run.band
        place, item = ("runs", i, "band"), f"run {run.id}"
        if low > high:
            yield view.fault(place, item, value_text(run.band), "mm", "reversed; lowest level first")
        elif not low <= run.elevation <= high:
            yield view.fault(
                place,
                item,
                value_text(run.band),
                "mm",
                f"does not contain the run's elevation {number_text(run.elevation)} mm",
            )


def run_supply_elevation(view: View) -> Iterator[Fault]:
    """Check that only a root run fixes its incoming level."""
    for i, run in enumerate(view.scenario.runs):
        if run.supply is not None and run.supply_elevation is not None:
            yield view.fault(
                ("runs", i, "supply_elevation"),
                f"run {run.id}",
                number_text(run.supply_elevation),
                "mm",
                f"only a root run may fix it; this one leaves {run.supply}",
            )


def run_size(view: View) -> Iterator[Fault]:
    """Check that a run is no smaller than arms and no larger than its supply."""
    least = view.scenario.rules.arm_size
    for i, run in enumerate(view.scenario.runs):
        if not isinstance(run.size, int):
            continue
        place, item = ("runs", i, "size"), f"run {run.id}"
        if run.size < least:
            yield view.fault(
                place,
                item,
                f"DN{run.size}",
                "",
                f"smaller than possible; arms are DN{least} (rules.arm_size)",
            )
        parent = view.runs.get(run.supply or "")
        if parent is not None and isinstance(parent.size, int) and parent.size < run.size:
            yield view.fault(
                place,
                item,
                f"DN{run.size}",
                "",
                f"larger than its supply {parent.id} (DN{parent.size}); sizes never grow downstream",
            )


def run_least_size(view: View) -> Iterator[Fault]:
    """Check that only a run by schedule has a least size, no larger than its supply's given size."""
    for i, run in enumerate(view.scenario.runs):
        if run.least_size is None:
            continue
        place, item, value = ("runs", i, "least_size"), f"run {run.id}", f"DN{run.least_size}"
        if isinstance(run.size, int):
            message = f'the size is given already (DN{run.size}); a least size needs size "schedule"'
            yield view.fault(place, item, value, "", message)
        parent = view.runs.get(run.supply or "")
        if parent is not None and isinstance(parent.size, int) and parent.size < run.least_size:
            message = f"larger than its supply {parent.id} (DN{parent.size}); sizes never grow downstream"
            yield view.fault(place, item, value, "", message)


def run_schedule(view: View) -> Iterator[Fault]:
    """Check that a run's own pipe schedule is one of the system's hazard."""
    hazard = view.scenario.system.hazard
    for i, run in enumerate(view.scenario.runs):
        if hazard == "light" and run.schedule == "long_spacing":
            message = f"{hazard} hazard has no such pipe schedule; {LIGHT_CASES}"
            yield view.fault(("runs", i, "schedule"), f"run {run.id}", '"long_spacing"', "", message)


LIGHT_CASES = '"standard" or "above_and_below" expected, or hazard "ordinary"'

CHECKS = (
    run_supply,
    run_cycle,
    run_plan,
    run_start,
    run_band,
    run_supply_elevation,
    run_size,
    run_least_size,
    run_schedule,
)
