"""One case measured: our route, its time, memory and check, then the baselines."""

from __future__ import annotations

import importlib.util
import os
import platform
import resource
import statistics
import subprocess
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time
from typing import TYPE_CHECKING, Any

from baselines import Bare, Judged, by_hand, by_pairs, constant_levels, judge, whole
from made_floors import line

from router.building.collector import collector_paused
from router.building.route import make_route, solve
from router.check import check_route
from router.profiles.graph import POINT

if TYPE_CHECKING:
    from cases import Case

    from router.building.route import Solution
    from router.route.model import Route
    from router.scenario.model import Scenario

SAME = 0.05
"""Points. A route rounds its metres, so values of one choice differ by a few hundredths."""
ALLOWED = ("served", "hangers")
"""Rules that a route of ours may break and still be written: they say that someone has to look on site."""


@dataclass(frozen=True)
class Limits:
    """How long the whole model may take, seconds, and of how many arcs it may be."""

    seconds: float
    arcs: int


QUICK = Limits(20.0, 8_000)
FULL = Limits(120.0, 60_000)


@dataclass
class Timed:
    """A route of ours with what it took. ``phases``: seconds."""

    scenario: Scenario
    route: Route
    solution: Solution
    phases: dict[str, float]
    processor: float
    broken: list[str]

    @property
    def routing(self) -> float:
        """Seconds to the finished route."""
        return sum(v for k, v in self.phases.items() if k != "check")


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def timed(scenario: Scenario, processes: int, limit: float | None) -> Timed:
    """Route and check once."""
    began, cpu = perf_counter(), process_time()
    solution = solve(scenario, limit, processes=processes)
    solved = perf_counter()
    route = make_route(solution, scenario)
    made = perf_counter()
    verdict = check_route(scenario, route)
    checked = perf_counter()
    processor = process_time() - cpu
    phases = {k: round(v, 5) for k, v in solution.seconds.items()}
    phases["other"] = round(max(solved - began - sum(phases.values()), 0.0), 5)
    phases |= {"pieces": round(made - solved, 5), "check": round(checked - made, 5)}
    broken = sorted({f.rule for f in verdict.breaks if f.rule not in ALLOWED})
    return Timed(scenario, route, solution, phases, processor, broken)


def peak_mb() -> tuple[float, float]:
    """Most memory so far, MB: this process, the largest of its workers (0 where it had none)."""
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    status = Path("/proc/self/status")
    if status.exists():  # it leaves out what the parent held before it started us
        high = [row for row in status.read_text().splitlines() if row.startswith("VmHWM")]
        own = int(high[0].split()[1]) / 1024 if high else own
    return round(own, 1), round(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024, 1)


def measure(case: Case, limits: Limits) -> dict[str, Any]:
    """Measure a case in this process, which must be a fresh one for its memory to mean anything."""
    scenarios = case.make()
    processes = case.processes or cores()
    timed(line(24, 1), 1, None)  # loads what is compiled
    with collector_paused():  # as the command does
        runs = [timed(s, processes, case.limit) for s in scenarios]
    memory = peak_mb()
    middle = sorted(runs, key=lambda r: r.routing)[len(runs) // 2]
    first = runs[0]
    heads = len(scenarios[0].heads)
    checks = statistics.median(r.phases["check"] for r in runs)
    routing = statistics.median(r.routing for r in runs)
    result = {
        "name": case.name,
        "family": case.family,
        "growth": case.growth,
        "heads": heads,
        "runs": len(scenarios[0].runs),
        "obstructions": len(scenarios[0].obstructions),
        "scenarios": len(scenarios),
        "processes": processes,
        "limit_s": case.limit,
        "components": len(first.solution.prepared.roots),
        "candidates": first.route.proof.candidates,
        "status": [r.route.status for r in runs],
        "value": first.route.objective.value,
        "bound": first.route.objective.bound,
        "gap": first.route.objective.gap,
        "largest_gap": max(r.route.objective.gap for r in runs),
        "terms": {
            t.name: {"amount": t.amount, "cost": t.cost} for t in first.route.objective.terms if t.cost
        },
        "unserved_each": first.solution.prices.unserved,
        "closed_by": first.route.proof.closed_by,
        "lines_closed": getattr(first.route.proof, "lines_closed", None),
        "broken": sorted({rule for r in runs for rule in r.broken}),
        "seconds": round(routing, 5),
        "seconds_each": [round(r.routing, 5) for r in runs],
        "phases": middle.phases,
        "check_seconds": round(checks, 5),
        "check_ratio": round(statistics.median(r.phases["check"] / r.routing for r in runs), 4),
        "heads_per_second_per_core": round(heads / (routing + checks) / processes, 1),
        "memory_mb": memory[0],
        "worker_memory_mb": memory[1],
        "ours": judge(first.scenario, first.route, first.routing).record(),
    }
    result["baselines"] = (
        compare(first, limits, search=case.search, limit=case.limit) if case.baselines else {}
    )
    result["faults"] = faults(result)
    return result


def compare(
    ours: Timed, limits: Limits, *, search: bool = True, limit: float | None = None
) -> dict[str, Any]:
    """Run the baselines on the scenario of one of our routes; records by name.

    ``limit``: seconds for constant levels, as our route had.
    """
    scenario = ours.scenario
    bare = Bare(scenario, {"by_hand": by_hand, "by_pairs": by_pairs} if search else {"by_hand": by_hand})
    out: dict[str, Any] = {
        "heads_alone": {"value": bare.alone / POINT, "seconds": round(bare.seconds["candidates"], 4)},
        "arcs": bare.arcs,
    }
    for name, route in bare.routes.items():
        out[name] = judge(scenario, route, bare.seconds["candidates"] + bare.seconds[name]).record()
    began = perf_counter()
    out["constant"] = judge(scenario, constant_levels(scenario, limit), perf_counter() - began).record()
    found = whole(scenario, limits.seconds, bare.arcs, limits.arcs)
    out["whole"] = {"status": found.status, "arcs": found.arcs, "seconds": round(found.seconds, 3),
                    "value": found.value / POINT, "bound": found.bound / POINT}  # fmt: skip
    if found.route is not None:
        judged: Judged = judge(scenario, found.route, found.seconds)
        out["whole"] |= {"judged": judged.record()}
    both = found.status == "optimal" and ours.solution.status == "optimal"
    out["whole"]["agrees"] = (found.value == ours.solution.bound) if both else None
    return out


def faults(result: dict[str, Any]) -> list[str]:
    """Say what must not be; nothing where all is well."""
    name, out = result["name"], []
    if result["broken"]:
        out.append(f"{name}: the referee refuses our route: {', '.join(result['broken'])}")
    base = result["baselines"]
    if not base:
        return out
    if base["whole"]["agrees"] is False:
        out.append(
            f"{name}: the whole model's optimum is {base['whole']['value']:,.3f} points, "
            f"ours {result['value']:,.3f}"
        )
    proven = result["status"][0] == "optimal"
    for key in ("by_hand", "by_pairs", "constant"):
        if key in base and proven and base[key]["value"] < result["value"] - SAME:
            out.append(
                f"{name}: {key} costs {base[key]['value']:,.3f}, less than our optimum {result['value']:,.3f}"
            )
        if key in base and base[key]["breaks"]:
            out.append(f"{name}: the referee refuses the route of {key}: {base[key]['breaks']}")
    if base["heads_alone"]["value"] > result["value"] + SAME:
        out.append(f"{name}: each head alone costs more than the route: it is no lower bound")
    return out


def machine() -> dict[str, Any]:
    """Describe what the figures were taken on."""
    cpu = Path("/proc/cpuinfo")
    rows = cpu.read_text().splitlines() if cpu.exists() else []
    names = [row.split(":", 1)[1].strip() for row in rows if row.startswith("model name")]
    info = Path("/proc/meminfo")
    total = int(info.read_text().split("MemTotal:")[1].split()[0]) / 1024**2 if info.exists() else None
    return {
        "cores": cores(),
        "model": names[0] if names else platform.processor() or platform.machine(),
        "memory_gb": None if total is None else round(total, 1),
        "python": platform.python_version(),
        "numba": importlib.util.find_spec("numba") is not None,
    }


def commit() -> str:
    """Give the commit, with ``+`` where files differ from it."""
    where = Path(__file__).parent

    def git(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=where, capture_output=True, text=True, check=False)
        return done.stdout.strip()

    changed = git("status", "--porcelain", "--", "../router", "*.py")
    return git("rev-parse", "--short", "HEAD") + ("+" if changed else "")
