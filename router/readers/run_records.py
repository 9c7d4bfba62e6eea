"""Chains of drawn pipes become the records of runs; heads go to the runs that serve them."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from shapely.geometry import LineString, Point

from router.readers.report import counted
from router.readers.straighten import straighten
from router.scenario.errors import number_text

if TYPE_CHECKING:
    from router.readers.chains import Chain
    from router.readers.drawn import DrawnHead, DrawnPipe
    from router.readers.line_ends import LineEnds
    from router.readers.report import ImportReport

REACH_MM = 8000.0
BAND_MM = 300.0
LEAST_SIZE = 25
START_MM = 60.0
"""A child run whose start lies farther than this off its parent is not hung on it."""


def some(names: list[str], limit: int = 6) -> str:
    """Name the first few of many."""
    return ", ".join(names[:limit]) + (f" and {len(names) - limit} more" if len(names) > limit else "")


def head_record(head: DrawnHead) -> dict[str, Any]:
    """Give a head as a scenario file holds it."""
    record: dict[str, Any] = {"id": head.id, "at": list(head.at), "kind": head.kind, "thread": head.thread}
    if head.facing is not None and head.kind == "sidewall":
        record["facing"] = head.facing
    return {**record, **head.given}


def lines_near(heads: list[DrawnHead], pipes: list[DrawnPipe]) -> list[str]:
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


class Runs:
    """Chains become run records: straightened, named, hung up, and only those that lead to a head."""

    def __init__(
        self,
        chains: list[Chain],
        heads: list[DrawnHead],
        pipes: list[DrawnPipe],
        ends: LineEnds,
        report: ImportReport,
    ) -> None:
        self.chains = chains
        self.rows = heads
        self.pipes = pipes
        self.report = report
        self.ends = ends
        self.plans: dict[int, list[tuple[float, float]]] = {}
        self.near: set[int] = set()
        self.serves = self._assign()
        self.kept = self._needed()
        self.names = self._named()

    def _assign(self) -> dict[str, int]:
        """Give each head the nearest chain of the line that it was drawn on."""
        for chain in self.chains:
            plan, moved = straighten(chain.plan)
            end = self.ends.beyond(plan[-2], plan[-1], chain.levels[-1], min(chain.sizes))
            self.plans[chain.number] = [*plan[:-1], end]
            if moved > 5.0:
                self.report.notes.append(
                    f"line {chain.line or 'main'}: straightened, drawn points up to {moved:.0f} mm off"
                )
        lines = {number: LineString(plan) for number, plan in self.plans.items()}
        serves: dict[str, int] = {}
        upright_only: dict[str, list[str]] = {}
        free: list[str] = []
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
                    if head.line:
                        self.report.notes.append(
                            f"head {head.id}: its line {head.line} is not among the pipes; "
                            "the nearest run serves it"
                        )
                    else:
                        free.append(head.id)
                    self._keep_near(lines, place)
                    continue
                upright_only.setdefault(head.line, []).append(head.id)
            serves[head.id] = _nearest(lines, options, place)
        if free:
            self.report.notes.append(f"on no line as drawn, the nearest run serves them: {some(free)}")
        for line, names in sorted(upright_only.items()):
            self.report.notes.append(
                f"line {line} has no pipe with plan length: heads {some(names)} go to the run it stands on"
            )
        return serves

    def _keep_near(self, lines: dict[int, LineString], place: Point) -> None:
        """Keep the run that may serve a head of no line."""
        within = [number for number, line in lines.items() if line.distance(place) <= REACH_MM]
        branches = [number for number in within if self.chains[number].role == "branch"]
        if within:
            self.near.add(_nearest(lines, branches or within, place))

    def _needed(self) -> list[int]:
        needed: set[int] = set()
        for number in sorted({*self.serves.values(), *self.near}):
            current: int | None = number
            while current is not None and current not in needed:
                needed.add(current)
                current = self.chains[current].parent
        idle = [chain for chain in self.chains if chain.number not in needed]
        for role in ("main", "branch"):
            length = sum(LineString(c.plan).length for c in idle if c.role == role)
            count = sum(1 for c in idle if c.role == role)
            if count:
                told = f"{role} run[s] ({length / 1000:.1f} m) [leads|lead] to no head here and [is|are] "
                told += "left out"
                self.report.notes.append(counted(count, told))
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
            record = head_record(row)
            if row.id in self.serves and record.get("run") not in known:
                record["run"] = self.names[self.serves[row.id]]
            result.append(record)
        return result
