"""Every check that looks at more than one field; one function per rule."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.scenario import (
    check_heads,
    check_items,
    check_pins,
    check_places,
    check_prices,
    check_rules,
    check_runs,
    check_system,
)

if TYPE_CHECKING:
    from router.scenario.errors import Fault
    from router.scenario.view import Check, View

CHECKS: tuple[Check, ...] = (
    *check_items.CHECKS,
    *check_runs.CHECKS,
    *check_heads.CHECKS,
    *check_system.CHECKS,
    *check_rules.CHECKS,
    *check_places.CHECKS,
    *check_pins.CHECKS,
    *check_prices.CHECKS,
)


def cross_checks(view: View) -> list[Fault]:
    """Run all cross checks.

    Parameters
    ----------
    view
        A scenario in mm, and where its items stand in the file.

    Returns
    -------
    list of Fault
        All faults, check by check.
    """
    return [fault for check in CHECKS for fault in check(view)]
