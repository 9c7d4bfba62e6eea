"""Add the records of random scenarios up, and write them as JSON and as a page."""

from __future__ import annotations

import json
import platform
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

import router

if TYPE_CHECKING:
    from pathlib import Path

Record = dict[str, Any]


def totals(records: list[Record]) -> dict[str, Any]:
    """Give all figures."""
    routed = [r for r in records if "status" in r]
    exact = [r for r in routed if {"enumeration", "whole model"} & set(r["oracles"])]
    mix: dict[str, Counter[str]] = defaultdict(Counter)
    for r in records:
        for word in r.get("mix", ()):
            group, _, what = word.partition(": ")
            mix[group][what] += 1
    times = sorted(r["seconds"]["route"] for r in routed)
    spent: Counter[str] = Counter()
    for r in records:
        spent.update(r.get("seconds", {}))
    faults = Counter(kind for r in records for kind, _ in r["faults"])
    examples: dict[str, list[int]] = defaultdict(list)
    for r in records:
        for kind, _ in r["faults"]:
            examples[kind].append(r["seed"])
    return {
        "version": router.__version__,
        "python": platform.python_version(),
        "scenarios": len(records),
        "seeds": [min(r["seed"] for r in records), max(r["seed"] for r in records)],
        "drawn_again": sum(r.get("refused", 0) for r in records),
        "heads": sum(r.get("heads", 0) for r in records),
        "served": sum(r["served"] for r in routed),
        "status": dict(Counter(r["status"] for r in routed)),
        "all_served": sum(r["served"] == r["heads"] for r in routed),
        "some_unserved": sum(0 < r["served"] < r["heads"] for r in routed),
        "stopped_by_the_limit": sum(r["stopped"] for r in routed),
        "stopped_without_a_bound": sum(r["stopped"] and not r["bounded"] for r in routed),
        "proven_optimal_or_infeasible": sum(r["status"] != "feasible" for r in routed),
        "level_changes": sum(r["level_changes"] for r in routed),
        "styles": _summed(routed, "styles"),
        "steps_that_closed_runs": _summed(routed, "closed"),
        "oracles": dict(Counter(name for r in routed for name in r.get("oracles", ()))),
        "by_an_exact_oracle": len(exact),
        "unserved_confirmed": sum(r["served"] < r["heads"] for r in exact),
        "infeasible_confirmed": sum(r["status"] == "infeasible" for r in exact),
        "reasons_named": dict(Counter(rule for r in routed for rule in r.get("said", ())).most_common()),
        "reasons_verified": _summed(routed, "reasons"),
        "explained": _summed(routed, "explained"),
        "stops": dict(Counter(r["stop"] for r in routed if r.get("stop"))),
        "time_limits": dict(Counter(r["time limit"] for r in routed if r.get("time limit"))),
        "other_ways": dict(Counter(r["other ways"] for r in routed if r.get("other ways"))),
        "fewer_heads": dict(Counter(r["fewer heads"] for r in routed if r.get("fewer heads"))),
        "same_again": sum(bool(r.get("again")) for r in routed),
        "route_seconds": {
            "mean": round(sum(times) / len(times), 4),
            "median": times[len(times) // 2],
            "95 in 100": times[int(0.95 * len(times))],
            "most": times[-1],
        },
        "spent_seconds": {name: round(value, 1) for name, value in spent.items()},
        "faults": dict(faults.most_common()),
        "faulty_seeds": {kind: seeds[:12] for kind, seeds in examples.items()},
        "mix": {group: dict(words.most_common()) for group, words in sorted(mix.items())},
    }


def _summed(records: list[Record], name: str) -> dict[str, int]:
    """Add up the counts that records have under a name, the most first."""
    out: Counter[str] = Counter()
    for r in records:
        out.update(r.get(name, {}))
    return dict(out.most_common())


def page(t: dict[str, Any]) -> str:
    """Say it on a page."""
    n = t["scenarios"]

    def listed(counts: dict[str, int]) -> str:
        return ", ".join(f"{name} {count:,}" for name, count in counts.items()) or "none"

    seconds, asked = t["route_seconds"], sum(t["spent_seconds"].values())
    lines = [
        "# Scenarios made at random",
        "",
        f"{n:,} scenarios (seeds {t['seeds'][0]} to {t['seeds'][1]}; {t['drawn_again']:,} more were refused "
        f"by the reader and drawn again), branch-drop-router {t['version']}, "
        "`python benchmarks/random_scenarios.py run`. Asked of each: no exception; the referee finds "
        "nothing but unserved heads and hangers without a place; status, value and bound go together; what "
        "an oracle says; reasons for whoever is not served. Of a share: a stop at a question, a tiny time "
        "limit, the same bytes again.",
        "",
        f"- heads: {t['heads']:,}, served {t['served']:,}; status: {listed(t['status'])}; all heads served "
        f"in {t['all_served']:,}, some of them in {t['some_unserved']:,}",
        f"- stopped by the limit of 20 s: {t['stopped_by_the_limit']:,}, without a bound above 0: "
        f"{t['stopped_without_a_bound']:,}",
        f"- an exact oracle gave the same cost: {t['by_an_exact_oracle']:,} ({listed(t['oracles'])}); "
        f"with heads unserved: {t['unserved_confirmed']:,}, with none served: {t['infeasible_confirmed']:,}",
        f"- nearest reason of unserved heads: {listed(t['reasons_named'])}",
        f"- reasons verified (the first head of each scenario): {listed(t['reasons_verified'])}",
        "- changes named by `explain`, for a fifth of the scenarios that serve nobody: "
        f"{listed(t['explained'])}",
        f"- stopped at a question: {listed(t['stops'])}; tiny time limits: {listed(t['time_limits'])}; "
        f"routed twice, same bytes: {t['same_again']:,}; by trees alone and by thinned lines: "
        f"{listed(t['other_ways'])}; without the heads left out: {listed(t['fewer_heads'])}",
        f"- seconds of processor time for a route: mean {seconds['mean']}, median {seconds['median']}, "
        f"95 in 100 within {seconds['95 in 100']}, most {seconds['most']}; for all that was asked: "
        f"{asked:,.0f}",
        f"- faults: {listed(t['faults'])}",
        "",
        "What they have in them (scenarios with at least one):",
        "",
        "| | |",
        "|---|---|",
    ]
    lines += [f"| {group} | {listed(words)} |" for group, words in t["mix"].items()]
    return "\n".join([*lines, ""])


def write(records: Path, folder: Path) -> int:
    """Write ``random.json`` and ``random.md``; 1 if there is a fault."""
    found = [json.loads(line) for line in records.read_text(encoding="utf-8").splitlines()]
    done = totals(sorted(found, key=lambda r: r["seed"]))
    (folder / "random.json").write_text(json.dumps(done, indent=1) + "\n", encoding="utf-8")
    (folder / "random.md").write_text(page(done), encoding="utf-8")
    print(page(done))
    return int(bool(done["faults"]))
