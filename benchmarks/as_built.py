"""A real hospital's as-built connections beside ours, judged alike.

Run from the project root: ``python benchmarks/as_built.py [DATA]`` (default
``../shared/open-data``). Writes ``benchmarks/results/as_built.json`` and
``.md``. Without the data it says so and stops.

Ours is routed twice: with every style that the system allows, and with only
those that the real designer used on the same line.
"""

from __future__ import annotations

import json
import platform
import subprocess
import sys
from collections import Counter, defaultdict
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from router.building.route import route_scenario
from router.check import check_route
from router.infer import infer_route
from router.readers import read_csv_folder
from router.readers.segments import read_segments
from router.scenario.model import HeadPin, Pins

if TYPE_CHECKING:
    from router.route.model import Route
    from router.scenario.model import Scenario

FOLDERS = ("hospital_s1_L1B001", "hospital_s3_L3high", "hospital_level1", "hospital_level3")
RESULTS = Path(__file__).parent / "results"
ALIKE = ({"return_bend", "raised_arm"},)
"""Styles with the same fittings, that differ only in the level of the arm: one stands for both."""


def figures(scenario: Scenario, route: Route, seconds: float | None) -> dict[str, Any]:
    """Give what the table shows of a route."""
    verdict = check_route(scenario, route)
    counts = verdict.counts
    return {
        "served": counts.served,
        "heads": counts.heads,
        "takeoff_fittings": counts.takeoff_fittings,
        "per_head": round(counts.fittings_per_head, 3),
        "styles": dict(counts.styles),
        "level_changes": counts.level_changes,
        "pipe_m": round(counts.pipe_total_m, 1),
        "arm_hangers": counts.arm_hangers,
        "status": route.status,
        "gap_points": route.objective.gap if seconds is not None else None,
        "breaks": dict(Counter(f.rule for f in verdict.breaks)),
        "seconds": None if seconds is None else round(seconds, 1),
    }


def as_drawn_styles(scenario: Scenario, drawn: Route) -> Scenario:
    """Pin every head to the styles that the drawing uses on its run (all styles where it shows none)."""
    used: dict[str, set[str]] = defaultdict(set)
    for takeoff in drawn.takeoffs:
        if takeoff.heads:
            used[takeoff.run].add(takeoff.style)
    for styles in used.values():
        for alike in ALIKE:
            if styles & alike:
                styles |= alike
    run_of = {head.id: head.run for head in drawn.heads}
    pins = {}
    for head in scenario.heads:
        run = run_of.get(head.id)
        if run is not None and used.get(run):
            pins[head.id] = HeadPin(styles=sorted(used[run]))
    return scenario.model_copy(update={"pins": Pins(heads=pins)})


def timed(scenario: Scenario) -> tuple[Route, float]:
    """Give a route and the seconds it took."""
    begun = perf_counter()
    route, _ = route_scenario(scenario)
    return route, perf_counter() - begun


def case(folder: Path) -> dict[str, Any]:
    """Give all figures of one folder."""
    scenario = read_csv_folder(folder).scenario
    drawn = infer_route(scenario, read_segments(folder / "pipes.csv")).route
    theirs = json.loads((folder / "counts.json").read_text())
    free, free_time = timed(scenario)
    same = as_drawn_styles(scenario, drawn)
    kept, kept_time = timed(same)
    return {
        "folder": folder.name,
        "counts_json_per_head": theirs["per_head"],
        "as_built": figures(scenario, drawn, None),
        "all_styles": figures(scenario, free, free_time),
        "same_styles": figures(same, kept, kept_time),
    }


def table(rows: list[dict[str, Any]]) -> str:
    """Lay out the page's table."""
    lines = [
        "| level | route | heads served | fittings per head | takeoff fittings | level changes | pipe m "
        "| arms that need a hanger | status | seconds |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    names = {
        "as_built": "as built",
        "all_styles": "ours, all styles",
        "same_styles": "ours, the line's own styles",
    }
    for row in rows:
        for key, name in names.items():
            f = row[key]
            seconds = "" if f["seconds"] is None else f"{f['seconds']:g}"
            status = "drawn" if key == "as_built" else f["status"]
            lines.append(
                f"| {row['folder']} | {name} | {f['served']} of {f['heads']} | {f['per_head']:.2f} "
                f"| {f['takeoff_fittings']} | {f['level_changes']} | {f['pipe_m']:g} | {f['arm_hangers']} "
                f"| {status} | {seconds} |"
            )
    return "\n".join(lines)


def main() -> None:
    """Measure and write."""
    data = Path(sys.argv[1] if len(sys.argv) > 1 else "../shared/open-data")
    folders = [data / name for name in FOLDERS if (data / name / "pipes.csv").exists()]
    if not folders:
        sys.exit(f"{data}: the hospital's tables are not here; nothing was measured")
    rows = [case(folder) for folder in folders]
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    )
    about = {
        "commit": commit.stdout.strip(),
        "machine": f"{platform.machine()}, Python {platform.python_version()}",
    }
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / "as_built.json").write_text(json.dumps({**about, "rows": rows}, indent=2) + "\n")
    page = (Path(__file__).parent / "as_built_notes.md").read_text()
    (RESULTS / "as_built.md").write_text(
        page.replace("{table}", table(rows)).replace("{commit}", about["commit"])
    )
    print(table(rows))


if __name__ == "__main__":
    main()
