"""What was drawn becomes a scenario: mains and branch lines as trees of runs, heads, obstructions.

Pipes are joined where their axes meet across the gaps that fittings leave, cut
into runs, and hung up as trees from their supply ends. As-built arms do not go
into the scenario (how a head leaves its line is what we compute); with the
lines they are the route that a person drew.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from shapely.geometry import LineString

from router.readers.as_drawn import clear_of_drops, yield_to_lines
from router.readers.chains import grow
from router.readers.joints import join
from router.readers.line_ends import LineEnds
from router.readers.report import ImportReport
from router.readers.roles import with_roles
from router.readers.run_records import BAND_MM, REACH_MM, Runs, head_record, lines_near, some
from router.readers.solids import obstructions
from router.readers.strays import stray_bodies
from router.scenario.errors import Fault, ScenarioError, number_text
from router.scenario.model import Rules
from router.scenario.read import parse_scenario
from router.trade.sizes import SIZES

if TYPE_CHECKING:
    from router.readers.drawn import Drawn, DrawnPipe, DrawnSolid
    from router.scenario.model import Scenario

PIPE_MM = 150.0
"""What a run takes on either side of its axis at most: half of the largest pipe, and room around it."""
ARMS = ("head_arm", "hose")


@dataclass(frozen=True)
class ImportResult:
    """A checked scenario in mm and what the import did.

    ``drawing``: the pipes of the person's route, empty where none of them leads to a head.
    """

    scenario: Scenario
    report: ImportReport
    drawing: list[DrawnPipe] = field(default_factory=list)


def floor(drawn: Drawn, name: str | None = None) -> ImportResult:
    """Make a scenario of what was drawn.

    Parameters
    ----------
    drawn
        At least one head, and at least one pipe or run; lengths in mm, sizes as DN.
    name
        Name of the scenario; default: the one that the files give, else their source's.

    Returns
    -------
    ImportResult

    Raises
    ------
    ScenarioError
        If there is nothing to make a scenario of, or what was drawn contradicts itself.
    """
    faults = []
    if not drawn.heads:
        faults.append(
            Fault(drawn.source, "", "0", "heads", "at least one head expected" + drawn.hint("heads"))
        )
    if not drawn.runs and not any(pipe.role not in ARMS for pipe in drawn.pipes):
        faults.append(
            Fault(
                drawn.source,
                "",
                "0",
                "pipes",
                "at least one pipe of a main or branch line expected" + drawn.hint("pipes"),
            )
        )
    if faults:
        raise ScenarioError(faults, drawn.source)
    settings = dict(drawn.settings)
    settings["name"] = name or settings.get("name") or drawn.source
    report = ImportReport(source=settings["name"], heads=len(drawn.heads), notes=list(drawn.notes))
    made = _as_given(drawn, report) if drawn.runs else _from_pipes(drawn, settings, report)
    data = {**settings, "units": "mm", **made}
    for key in ("ceilings", "keep_out"):
        if getattr(drawn, key):
            data[key] = list(getattr(drawn, key))
    report.runs, report.obstructions = len(data["runs"]), len(data["obstructions"])
    report.roots = sum(1 for run in data["runs"] if "supply" not in run)
    # what a line cuts in two counts twice
    report.left_out_obstructions = max(0, len(drawn.solids) - report.obstructions)
    return ImportResult(parse_scenario(data, drawn.source), report, report.drawing)


def _as_given(drawn: Drawn, report: ImportReport) -> dict[str, Any]:
    """Take runs that the files give as runs; all pipe beside them is a person's route."""
    heads = [head_record(head) for head in drawn.heads]
    report.drawing = list(drawn.pipes)
    solids = solid_records(drawn.solids, drawn.runs, heads, report.notes, built=False)
    return {"runs": list(drawn.runs), "heads": heads, "obstructions": solids}


def _from_pipes(drawn: Drawn, settings: dict[str, Any], report: ImportReport) -> dict[str, Any]:
    """Find the runs among pipes."""
    if not all(pipe.role and (pipe.line or pipe.role != "branch") for pipe in drawn.pipes) or not any(
        head.line for head in drawn.heads
    ):
        drawn = with_roles(drawn, report.notes)
    arms = [pipe for pipe in drawn.pipes if pipe.role in ARMS]
    lines = [pipe for pipe in drawn.pipes if pipe.role not in ARMS]
    report.pipes, report.arms_ignored = len(lines), len(arms)
    report.drawing = list(drawn.pipes) if arms else []
    capped = [f"pipe {pipe.id} (DN{pipe.dn})" for pipe in lines if pipe.dn > SIZES[-1]]
    if capped:
        report.notes.append(f"larger than any size of ours, taken as DN{SIZES[-1]}: {some(capped)}")
    lines = [replace(pipe, dn=min(pipe.dn, SIZES[-1])) for pipe in lines]
    network = join(lines)
    report.joints = network.joints
    known = Counter(head.line for head in drawn.heads if head.line)
    # heads whose arms are not drawn yet go to whatever is nearest; their lines are wanted too
    known.update(lines_near([head for head in drawn.heads if not head.line], lines))
    forest = grow(network, known)
    report.notes += forest.notes
    if not forest.chains:
        message = "no branch line leads to a head; arms, or roles and lines of the pipes expected"
        raise ScenarioError([Fault(drawn.source, "", f"{len(lines)}", "pipes", message)], drawn.source)
    builder = Runs(forest.chains, drawn.heads, lines, LineEnds(arms), report)
    runs = builder.records()
    kept_edges = {key for number in builder.kept for key in forest.chains[number].edges}
    kept_pipes = {network.edges[key].pipe.id for key in kept_edges}
    report.left_out_pipes = len(lines) - len(kept_pipes)
    heads = builder.heads()
    strays = stray_bodies([pipe for pipe in lines if pipe.id not in kept_pipes], report.notes)
    solids = solid_records([*drawn.solids, *strays], runs, heads, report.notes, built=True)
    if "rules" not in settings:
        settings["rules"] = {"reach": REACH_MM}
        report.notes.append(
            f"rules.reach, how far a takeoff may reach, is set to {number_text(REACH_MM)} mm, "
            f"not to its default {number_text(Rules().reach)} mm"
        )
    if "system" not in settings:
        settings["system"] = {"kind": "wet", "hazard": "light", "water": "clean"}
        report.notes.append(
            "the kind of system, its hazard and whether its water is clean were not drawn: "
            "taken as wet, light, clean"
        )
    return {"runs": runs, "heads": heads, "obstructions": solids}


def solid_records(
    solids: list[DrawnSolid],
    runs: list[dict[str, Any]],
    heads: list[dict[str, Any]],
    notes: list[str],
    *,
    built: bool,
) -> list[dict[str, Any]]:
    """Give obstructions: ours as they are, others where they can matter.

    Parameters
    ----------
    solids
        As drawn, mm.
    runs, heads
        Records as a scenario file holds them, mm.
    notes
        Receives a sentence for what is left out or changed.
    built
        The runs were drawn beside these solids: a solid that one goes through is not so there, and is cut
        back. Else a run may well be blocked, which is for the search to say.

    Returns
    -------
    list of dict
        As a scenario file holds them.
    """
    ours = [
        {
            "id": solid.id,
            "kind": solid.kind,
            "polygon": [list(corner) for corner in solid.corners],
            "elevations": [solid.low, solid.high],
            **({} if solid.clearance is None else {"clearance": solid.clearance}),
            **({} if solid.guid is None else {"guid": solid.guid}),
        }
        for solid in solids
        if solid.exact
    ]
    foreign = [solid for solid in solids if not solid.exact]
    if not foreign:
        return ours
    plans = [LineString(run["plan"]) for run in runs]
    levels = [head["at"][2] for head in heads]
    for run in runs:
        low, high = run.get("band", (run["elevation"] - BAND_MM, run["elevation"] + BAND_MM))
        levels += [low - PIPE_MM, high + PIPE_MM]
    found = obstructions(foreign, heads, plans, (min(levels), max(levels)), REACH_MM, notes)
    found = clear_of_drops(found, heads, notes)
    return ours + (yield_to_lines(found, runs, BAND_MM, notes) if built else found)
