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

from shapely.geometry import LineString, Point

from router.readers.as_drawn import clear_of_drops, yield_to_lines
from router.readers.chains import Chain, grow
from router.readers.joints import join
from router.readers.report import ImportReport
from router.readers.roles import with_roles
from router.readers.solids import obstructions
from router.readers.straighten import straighten
from router.scenario.errors import Fault, ScenarioError, number_text
from router.scenario.read import parse_scenario
from router.trade.sizes import SIZES

if TYPE_CHECKING:
    from router.readers.drawn import Drawn, DrawnHead, DrawnPipe, DrawnSolid
    from router.scenario.model import Scenario

REACH_MM = 8000.0
BAND_MM = 300.0
PIPE_MM = 150.0
"""What a run takes on either side of its axis at most: half of the largest pipe, and room around it."""
LEAST_SIZE = 25
START_MM = 60.0
"""A child run whose start lies farther than this off its parent is not hung on it."""

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
        faults.append(Fault(drawn.source, "", "0", "heads", "at least one head expected"))
    if not drawn.runs and not any(pipe.role not in ARMS for pipe in drawn.pipes):
        faults.append(
            Fault(drawn.source, "", "0", "pipes", "at least one pipe of a main or branch line expected")
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
    heads = [_head_record(head) for head in drawn.heads]
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
        report.notes.append(f"larger than any size of ours, taken as DN{SIZES[-1]}: {_some(capped)}")
    lines = [replace(pipe, dn=min(pipe.dn, SIZES[-1])) for pipe in lines]
    network = join(lines)
    report.joints = network.joints
    known = Counter(head.line for head in drawn.heads if head.line)
    if not known:
        # no arms are drawn yet
        known.update(_lines_near(drawn.heads, lines))
    forest = grow(network, known)
    report.notes += forest.notes
    if not forest.chains:
        message = "no branch line leads to a head; arms, or roles and lines of the pipes expected"
        raise ScenarioError([Fault(drawn.source, "", f"{len(lines)}", "pipes", message)], drawn.source)
    builder = _Runs(forest.chains, drawn.heads, lines, report)
    runs = builder.records()
    kept_edges = {key for number in builder.kept for key in forest.chains[number].edges}
    kept_pipes = {network.edges[key].pipe.id for key in kept_edges}
    report.left_out_pipes = len(lines) - len(kept_pipes)
    heads = builder.heads()
    solids = solid_records(drawn.solids, runs, heads, report.notes, built=True)
    settings.setdefault("rules", {"reach": REACH_MM})
    if "system" not in settings:
        settings["system"] = {"kind": "wet", "hazard": "light", "water": "clean"}
        report.notes.append(
            "whether the water is clean is not in the tables: taken as clean, wet, light hazard"
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


def _head_record(head: DrawnHead) -> dict[str, Any]:
    record: dict[str, Any] = {"id": head.id, "at": list(head.at), "kind": head.kind, "thread": head.thread}
    if head.facing is not None and head.kind == "sidewall":
        record["facing"] = head.facing
    return {**record, **head.given}


def _some(names: list[str], limit: int = 6) -> str:
    return ", ".join(names[:limit]) + (f" and {len(names) - limit} more" if len(names) > limit else "")


def _lines_near(heads: list[DrawnHead], pipes: list[DrawnPipe]) -> list[str]:
    """Give the branch line nearest to each head."""
    named = [(LineString([pipe.a[:2], pipe.b[:2]]), pipe.line) for pipe in pipes if pipe.role == "branch"]
    near = []
    for head in heads:
        away = [(axis.distance(Point(head.at[:2])), line) for axis, line in named]
        if away and min(away)[0] <= REACH_MM:
            near.append(min(away)[1])
    return near


def _nearest(lines: dict[int, LineString], options: list[int], place: Point) -> int:
    return min(options, key=lambda number: (lines[number].distance(place), number))


class _Runs:
    """Chains become run records: straightened, named, hung up, and only those that lead to a head."""

    def __init__(
        self, chains: list[Chain], heads: list[DrawnHead], pipes: list[DrawnPipe], report: ImportReport
    ) -> None:
        self.chains = chains
        self.rows = heads
        self.pipes = pipes
        self.report = report
        self.plans: dict[int, list[tuple[float, float]]] = {}
        self.near: set[int] = set()
        self.serves = self._assign()
        self.kept = self._needed()
        self.names = self._named()

    def _assign(self) -> dict[str, int]:
        """Give each head the nearest chain of the line that it was drawn on."""
        for chain in self.chains:
            self.plans[chain.number], moved = straighten(chain.plan)
            if moved > 5.0:
                self.report.notes.append(
                    f"line {chain.line or 'main'}: straightened, drawn points up to {moved:.0f} mm off"
                )
        lines = {number: LineString(plan) for number, plan in self.plans.items()}
        serves: dict[str, int] = {}
        upright_only: dict[str, list[str]] = {}
        for head in self.rows:
            options = [c.number for c in self.chains if c.role == "branch" and c.line == head.line]
            place = Point(head.at[:2])
            if not options:
                # A line of vertical pipe only: its heads belong to what it stands on.
                uprights = [pipe for pipe in self.pipes if head.line and pipe.line == head.line]
                if uprights and self.chains:
                    place = Point(uprights[0].a[:2])
                    options = list(lines)
                else:
                    self.report.notes.append(
                        f"head {head.id}: its line {head.line or '(none)'} is not among the pipes; "
                        "the nearest run serves it"
                    )
                    self._keep_near(lines, place)
                    continue
                upright_only.setdefault(head.line, []).append(head.id)
            serves[head.id] = _nearest(lines, options, place)
        for line, names in sorted(upright_only.items()):
            self.report.notes.append(
                f"line {line} has no pipe with plan length: heads {_some(names)} go to the run it stands on"
            )
        return serves

    def _keep_near(self, lines: dict[int, LineString], place: Point) -> None:
        """Keep the run that may serve a head of no line, for where all heads are such."""
        within = [number for number, line in lines.items() if line.distance(place) <= REACH_MM]
        branches = [number for number in within if self.chains[number].role == "branch"]
        if within:
            self.near.add(_nearest(lines, branches or within, place))

    def _needed(self) -> list[int]:
        needed: set[int] = set()
        for number in self.serves.values() or sorted(self.near):
            current: int | None = number
            while current is not None and current not in needed:
                needed.add(current)
                current = self.chains[current].parent
        idle = [chain for chain in self.chains if chain.number not in needed]
        for role in ("main", "branch"):
            length = sum(LineString(c.plan).length for c in idle if c.role == role)
            count = sum(1 for c in idle if c.role == role)
            if count:
                self.report.notes.append(
                    f"{count} {role} runs ({length / 1000:.1f} m) lead to no head here and are left out"
                )
        return sorted(needed)

    def _named(self) -> dict[int, str]:
        per_line = Counter(
            self.chains[number].line for number in self.kept if self.chains[number].role == "branch"
        )
        names: dict[int, str] = {}
        given: Counter[str] = Counter()
        for number in self.kept:
            chain = self.chains[number]
            key = "" if chain.role == "main" else chain.line
            given[key] += 1
            if not key:
                names[number] = f"main-{given[key]}"
            else:
                names[number] = key if per_line[key] == 1 else f"{key}.{given[key]}"
        return names

    def records(self) -> list[dict[str, Any]]:
        """Give the runs as a scenario file holds them, parents first."""
        result = []
        sizes: dict[int, int] = {}
        for number in self.kept:
            chain = self.chains[number]
            record: dict[str, Any] = {"id": self.names[number], "kind": chain.role}
            record["elevation"] = round(chain.levels[0], 1)
            sizes[number] = self._size(chain, sizes)
            record["size"] = sizes[number] if min(chain.sizes) >= chain.dn else self._stepped(chain)
            self._hang(chain, record)
            self.plans[number] = [(round(x, 1), round(y, 1)) for x, y in self.plans[number]]
            record["plan"] = [list(point) for point in self.plans[number]]
            low, high = min(chain.levels), max(chain.levels)
            if high - low > 20.0:
                first = chain.levels[0]
                record["band"] = [round(min(low, first - BAND_MM), 1), round(max(high, first + BAND_MM), 1)]
                self.report.notes.append(
                    f"run {self.names[number]} is drawn at {number_text(low)} to {number_text(high)} mm: "
                    f"nominal {number_text(first)} mm as at its supply end, band widened"
                )
            result.append(record)
        return result

    def _size(self, chain: Chain, sizes: dict[int, int]) -> int:
        size = chain.dn
        name = self.names[chain.number]
        if size < LEAST_SIZE:
            self.report.notes.append(
                f"run {name}: drawn as DN{size}, taken as DN{LEAST_SIZE}, the size of arms"
            )
            size = LEAST_SIZE
        if chain.parent is not None and size > sizes[chain.parent]:
            parent = sizes[chain.parent]
            self.report.notes.append(
                f"run {name}: drawn as DN{size}, taken as DN{parent} like its supply "
                f"{self.names[chain.parent]}; sizes never grow downstream"
            )
            size = parent
        return size

    def _stepped(self, chain: Chain) -> str:
        """Leave a run whose size steps down along it to the schedule: a run has one size, or that."""
        drawn = ", ".join(f"DN{size}" for size in sorted(chain.sizes, reverse=True))
        self.report.notes.append(
            f"run {self.names[chain.number]} is drawn as {drawn}: its sizes are left to the pipe schedule"
        )
        return "schedule"

    def _hang(self, chain: Chain, record: dict[str, Any]) -> None:
        """Put a child's first plan point exactly on its parent's plan."""
        if chain.parent is None:
            return
        line = LineString(self.plans[chain.parent])
        start = Point(self.plans[chain.number][0])
        away = line.distance(start)
        if away > START_MM:
            self.report.notes.append(
                f"run {self.names[chain.number]} starts {away:.0f} mm off {self.names[chain.parent]}: "
                "cannot be joined, a tree of its own"
            )
            return
        foot = line.interpolate(line.project(start))
        plan = self.plans[chain.number]
        self.plans[chain.number] = [(float(foot.x), float(foot.y)), *plan[1:]]
        record["supply"] = self.names[chain.parent]

    def heads(self) -> list[dict[str, Any]]:
        """Give the heads as a scenario file holds them."""
        result = []
        known = set(self.names.values())
        for row in self.rows:
            record = _head_record(row)
            if row.id in self.serves and record.get("run") not in known:
                record["run"] = self.names[self.serves[row.id]]
            result.append(record)
        return result
