"""How large a scenario may be, what it takes, and whether time limits are honoured.

python benchmarks/limits.py             all of it (half an hour), writes ``results/limits.json`` and the
                                        tables of ``docs/limits.md``
python benchmarks/limits.py sizes       sizes and memory alone; ``times``: time limits alone
python benchmarks/limits.py --only WORDS  measures what fits anew and keeps the rest

Every measurement is the whole command ``branch-router route`` on a file, in a process of its own
(see :func:`command`): reading, routing, the referee, writing. Memory is the most that the process
held, and the most of any of its workers. Time limits are judged by the wall time of the command,
start of the interpreter included.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from router.scenario.model import Scenario

HERE = Path(__file__).parent
ROOT = HERE.parent
RESULT = HERE / "results" / "limits.json"
PAGE = ROOT / "docs" / "limits.md"
BEGIN, END = "<!-- {}: written by benchmarks/limits.py -->", "<!-- end of {} -->"
SECONDS = (5.0, 10.0, 30.0)
ALLOWED = 1.10
"""Wall time over the limit."""


def building(floors: int, lines: int = 10, heads: int = 12, density: str = "medium") -> Scenario:
    """Give a building of independent mains, one above the other."""
    import made_buildings

    return made_buildings.building(floors, lines, heads, 0, "regular", density)


def one_main(lines: int, heads: int) -> Scenario:
    """Give one tree: a main with so many lines."""
    import made_floors

    return made_floors.floor(lines, heads)


def one_line(heads: int, density: str = "medium") -> Scenario:
    """Give one line of so many heads."""
    import made_floors

    return made_floors.line(heads, 0, density)


def obstructed(boxes: int) -> Scenario:
    """Give a floor of 40 lines of 12 heads, and so many boxes more in the space above, seldom in the way."""
    import made_floors
    import numpy as np

    base, rng = one_main(40, 12), np.random.default_rng(1)
    more = [
        made_floors.box(f"X{n}", "pipe", x, y, 150.0, 150.0, z, z + 100.0)
        for n, (x, y, z) in enumerate(
            zip(rng.uniform(0, 36000, boxes), rng.uniform(0, 144000, boxes), rng.uniform(3500, 4400, boxes),
                strict=True)
        )
    ]  # fmt: skip
    data = base.model_dump(mode="json", exclude_defaults=True)
    return made_floors.made(
        f"{boxes} boxes", data["runs"], data["heads"], data["obstructions"] + more, data.get("rules")
    )


def cornered(corners: int) -> Scenario:
    """Give a line of 12 heads below an obstruction with so many corners."""
    import made_floors
    import numpy as np

    base = one_line(12)
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ring = [[round(18000 + 9000 * float(np.cos(a)), 3), round(2500 * float(np.sin(a)), 3)] for a in angle]
    data = base.model_dump(mode="json", exclude_defaults=True)
    round_one = {"id": "round", "kind": "duct", "polygon": ring, "elevations": [3400.0, 3600.0]}
    return made_floors.made(
        f"{corners} corners", data["runs"], data["heads"], data["obstructions"] + [round_one]
    )


def bent(bends: int) -> Scenario:
    """Give a line that goes round so many corners, with a head on every straight of 3 m."""
    import made_floors

    plan, heads = [[0.0, 0.0]], []
    for n in range(bends + 1):
        x, y = plan[-1]
        step = [3000.0, 0.0] if n % 2 == 0 else [0.0, 3000.0]
        plan.append([x + step[0], y + step[1]])
        at = [x + step[0] / 2, y + step[1] / 2, 2700.0]
        heads.append({"id": f"H{n}", "at": at, "run": "L"})
    run = {"id": "L", "plan": plan, "elevation": made_floors.LEVEL, "kind": "branch"}
    return made_floors.made(f"{bends} bends", [run], heads, [])


@dataclass(frozen=True)
class Case:
    """One scenario; ``grows``: what of it is at its limit."""

    name: str
    grows: str
    make: Callable[[], Scenario]


SMALL = Case("one line of 12 heads", "", lambda: one_line(12))
SIZES = [
    Case("1,200 heads on 10 floors", "heads", lambda: building(10)),
    Case("12,000 heads on 100 floors", "heads", lambda: building(100)),
    Case("48,000 heads on 400 floors", "heads", lambda: building(400)),
    Case("1,200 heads, dense", "heads", lambda: building(10, density="dense")),
    Case("12,000 heads, dense", "heads", lambda: building(100, density="dense")),
    Case("1,000 lines of 4 heads on one main", "runs", lambda: one_main(1000, 4)),
    Case("1,300 lines of 4 heads on one main", "runs", lambda: one_main(1300, 4)),
    Case("5,000 boxes over 480 heads", "obstructions", lambda: obstructed(5000)),
    Case("50,000 boxes over 480 heads", "obstructions", lambda: obstructed(50000)),
    Case("one line of 100 heads", "heads on one line", lambda: one_line(100)),
    Case("one line of 400 heads", "heads on one line", lambda: one_line(400)),
    Case("an obstruction of 10,000 corners", "corners of an obstruction", lambda: cornered(10000)),
    Case("a line of 50 bends", "bends of a line", lambda: bent(50)),
]

LIMITED = [
    Case("12,000 heads on 100 floors", "", lambda: building(100)),
    Case("12,000 heads, dense", "", lambda: building(100, density="dense")),
    Case("1,300 lines of 4 heads on one main", "", lambda: one_main(1300, 4)),
    Case("50,000 boxes over 480 heads", "", lambda: obstructed(50000)),
    Case("1,200 heads, crowded", "", lambda: building(10, density="crowded")),
    Case("120 heads, arms of neighbours cross", "", lambda: building(1, density="crossing")),
    Case("one line of 400 heads, crowded", "", lambda: one_line(400, "crowded")),
]


# -- in a process of their own ----------------------------------------------------------------


def make_file(name: str, path: str) -> None:
    """Write a case's scenario."""
    from router.scenario.write import dump_scenario

    case = next(case for case in (SMALL, *SIZES, *LIMITED) if case.name == name)
    dump_scenario(case.make(), Path(path))


def command(words: list[str], report: str) -> None:
    """Run the command line in this process; then write the most memory that it held, MB."""
    from router.cli import app

    code = 0
    try:
        app(words)
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    own, worker = most_mb()
    Path(report).write_text(json.dumps({"code": code, "own_mb": own, "worker_mb": worker}))
    raise SystemExit(code)


def most_mb() -> tuple[float, float]:
    """Most memory so far, MB, as ``measure.peak_mb`` (whose module would load what the command does not)."""
    status = Path("/proc/self/status")
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    if status.exists():
        own = int(status.read_text().split("VmHWM:")[1].split()[0]) / 1024
    return round(own, 1), round(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024, 1)


def run_command(words: list[str], folder: Path) -> dict[str, Any]:
    """Run the command in a process of its own; wall seconds, code and memory."""
    report = folder / "memory.json"
    report.unlink(missing_ok=True)
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, __file__, "--command", str(report), *words],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    wall = time.perf_counter() - began
    memory = json.loads(report.read_text()) if report.exists() else {}
    return {"wall_s": round(wall, 2), **memory, "code": done.returncode, "said": done.stderr.strip()[-300:]}


# -- what is measured -------------------------------------------------------------------------


def routed(case: Case, folder: Path, *more: str) -> dict[str, Any]:
    """Write the case's file and route it; what came out, and what it took."""
    scenario, route = folder / "s.json", folder / "r.json"
    if not (folder / "made").exists() or (folder / "made").read_text() != case.name:
        subprocess.run([sys.executable, __file__, "--make", case.name, str(scenario)], check=True, cwd=ROOT)
        (folder / "made").write_text(case.name)
    route.unlink(missing_ok=True)
    row: dict[str, Any] = {"name": case.name}
    row |= run_command(["route", str(scenario), "-o", str(route), "--quiet", *more], folder)
    given = json.loads(scenario.read_text())
    row |= {key: len(given.get(key, [])) for key in ("heads", "runs", "obstructions")}
    row["scenario_mb"] = round(scenario.stat().st_size / 1024**2, 2)
    if route.exists():
        found = json.loads(route.read_text())
        row["route_mb"] = round(route.stat().st_size / 1024**2, 2)
        row |= {"status": found["status"], "served": found["counts"]["served"],
                "gap": found["objective"]["gap"]}  # fmt: skip
    return row


def sizes(cases: Iterable[Case], folder: Path) -> list[dict[str, Any]]:
    """Measure sizes; memory per 1,000 heads is what comes on top of a line of 12."""
    base = routed(SMALL, folder)
    rows = []
    for case in cases:
        row = {"grows": case.grows, **routed(case, folder)}
        own = row["own_mb"] - base["own_mb"]
        row["mb_per_1000_heads"] = round(own / row["heads"] * 1000, 1)
        rows.append(row)
        print(json.dumps(row), flush=True)
    return [{"grows": "", **base}, *rows]


def times(cases: Iterable[Case], folder: Path) -> list[dict[str, Any]]:
    """Measure time limits."""
    rows = []
    for case in cases:
        for limit in SECONDS:
            row = {"limit_s": limit, **routed(case, folder, "--time-limit", f"{limit:g}")}
            row["ratio"] = round(row["wall_s"] / limit, 3)
            rows.append(row)
            print(json.dumps(row), flush=True)
    return rows


# -- the page ---------------------------------------------------------------------------------


def sizes_table(rows: list[dict[str, Any]]) -> str:
    """Give the table of sizes."""
    out = [
        "| scenario | heads | runs | obstructions | file MB | route MB | status | process MB "
        "| largest worker MB | MB per 1,000 heads | wall time against the smallest |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        each = row["mb_per_1000_heads"] if row.get("grows") in ("heads", "runs") else ""
        cells = [row["name"], f"{row['heads']:,}", f"{row['runs']:,}", f"{row['obstructions']:,}",
                 row["scenario_mb"], row.get("route_mb", ""), row.get("status", f"ends with {row['code']}"),
                 f"{row.get('own_mb', 0):,.0f}", f"{row.get('worker_mb', 0):.0f}", each,
                 f"{row['wall_s'] / rows[0]['wall_s']:.0f}"]  # fmt: skip
        out.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join(out) + "\n"


def times_table(rows: list[dict[str, Any]]) -> str:
    """Give the table of time limits: wall time over the limit, and what was written."""
    out = ["| scenario | " + " | ".join(f"limit {limit:g} s" for limit in SECONDS) + " |",
           "|---|" + "---|" * len(SECONDS)]  # fmt: skip
    for name in dict.fromkeys(row["name"] for row in rows):
        found = {row["limit_s"]: row for row in rows if row["name"] == name}
        cells = [_time_cell(found[limit]) if limit in found else "not measured" for limit in SECONDS]
        out.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(out) + "\n"


def _time_cell(row: dict[str, Any]) -> str:
    what = (
        f"{row['served']:,} of {row['heads']:,} served, {row['status']}"
        if "served" in row
        else "nothing written"
    )
    ratio = f"{row['ratio']:.2f}" if row["ratio"] <= ALLOWED else f"**{row['ratio']:.2f}**"
    return f"{ratio} ({what})"


def write_page(whole: dict[str, Any]) -> None:
    """Put the tables into the page, between their marks."""
    text = PAGE.read_text(encoding="utf-8")
    for name, table in (("sizes", sizes_table(whole["sizes"])), ("times", times_table(whole["times"]))):
        begin, end = BEGIN.format(name), END.format(name)
        before, _, rest = text.partition(begin)
        text = f"{before}{begin}\n{table}{end}{rest.partition(end)[2]}"
    PAGE.write_text(text, encoding="utf-8")


def merged(
    before: list[dict[str, Any]], rows: list[dict[str, Any]], stamp: dict[str, Any]
) -> list[dict[str, Any]]:
    """Put rows measured anew in the place of the earlier ones, all in the order of the cases."""
    by = {(row["name"], row.get("limit_s")): row for row in before}
    by |= {(row["name"], row.get("limit_s")): {**row, **stamp} for row in rows}
    order = [case.name for case in (SMALL, *SIZES, *LIMITED)]
    known = [row for row in by.values() if row["name"] in order]
    return sorted(known, key=lambda row: (order.index(row["name"]), row.get("limit_s") or 0.0))


def main() -> int:
    """Measure, write, and end with 1 where a time limit was missed by over 10 %."""
    if sys.argv[1:2] == ["--make"]:
        make_file(*sys.argv[2:4])
        return 0
    if sys.argv[1:2] == ["--command"]:
        command(sys.argv[3:], sys.argv[2])
    parser = argparse.ArgumentParser(description="Sizes, memory and time limits.")
    parser.add_argument("what", nargs="?", choices=["sizes", "times", "page"])
    parser.add_argument("--only", default="")
    given = parser.parse_args()
    chosen = [[c for c in cases if given.only in c.name] for cases in (SIZES, LIMITED)]
    whole: dict[str, Any] = json.loads(RESULT.read_text()) if RESULT.exists() else {}
    with tempfile.TemporaryDirectory() as folder:
        from measure import commit, machine

        stamp = {"machine": machine(), "commit": commit()}
        if given.what in (None, "sizes"):
            whole["sizes"] = merged(whole.get("sizes", []), sizes(chosen[0], Path(folder)), stamp)
        if given.what in (None, "times"):
            whole["times"] = merged(whole.get("times", []), times(chosen[1], Path(folder)), stamp)
    RESULT.write_text(json.dumps(whole, indent=1) + "\n")
    if PAGE.exists() and "sizes" in whole and "times" in whole:
        write_page(whole)
    missed = [row for row in whole.get("times", []) if row["ratio"] > ALLOWED]
    for row in missed:
        print(f"limit {row['limit_s']:g} s: {row['ratio']:.2f} of it: {row['name']}", file=sys.stderr)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
