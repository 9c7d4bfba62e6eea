"""New heads and obstructions take the place of a scenario's own; all else of it stays."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from router.readers.floor import ImportResult, solid_records
from router.readers.report import ImportReport
from router.readers.same import same_ids
from router.readers.spelled.kinds import solid_kind
from router.scenario.errors import Fault, ScenarioError, number_text
from router.scenario.model import Head
from router.scenario.read import parse_scenario
from router.scenario.write import scenario_data

if TYPE_CHECKING:
    from router.readers.drawn import Drawn, DrawnHead
    from router.scenario.model import Scenario


def into(base: Scenario, drawn: Drawn) -> ImportResult:
    """Put what was drawn in place of a scenario's heads and obstructions.

    Parameters
    ----------
    base
        Its runs, rules, weights, prices, ceilings and keep-out zones stay; so do its heads where
        ``drawn`` has none, and its obstructions of each kind of which ``drawn`` has none.
    drawn
        A head or obstruction that is known keeps its id and the fields of which the new one says nothing.
        Known it is by its GlobalId, or by its id where one of the two has no GlobalId. Its pipes are a
        person's route.

    Returns
    -------
    ImportResult
        The report has a sentence for what came, went and was dropped.

    Raises
    ------
    ScenarioError
        If the two contradict each other (a head on a run that is none, inside an obstruction ...),
        or nothing says how the places of one lie to those of the other.
    """
    if drawn.shift != (0.0, 0.0, 0.0):
        told = ", ".join(number_text(value) for value in drawn.shift)
        message = (
            "lies far from its origin, and where the scenario's origin lies in it is not known; "
            "origin in the mapping expected, as the notes of the first import say it"
        )
        raise ScenarioError([Fault(drawn.source, "origin", told, "mm", message)], drawn.source)
    data = scenario_data(base)
    report = ImportReport(source=drawn.source, notes=list(drawn.notes))
    pipes = list(drawn.pipes)
    if drawn.pipes:
        report.notes.append(
            "the runs of the scenario stay: pipes that were drawn are only a route to compare with"
        )
    if drawn.heads:
        old = {record["id"]: record for record in data["heads"]}
        runs = {run.id for run in base.runs}
        asked = [(head.id, head.given.get("guid")) for head in drawn.heads]
        ids = same_ids(data["heads"], asked, "heads", report.notes)
        heads = [replace(head, id=name) for head, name in zip(drawn.heads, ids, strict=True)]
        data["heads"] = [_head(head, old.get(head.id, {}), runs, report.notes) for head in heads]
        _tell("heads", old, data["heads"], {guid for _, guid in asked if guid}, report.notes)
        _pins(data, set(ids), report.notes)
        now = dict(zip((head.id for head in drawn.heads), ids, strict=True))
        pipes = [replace(p, heads=tuple(now.get(head, head) for head in p.heads)) for p in pipes]
    if drawn.solids:
        old_ones = data.get("obstructions", [])
        known = {record["id"]: record for record in old_ones}
        asked = [(solid.id, solid.guid) for solid in drawn.solids]
        ids = same_ids(old_ones, asked, "obstructions", report.notes)
        solids = [replace(solid, id=name) for solid, name in zip(drawn.solids, ids, strict=True)]
        records = solid_records(solids, data["runs"], data["heads"], report.notes, built=False)
        records = [_solid(record, known.get(record["id"], {})) for record in records]
        replaced, stay = _by_kind(old_ones, records)
        data["obstructions"] = stay + records
        report.left_out_obstructions = max(0, len(drawn.solids) - len(records))
        known = {record["id"]: record for record in replaced}
        _tell("obstructions", known, records, {guid for _, guid in asked if guid}, report.notes)
        if stay:
            kinds = ", ".join(sorted({record["kind"] for record in stay}))
            report.notes.append(f"{len(stay)} obstructions of kinds of which nothing was found stay: {kinds}")
    if not drawn.heads and not drawn.solids:
        report.notes.append("neither heads nor obstructions were found: all stays" + drawn.hint("heads"))
    scenario = parse_scenario(data, drawn.source)
    report.heads, report.runs, report.obstructions = (
        len(scenario.heads),
        len(scenario.runs),
        len(scenario.obstructions),
    )
    report.roots = sum(1 for run in scenario.runs if run.supply is None)
    return ImportResult(scenario, report, pipes)


def _head(head: DrawnHead, old: dict[str, Any], runs: set[str], notes: list[str]) -> dict[str, Any]:
    # a record leaves its defaults out, but they are known all the same
    known = {name: Head.model_fields[name].default for name in ("kind", "thread")}
    record: dict[str, Any] = {**known, **old} if old else {"kind": head.kind, "thread": head.thread}
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


def _solid(new: dict[str, Any], old: dict[str, Any]) -> dict[str, Any]:
    record = {**old, **new}
    if new["kind"] == "obstruction" and "kind" in old:
        record["kind"] = old["kind"]
    return record


def _by_kind(
    old: list[dict[str, Any]], new: list[dict[str, Any]]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Part the old obstructions: those that the new ones replace, and those of other kinds, which stay.

    A model of ducts says nothing of beams. New ones that do not say what they are
    replace all.
    """
    kinds = {solid_kind(record["kind"]) for record in new}
    names = {record["id"] for record in new}
    every = "obstruction" in kinds
    stay = [
        r for r in old if not every and solid_kind(r.get("kind", "")) not in kinds and r["id"] not in names
    ]
    staying = {record["id"] for record in stay}
    return [record for record in old if record["id"] not in staying], stay


def _tell(
    what: str,
    old: dict[str, dict[str, Any]],
    new: list[dict[str, Any]],
    guids: set[str],
    notes: list[str],
) -> None:
    """Tell what is known, new and gone; ``guids``: those that the new file says."""
    names = {record["id"] for record in new}
    gone = [name for name in old if name not in names]
    came = [record["id"] for record in new if record["id"] not in old]
    kept = [record for record in new if record["id"] in old]
    by_guid = sum(
        1 for each in kept if each.get("guid") in guids and each["guid"] == old[each["id"]].get("guid")
    )
    known = f"{len(kept)} known"
    if guids:
        known += f" ({by_guid} by GlobalId, {len(kept) - by_guid} by id)"
    notes.append(f"{what}: {known}, {len(came)} new{_names(came)}, {len(gone)} gone{_names(gone)}")


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
