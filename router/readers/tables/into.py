"""New heads and obstructions take the place of a scenario's own; all else of it stays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.scenario.read import parse_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from router.readers.drawn import Drawn, DrawnHead, DrawnSolid
    from router.scenario.model import Scenario


def into(base: Scenario, drawn: Drawn) -> Scenario:
    """Put what was drawn in place of a scenario's heads and obstructions.

    Parameters
    ----------
    base
        Its runs, rules, weights, prices, ceilings and keep-out zones stay; so do its heads where
        ``drawn`` has none, and its obstructions likewise.
    drawn
        A head or obstruction whose id is known keeps the fields of which the new row says nothing.
        Its ``notes`` get a sentence for what came, went and was dropped. Its pipes are not used.

    Returns
    -------
    Scenario

    Raises
    ------
    ScenarioError
        If the two contradict each other (a head on a run that is none, inside an obstruction ...).
    """
    data = scenario_data(base)
    if drawn.pipes:
        drawn.notes.append("the runs of the scenario stay: pipes of the tables are not used")
    if drawn.heads:
        old = {record["id"]: record for record in data["heads"]}
        runs = {run.id for run in base.runs}
        data["heads"] = [_head(head, old.get(head.id, {}), runs, drawn.notes) for head in drawn.heads]
        _tell("heads", list(old), [head.id for head in drawn.heads], drawn.notes)
        _pins(data, {head.id for head in drawn.heads}, drawn.notes)
    if drawn.solids:
        solids = {record["id"]: record for record in data.get("obstructions", [])}
        data["obstructions"] = [_solid(solid, solids.get(solid.id, {})) for solid in drawn.solids]
        _tell("obstructions", list(solids), [solid.id for solid in drawn.solids], drawn.notes)
    return parse_scenario(data, drawn.source)


def _head(head: DrawnHead, old: dict[str, Any], runs: set[str], notes: list[str]) -> dict[str, Any]:
    record: dict[str, Any] = {"kind": head.kind, "thread": head.thread, **old}
    record |= {"id": head.id, "at": list(head.at), **head.given}
    if head.line and "run" not in head.given:
        if head.line in runs:
            record["run"] = head.line
        else:
            stays = f"stays on run {old['run']}" if "run" in old else "is served by the nearest run"
            notes.append(f"head {head.id}: its line {head.line} is no run of the scenario; it {stays}")
    if record["kind"] != "sidewall":
        record.pop("facing", None)
    elif head.facing is not None:
        record["facing"] = head.facing
    if not record.get("dry") and "exposed" not in head.given:
        record.pop("exposed", None)
    return record


def _solid(solid: DrawnSolid, old: dict[str, Any]) -> dict[str, Any]:
    record: dict[str, Any] = {**old, "id": solid.id}
    if solid.kind != "obstruction" or "kind" not in old:
        record["kind"] = solid.kind
    record |= {"polygon": [list(corner) for corner in solid.corners], "elevations": [solid.low, solid.high]}
    if solid.clearance is not None:
        record["clearance"] = solid.clearance
    return record


def _tell(what: str, old: list[str], new: list[str], notes: list[str]) -> None:
    gone = [name for name in old if name not in set(new)]
    came = [name for name in new if name not in set(old)]
    kept = len(new) - len(came)
    notes.append(f"{what}: {kept} known, {len(came)} new{_names(came)}, {len(gone)} gone{_names(gone)}")


def _pins(data: dict[str, Any], heads: set[str], notes: list[str]) -> None:
    """Drop the pins of heads that are gone."""
    pins = data.get("pins", {}).get("heads", {})
    gone = [name for name in pins if name not in heads]
    for name in gone:
        del pins[name]
    if gone:
        notes.append(f"pins of heads that are gone were dropped: {', '.join(gone)}")


def _names(names: list[str]) -> str:
    if not names:
        return ""
    return f" ({', '.join(names[:6])}{f' and {len(names) - 6} more' if len(names) > 6 else ''})"
