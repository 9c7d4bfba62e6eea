"""What a random scenario has in it, by one word per thing, so that a reader sees how wide they go."""

from __future__ import annotations

from itertools import pairwise
from math import atan2, degrees
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.scenario.model import Run, Scenario


def mix(scenario: Scenario, unit: str) -> list[str]:
    """Give ``group: word`` for all that a scenario has."""
    system, rules, pins = scenario.system, scenario.rules, scenario.pins
    shape, dense, *spoiled = scenario.story.split(", ")
    out = {
        f"shape: {shape}",
        f"density: {dense}",
        f"system: {system.kind}",
        f"water: {system.water}",
        f"standard: {system.standard}",
        f"hazard: {system.hazard}",
        f"units: {unit}",
        f"joining: {system.joining if isinstance(system.joining, str) else 'by size'}",
        f"runs: {len(scenario.runs)}",
        f"heads: {_range(len(scenario.heads))}",
        f"spoiled: {spoiled[0].removeprefix('spoiled: ') if spoiled else 'no'}",
    }
    for head in scenario.heads:
        out.add(f"head: {'dry ' if head.dry else ''}{head.kind}")
        out |= {f"head: {name}" for name in ("shift", "exposed") if getattr(head, name)}
        out |= {"head: named run"} if head.run else set()
    for run in scenario.runs:
        out.add(f"size: {'schedule' if run.size == 'schedule' else 'given'}")
        out |= {f"run: {name}" for name in ("joining", "least_size", "supply_elevation", "schedule")
                if getattr(run, name) is not None}  # fmt: skip
        if run.band is not None and run.band[0] == run.band[1]:
            out.add("run: band of one level")
        pitch = system.pitch_branch if run.kind == "branch" else system.pitch_main
        out.add(f"pitch: {'by table' if pitch is None else 'level' if not pitch else 'given'}")
        out |= {f"angle in plan: {a}" for a in _bends(run)}
        parent = next((p for p in scenario.runs if p.id == run.supply), None)
        if parent is not None:
            turn = _turn(_direction(parent, run.plan[0]), _direction(run, run.plan[0]))
            out.add(f"angle to its main: {_angle(turn)}")
    turned = _angle(_direction(scenario.runs[0], scenario.runs[0].plan[0]) % 90)
    out.add(f"turned in plan: {'no' if turned in ('0', '90') else 'yes'}")
    out |= {f"obstruction: {o.kind}" for o in scenario.obstructions} or {"obstruction: none"}
    out |= {f"keep-out: {z.of}" for z in scenario.keep_out}
    out |= {"also: ceiling"} if scenario.ceilings else set()
    out |= {"also: prices"} if scenario.prices is not None else set()
    out |= {f"pinned: {name}" for pin in pins.heads.values() for name, value in pin if value is not None}
    out |= {f"pinned: run {name}" for pin in pins.runs.values() for name, value in pin if value}
    out |= {f"rule given: {name}" for name in sorted(rules.model_fields_set) if name != "tables"}
    out |= {f"weight given: {name}" for name in sorted(scenario.weights.model_fields_set)}
    return sorted(out)


def _range(heads: int) -> str:
    return next(f"{a} to {b}" for a, b in ((1, 4), (5, 8), (9, 16), (17, 40), (41, 999)) if heads <= b)


def _direction(run: Run, at: tuple[float, float]) -> float:
    """Return the direction of the piece of a run that a point lies on, degrees."""

    def off(a: tuple[float, float], b: tuple[float, float]) -> float:
        dx, dy = b[0] - a[0], b[1] - a[1]
        t = max(0.0, min(1.0, ((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / (dx * dx + dy * dy)))
        return (a[0] + t * dx - at[0]) ** 2 + (a[1] + t * dy - at[1]) ** 2

    a, b = min(pairwise(run.plan), key=lambda piece: off(*piece))
    return degrees(atan2(b[1] - a[1], b[0] - a[0]))


def _turn(one: float, other: float) -> float:
    return abs((other - one + 180.0) % 360.0 - 180.0)


def _bends(run: Run) -> list[str]:
    ways = [degrees(atan2(b[1] - a[1], b[0] - a[0])) for a, b in pairwise(run.plan)]
    return [_angle(_turn(a, b)) for a, b in pairwise(ways)]


def _angle(angle: float) -> str:
    usual = [a for a in (0, 30, 45, 60, 90, 120, 135, 150, 180) if abs(angle - a) < 0.1]
    return str(usual[0]) if usual else "another"
