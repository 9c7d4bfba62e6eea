"""What one route does otherwise for a head than another, and whether that is better, in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.compare.records import HeadDifference, HeadInRoute, Judgement

if TYPE_CHECKING:
    from router.scenario.model import Weights

STATION_MM = 1.0
"""Outlets closer than this are in one place."""
PIPE_M = 0.001
POINTS = 0.01
"""Costs closer than this are equal."""


def difference(name: str, first: HeadInRoute, other: HeadInRoute, weights: Weights) -> HeadDifference:
    """Judge how ``other`` (of route ``name``) serves a head against the first route.

    A way that breaks a rule is never called better; between two that do, neither.
    """
    changes = _changes(first, other)
    judgement, why = _judge(first, other, weights, changes)
    return HeadDifference(route=name, judgement=judgement, changes=changes, why=why)


def _judge(
    first: HeadInRoute, other: HeadInRoute, weights: Weights, changes: list[str]
) -> tuple[Judgement, str]:
    amounts = _amounts(first, other)
    if not first.served and not other.served:
        return "same", "served in neither"
    if first.served != other.served:
        with_it, without = (other, "the first route") if other.served else (first, "this route")
        where = "this route" if other.served else "the first route"
        if with_it.breaks:
            return "neither", f"{without} does not serve it; {where} breaks a rule there: {with_it.breaks[0]}"
        return ("better" if other.served else "worse"), f"{without} does not serve it"
    if first.breaks and other.breaks:
        return "neither", f"both break a rule there; this one: {other.breaks[0]}"
    if first.breaks:
        return "better", _joined(amounts, f"the first route breaks a rule there: {first.breaks[0]}")
    if other.breaks:
        return "worse", _joined(amounts, f"this route breaks a rule there: {other.breaks[0]}")
    if not changes:
        return "same", "made alike"
    gain = _cost(first, weights) - _cost(other, weights)
    if abs(gain) <= POINTS:
        return "equal", _joined(amounts, "the same cost for this head")
    return ("better" if gain > 0 else "worse"), _joined(amounts, "")


def _joined(amounts: list[str], more: str) -> str:
    listed = ", ".join(amounts)
    return "; ".join(part for part in (listed, more) if part)


def _cost(head: HeadInRoute, weights: Weights) -> float:
    """Points of a head's takeoff, its share where it has it with others; the length is its own way's."""
    heads = 1 + len(head.shared_with)
    hose = weights.hose if head.style == "flexible_drop" else 0.0
    whole = weights.fitting * head.fittings + weights.hanger * head.hangers
    return whole / heads + weights.reducer * head.reducers + hose + weights.pipe * head.pipe_m


def share(head: HeadInRoute) -> float:
    """Fittings that a head accounts for: its takeoff's, shared among its heads."""
    return head.fittings / (1 + len(head.shared_with))


def _amounts(first: HeadInRoute, other: HeadInRoute) -> list[str]:
    """How much more or less of what: ``2 fittings fewer``, ``0.40 m more pipe``."""
    found: list[str] = []
    if not (first.served and other.served):
        return found
    for more, noun in (
        (share(other) - share(first), "fitting"),
        (other.reducers - first.reducers, "reducer"),
        (
            other.hangers / (1 + len(other.shared_with)) - first.hangers / (1 + len(first.shared_with)),
            "hanger",
        ),
    ):
        if abs(more) > 1e-6:
            number = f"{abs(more):.2f}".rstrip("0").rstrip(".")
            plural = "" if abs(more) == 1 else "s"
            found.append(f"{number} {noun}{plural} {'more' if more > 0 else 'fewer'}")
    if found and (first.shared_with or other.shared_with):
        found[-1] += " (what heads share is divided among them)"
    pipe = other.pipe_m - first.pipe_m
    if abs(pipe) > PIPE_M:
        found.append(f"{abs(pipe):.2f} m {'more' if pipe > 0 else 'less'} pipe")
    return found


def _changes(first: HeadInRoute, other: HeadInRoute) -> list[str]:
    """List what is made otherwise, each as ``what: before -> after``."""
    if not first.served and not other.served:
        return []
    if first.served != other.served:
        return ["served -> not served" if first.served else "not served -> served"]
    found: list[str] = []
    for what, a, b in (
        ("style", first.style, other.style),
        ("run", first.run, other.run),
        ("side", first.side, other.side),
    ):
        if a != b:
            found.append(f"{what}: {_plain(a)} -> {_plain(b)}")
    for what, before, after in (
        ("station", first.station, other.station),
        ("level of the run", first.level, other.level),
    ):
        if before is not None and after is not None and abs(before - after) > STATION_MM:
            found.append(f"{what}: {before:,.0f} -> {after:,.0f} mm")
    if sorted(first.shared_with) != sorted(other.shared_with):
        with_a, with_b = ", ".join(first.shared_with) or "none", ", ".join(other.shared_with) or "none"
        found.append(f"shares its takeoff with: {with_a} -> {with_b}")
    if first.fittings != other.fittings:
        found.append(f"fittings of its takeoff: {first.fittings} -> {other.fittings}")
    if first.hangers != other.hangers:
        found.append(f"hangers of its takeoff: {first.hangers} -> {other.hangers}")
    if abs(first.pipe_m - other.pipe_m) > PIPE_M:
        found.append(f"pipe: {first.pipe_m:.2f} -> {other.pipe_m:.2f} m")
    return found


def _plain(name: str | None) -> str:
    return (name or "none").replace("_", " ")
