"""Cross checks on what the system says of pressure, pipe schedule and joining by size."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.scenario.check_runs import LIGHT_CASES
from router.scenario.errors import Fault, Path, number_text
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.scenario.view import View


def system_pressure(view: View) -> Iterator[Fault]:
    """Check that the static pressure is above 0."""
    pressure = view.scenario.system.pressure
    if pressure is not None and pressure <= 0:
        message = "more than 0 expected, static pressure at the heads"
        yield view.fault(("system", "pressure"), "system", number_text(pressure), "bar", message)


def system_schedule(view: View) -> Iterator[Fault]:
    """Check that the pipe schedule is one of the hazard."""
    system = view.scenario.system
    if system.hazard == "light" and system.schedule == "long_spacing":
        message = f"light hazard has no such pipe schedule; {LIGHT_CASES}"
        yield view.fault(("system", "schedule"), "system", '"long_spacing"', "", message)


def system_joining(view: View) -> Iterator[Fault]:
    """Check that joining by size goes from small to large and leaves no size out."""
    system = view.scenario.system
    if isinstance(system.joining, str):
        return
    made = Tables(standard=system.standard).sizes
    sizes = ", ".join(map(str, made))
    below = 0
    for k, each in enumerate(system.joining):
        place: Path = ("system", "joining", k, "up_to")
        last = k == len(system.joining) - 1
        if each.up_to is None:
            if not last:
                message = "up_to is missing; only the last range leaves it out (for all larger sizes)"
                yield view.fault(place, "system", "", "", message)
            continue
        value = f"DN{each.up_to}"
        if each.up_to not in made:
            yield view.fault(
                place, "system", value, "", f"no {system.standard} pipe is made in it; DN {sizes}"
            )
        if each.up_to <= below:
            message = f"not above the range before it (up to DN{below}); smallest sizes first"
            yield view.fault(place, "system", value, "", message)
        elif last:
            message = "the last range leaves up_to out, so that all larger sizes are joined too"
            yield view.fault(place, "system", value, "", message)
        below = max(below, each.up_to)


CHECKS = (system_pressure, system_schedule, system_joining)
