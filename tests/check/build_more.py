"""More routes by hand: priced, hung, stepped down in a coupling, with large and wet drains."""

from __future__ import annotations

from typing import Any

from build import IN, Draft, dry_line, line

PRICES: dict[str, Any] = {
    "currency": "EUR",
    "minute": 0.5,
    "pipe": {"25": {"price": 4.0, "minutes": 6.0}, "32": {"price": 5.5}},
    "fittings": {
        "tee": {"32": {"price": 6.0, "minutes": 10.0}, "other": {"price": 9.0}},
        "elbow_90": {"25": {"price": 3.0}, "32": {"minutes": 8.0}},
        "elbow_45": {"other": {"price": 7.0}},
        "reducer": {"other": {"price": 1.5}},
        "reducing_coupling": {"32": {"price": 2.5, "minutes": 4.0}},
        "outlet": {"25": {"price": 5.0}},
    },
    "hanger": {"price": 4.0, "minutes": 12.0},
    "drain": {"price": 30.0},
    "large_drain": {"price": 25.0, "minutes": 5.0},
    "wet_drain": {"price": 8.0},
}
"""Invented; sizes are written as plain DN, since the sums of these tests look them up so."""


def priced() -> Draft:
    """The line with its prices and hangers; a unit of currency is worth 2 points."""
    draft = line(prices=PRICES, weights={"unserved": 1e6, "price": 2.0})
    draft.hang = True
    return draft


def cheapest() -> Draft:
    """The dry line where only the price counts; it holds enough water for two valves at its low point."""
    small = {"drain_volume_dry": {"two valves": 0.5}}  # gal: 1.9 l
    return dry_line(prices={**PRICES, "as_objective": True}, rules={"tables": small})


def stepped() -> Draft:
    """A butt welded line of three heads that goes from DN32 to DN25 in a coupling after its first outlet.

    By the pipe schedule DN25 feeds two heads, DN32 three (light hazard, steel).
    """
    z = 3000.0
    draft = Draft(
        {
            "system": {"joining": "welded"},
            "prices": PRICES,
            "runs": [{"id": "R", "plan": [(0, 0), (6000, 0)], "elevation": z}],
            "heads": [
                {"id": "H1", "at": (1000, 400, 2600)},
                {"id": "H2", "at": (4000, -400, 2600)},
                {"id": "H3", "at": (6000, 0, 2600)},
            ],
        }
    )
    for name, head, x, y, way, back, dn in (
        ("T1", "H1", 1000.0, 400.0, "+y", "-y", 32),
        ("T2", "H2", 4000.0, -400.0, "-y", "+y", 25),
    ):
        draft.fit(f"{name}/o", "outlet", (x, 0.0, z), [way], [25], name, "R")
        draft.fit(f"{name}/e", "elbow_90", (x, y, z), [back, "-z"], [25, 25], name, "R")
        draft.fit(f"{name}/r", "reducer", (x, y, 2600.0), ["+z", "-z"], [25, 15], name, "R")
        draft.pipe(f"{name}/arm", "arm", (f"{name}/o", f"{name}/e"), 25, name, "R")
        if dn == 25:  # the outlet stands on a pipe of 1.315 in. outside, not of 1.66 in.
            draft.pieces[f"{name}/arm"]["make_up"] += (1.66 - 1.315) / 2 * IN
        draft.pipe(f"{name}/drop", "drop", (f"{name}/e", f"{name}/r"), 25, name, "R")
        draft.take(name, "side_arm", x, "left" if y > 0 else "right", z, heads=[head], arm_level=z)
    draft.fit("R/c", "reducing_coupling", (2500.0, 0.0, z), ["-x", "+x"], [32, 25], "R", "R")
    draft.fit("T3/e", "elbow_90", (6000.0, 0.0, z), ["-x", "-z"], [25, 25], "T3", "R")
    draft.fit("T3/r", "reducer", (6000.0, 0.0, 2600.0), ["+z", "-z"], [25, 15], "T3", "R")
    draft.pipe("T3/drop", "drop", ("T3/e", "T3/r"), 25, "T3", "R")
    draft.take("T3", "straight_drop", 6000.0, "bottom", z, heads=["H3"], ends_run=True)
    draft.pipe("R/0", "run", ((0.0, 0.0, z), "R/c"), 32, "R", "R")
    draft.pipe("R/1", "run", ("R/c", "T3/e"), 25, "R", "R")
    # Welded: no thread goes into a fitting; the long-radius elbow takes 1.5 in. (ASME B16.9).
    draft.pieces["R/0"]["make_up"] = 2500.0 - 1.0 * IN
    draft.pieces["R/1"]["make_up"] = 3500.0 - (1.0 + 1.5) * IN
    draft.pieces["T3/drop"]["make_up"] = 400.0 - (1.5 + 1.69 - 2 * 0.661) * IN
    draft.build("R", [(0.0, z), (6000.0, z)])
    draft.hang = True
    return draft


def sunk() -> Draft:
    """A wet main that ends in a branch 150 below it, whose one head is an upright: a low section."""
    z, low = 3000.0, 2850.0
    draft = Draft(
        {
            "prices": PRICES,
            "runs": [
                {"id": "M", "kind": "main", "plan": [(0, 0), (1500, 0)], "elevation": z, "size": 32},
                {"id": "B", "plan": [(1500, 0), (1500, 2000)], "elevation": low, "size": 32, "supply": "M"},
            ],
            "heads": [{"id": "H1", "at": (1500, 2000, 3100), "kind": "upright"}],
        }
    )
    draft.fit("TB/end", "elbow_90", (1500.0, 0.0, z), ["-x", "-z"], [32, 32], "TB", "M")
    draft.fit("TB/e", "elbow_90", (1500.0, 0.0, low), ["+z", "+y"], [32, 32], "TB", "M")
    draft.pipe("TB/nipple", "nipple", ("TB/end", "TB/e"), 32, "TB", "M")
    draft.take("TB", "run_takeoff", 1500.0, "bottom", z, run="M", child_runs=["B"], ends_run=True)
    draft.fit("T1/e", "elbow_90", (1500.0, 2000.0, low), ["-y", "+z"], [32, 25], "T1", "B")
    draft.fit("T1/r", "reducer", (1500.0, 2000.0, 3100.0), ["-z", "+z"], [25, 15], "T1", "B")
    draft.pipe("T1/sprig", "sprig", ("T1/e", "T1/r"), 25, "T1", "B")
    draft.take("T1", "sprig", 2000.0, "top", low, run="B", heads=["H1"], ends_run=True)
    draft.pipe("M/0", "run", ((0.0, 0.0, z), "TB/end"), 32, "M", "M")
    draft.pipe("B/0", "run", ("TB/e", "T1/e"), 32, "B", "B")
    draft.build("M", [(0.0, z), (1500.0, z)])
    draft.build("B", [(0.0, low), (2000.0, low)])
    draft.hang = True
    return draft
