"""Measure routes by size and kind, beside what they could be without us.

    python benchmarks/bench.py [--full] [--only WORDS]

The quick set takes a few minutes, ``--full`` all of it. ``--only`` takes the
cases whose name holds the words, and leaves the page alone. Each case runs in
a process of its own. Writes ``bench.json``, ``bench.md`` and the plots into
``benchmarks/results``. Exit code 1 where the dynamic programme and the whole
model disagree, or anything else is not as it must be.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from pathlib import Path
from time import perf_counter
from typing import Any

from cases import all_cases, missing
from measure import FULL, QUICK, commit, machine, measure
from page import write_page

RESULTS = Path(__file__).parent / "results"
PATIENCE = 3600.0
"""Seconds after which a case is given up."""


def in_a_process(name: str, *, full: bool) -> dict[str, Any]:
    """Measure a case in a fresh process; what it said is in the error."""
    words = [sys.executable, str(Path(__file__)), "--worker", name, *(["--full"] if full else [])]
    try:
        done = subprocess.run(words, capture_output=True, text=True, timeout=PATIENCE, check=False)
    except subprocess.TimeoutExpired:
        return {"name": name, "faults": [f"{name}: not done after {PATIENCE:g} s"]}
    if done.returncode:
        said = done.stderr.strip().splitlines()[-1:] or ["no word"]
        return {"name": name, "faults": [f"{name}: ended with code {done.returncode}: {said[0]}"]}
    result: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return result


def main(words: list[str] | None = None) -> int:
    """Run the cases, write the results, and say what is not as it must be."""
    parser = argparse.ArgumentParser(description="Measure routes by size and kind.")
    parser.add_argument("--full", action="store_true", help="all cases, not the quick set")
    parser.add_argument("--only", default="", metavar="WORDS", help="cases whose name holds these words")
    parser.add_argument("--worker", default="", help=argparse.SUPPRESS)
    given = parser.parse_args(words)
    cases = all_cases()
    if given.worker:
        case = next(c for c in cases if c.name == given.worker)
        print(json.dumps(measure(case, FULL if given.full else QUICK)))
        return 0
    for name in missing():
        print(f"{name}: its tables are not here, left out", flush=True)
    began = perf_counter()
    results = []
    for case in cases:
        if given.only not in case.name or not (case.quick or given.full or given.only):
            continue
        mark = perf_counter()
        result = in_a_process(case.name, full=given.full)
        results.append(result)
        if "heads" in result:
            took = f"{result['seconds']:8.3f} s, check {result['check_ratio']:5.2f} of it"
            rest = f"{result['memory_mb']:5.0f} MB, gap {result['largest_gap']:g}"
            beside = f"with baselines {perf_counter() - mark:.1f} s"
            print(f"{case.name:40} {result['heads']:6} heads {took}, {rest}, {beside}", flush=True)
    limits = FULL if given.full else QUICK
    about = {"set": "full" if given.full else "quick", "commit": commit(), "machine": machine(),
             "whole_model": {"limit": limits.seconds, "arcs": limits.arcs},
             "minutes": round((perf_counter() - began) / 60, 2), "left_out": missing()}  # fmt: skip
    found = [fault for result in results for fault in result["faults"]]
    whole = {**about, "faults": found, "cases": results}
    if given.only:
        print(json.dumps(whole, indent=1))
    else:
        RESULTS.mkdir(exist_ok=True)
        (RESULTS / "bench.json").write_text(json.dumps(whole, indent=1) + "\n")
        write_page(whole, RESULTS)
        print(f"{about['minutes']} minutes; the page is {RESULTS / 'bench.md'}")
    for fault in found:
        print(f"FAULT  {fault}", file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
