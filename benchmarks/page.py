"""The benchmark's page: tables and plots from what one run measured, nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from plots import fittings_plot, time_plot
from targets import exponents, rows

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

SHORT = {
    "ours": "ours",
    "constant": "constant levels",
    "by_pairs": "pairs",
    "by_hand": "by hand",
}
INTRO = """# What routing takes, and what it is worth

{set} set, commit {commit}; {cores} cores, {model}, {memory} GB, Python {python}, {numba} numba; {minutes}
minutes in all. Everything here comes from that run (`bench.json`). Seconds are of a warm process, from a
scenario in memory to the finished route, and mean something only beside others of one machine; where a case
has several scenarios (seeds) they are medians.
"""
BASELINES = """## Beside other ways to decide

All ways choose among the same candidates, and the referee counts all of them. *By hand*: every line at its
nominal level, an offset for every crossing and back behind it, then each head in order the cheapest takeoff
that fits. *Pairs*: two heads at a time, greedily, at the levels where that is cheapest, then local search
over neighbouring takeoffs. *Constant levels*: the best single level for each line, drops then optimal.
*Each head alone*: the sum of what every head costs at the least by itself, a lower bound that no route need
reach. Points are for the first scenario of a case; `+n` is what it costs more than ours, in points a head;
where it leaves more heads unserved, it says how many.
"""
WHOLE = """## The dynamic programme and the whole model

CP-SAT on everything at once: no decomposition, no bound, nothing left out, clashes added as they are met,
one worker. Where both finish their values must be equal to the thousandth of a point, or the run ends with
code 1. A model of more than {arcs:,} arcs is not begun in this set, the others have {limit:g} s.
"""


def table(head: Sequence[str], body: Sequence[Sequence[object]]) -> str:
    """Lay out a table; the first column to the left, the others to the right."""
    lines = ["| " + " | ".join(head) + " |", "|---" + "|--:" * (len(head) - 1) + "|"]
    return "\n".join([*lines, *("| " + " | ".join(str(c) for c in row) + " |" for row in body)]) + "\n"


def write_page(run: dict[str, Any], folder: Path) -> None:
    """Write ``bench.md`` and its plots. ``run``: what ``bench.json`` holds."""
    cases = [c for c in run["cases"] if "heads" in c]
    grown = {name: found for name, found in exponents(cases).items() if len(found["points"]) > 1}
    parts = [_intro(run), _targets(cases), "![Seconds against heads](bench_time.svg)\n", _growth(grown)]
    parts += [_times(cases), _proof(cases), _closed(cases), _terms(cases), BASELINES]
    parts += ["![Fittings beside the baselines](bench_fittings.svg)\n", _baselines(cases), _whole(run, cases)]
    if run["left_out"]:
        parts.append(f"Left out, as their tables are not here: {', '.join(run['left_out'])}.\n")
    if run["faults"]:
        parts.append("## Faults\n\n" + "\n".join(f"* {fault}" for fault in run["faults"]) + "\n")
    (folder / "bench.md").write_text("\n".join(part for part in parts if part))
    rest = [(c["heads"], c["seconds"]) for c in cases if not c["growth"]]
    (folder / "bench_time.svg").write_text(time_plot(grown, rest))
    shown = [c for c in cases if "by_hand" in c["baselines"]]
    bars = {short: [_fittings(c, key) for c in shown] for key, short in SHORT.items()}
    more = {short: [_left_more(c, key) for c in shown] for key, short in SHORT.items()}
    (folder / "bench_fittings.svg").write_text(fittings_plot([c["name"] for c in shown], bars, more))


def _intro(run: dict[str, Any]) -> str:
    m = run["machine"]
    return INTRO.format(
        set=run["set"].capitalize(), commit=run["commit"], cores=m["cores"], model=m["model"],
        memory=m["memory_gb"], python=m["python"], numba="with" if m["numba"] else "without",
        minutes=run["minutes"],
    )  # fmt: skip


def _targets(cases: list[dict[str, Any]]) -> str:
    word = {True: "met", False: "**not met**", None: "not measured"}
    return "## Aims\n\n" + table(
        ["aim", "measured", ""], [[row.aim, row.measured, word[row.met]] for row in rows(cases)]
    )


def _growth(grown: dict[str, dict[str, Any]]) -> str:
    def text(value: float | None) -> str:
        return "" if value is None else f"{value:.2f}"

    body = [
        [name, ", ".join(f"{h:,}" for h, _ in found["points"]), text(found["from_120"]), text(found["all"])]
        for name, found in grown.items()
    ]
    return (
        "## Growth of time with heads\n\nExponents by least squares through the logarithms, one process.\n\n"
        + (table(["what grows", "heads", "from 120 heads on", "all sizes"], body))
    )


def _times(cases: list[dict[str, Any]]) -> str:
    names = list(dict.fromkeys(k for c in cases for k in c["phases"]))
    names = [n for n in names if any(c["phases"].get(n, 0.0) >= 0.0005 for c in cases)]
    names = [*(n for n in names if n != "check"), "check"]
    body = []
    for c in cases:
        worker = (
            f" + {c['worker_memory_mb']:.0f} each" if c["processes"] > 1 and c["worker_memory_mb"] else ""
        )
        phases = [f"{c['phases'][n]:.3f}" if n in c["phases"] else "" for n in names]
        body.append([c["name"], f"{c['heads']:,}", c["processes"], f"{c['seconds']:.3f}", *phases,
                     f"{c['check_ratio']:.2f}", f"{c['memory_mb']:.0f}{worker}",
                     f"{c['heads_per_second_per_core']:,.0f}"])  # fmt: skip
    return (
        "## Time and memory\n\n`trees`: candidates, bounds and model of many trees, each solved by itself. "
        "`pieces`: the route laid out and hung. `check`: the referee, not part of the seconds. Heads a "
        "second and core: from the scenario in memory to the judged route.\n\n"
    ) + table(
        ["case", "heads", "processes", "seconds", *names, "check / seconds", "MB", "heads/s/core"], body
    )


def _proof(cases: list[dict[str, Any]]) -> str:
    body = []
    for c in cases:
        limit = f" (limit {c['limit_s']:g} s)" if c["limit_s"] and set(c["status"]) != {"optimal"} else ""
        status = " ".join(sorted(set(c["status"])))
        body.append([c["name"], c["runs"], c["obstructions"], c["components"], f"{c['candidates']:,}",
                     f"{c['value']:,.1f}", f"{c['bound']:,.1f}", f"{c['largest_gap']:,.1f}", status + limit,
                     c["closed_by"]])  # fmt: skip
    return (
        "## What is proven\n\n`components`: trees of runs, which only clashes join. `gap`: the largest of "
        "the case's scenarios; the other figures are of the first.\n\n"
    ) + table(
        [
            "case",
            "runs",
            "obstructions",
            "components",
            "candidates",
            "value",
            "bound",
            "gap",
            "status",
            "closed by",
        ],
        body,
    )


def _closed(cases: list[dict[str, Any]]) -> str:
    known = [c for c in cases if c["lines_closed"]]
    if not known:
        return ""
    steps = list(dict.fromkeys(step for c in known for step in c["lines_closed"]))
    body = []
    for c in known:
        total = sum(c["lines_closed"].values()) or 1
        body.append([c["name"], *(f"{100 * c['lines_closed'].get(s, 0) / total:.0f} %" for s in steps)])
    return "## Lines closed by each step\n\n" + table(["case", *steps], body)


def _terms(cases: list[dict[str, Any]]) -> str:
    names = list(dict.fromkeys(t for c in cases for t in c["terms"]))
    body = [
        [c["name"], *(f"{c['terms'][n]['cost']:,.0f}" if n in c["terms"] else "" for n in names),
         f"{c['ours']['fittings_per_head']:.3f}", f"{c['ours']['all_fittings_per_head']:.3f}"]
        for c in cases
    ]  # fmt: skip
    return (
        "## The objective by term\n\nPoints; fittings a head: of takeoffs alone, and with the runs'.\n\n"
        + (table(["case", *names, "fittings a head", "runs included"], body))
    )


def _fittings(case: dict[str, Any], key: str) -> float | None:
    found = case["ours"] if key == "ours" else case["baselines"].get(key)
    return None if found is None else float(found["all_fittings_per_head"])


def _left_more(case: dict[str, Any], key: str) -> int:
    """How many more heads a baseline leaves unserved than ours."""
    found = case["ours"] if key == "ours" else case["baselines"].get(key)
    return 0 if found is None else int(found["unserved"] - case["ours"]["unserved"])


def _baselines(cases: list[dict[str, Any]]) -> str:
    body = []
    for c in cases:
        base = c["baselines"]
        if not base:
            continue
        row: list[object] = [c["name"], f"{_bare(c, c['ours']):,.1f}{_unserved(c['ours'])}"]
        for key in ("constant", "by_pairs", "by_hand"):
            found = base.get(key)
            if found is None:
                row.append("not run")
            else:
                row.append(_beside(c, found))
        row.append(f"{base['heads_alone']['value']:,.1f}" if not c["ours"]["unserved"] else "")
        row += [
            "" if k not in base else f"{base[k]['seconds']:.2f}" for k in ("constant", "by_pairs", "by_hand")
        ]
        body.append(row)
    return table(
        ["case", "ours, points", "constant levels", "pairs", "by hand", "each head alone", "s: constant",
         "s: pairs", "s: by hand"],
        body,
    )  # fmt: skip


def _beside(case: dict[str, Any], found: dict[str, Any]) -> str:
    """Say what a way costs more than ours; points mean nothing where it serves other heads."""
    missed = found["unserved"] - case["ours"]["unserved"]
    if missed:
        return f"{missed} more unserved" if missed > 0 else f"{-missed} fewer unserved"
    return f"{(_bare(case, found) - _bare(case, case['ours'])) / case['heads']:+,.1f}"


def _bare(case: dict[str, Any], found: dict[str, Any]) -> float:
    """Give points without the price of unserved heads."""
    term: float = case["unserved_each"] * found["unserved"]
    return float(found["value"]) - term


def _unserved(found: dict[str, Any]) -> str:
    return f" ({found['unserved']} unserved)" if found["unserved"] else ""


def _whole(run: dict[str, Any], cases: list[dict[str, Any]]) -> str:
    body = []
    for c in cases:
        w = c["baselines"].get("whole")
        if w is None or w["status"] == "too large":
            continue
        value = f"{w['value']:,.3f}" if w["status"] in ("optimal", "feasible") else ""
        word = {True: "equal", False: "**NOT EQUAL**", None: ""}[w["agrees"]]
        body.append([c["name"], f"{w['arcs']:,}", f"{c['value']:,.3f}", value, f"{w['bound']:,.3f}",
                     w["status"], f"{w['seconds']:.1f}", f"{c['seconds_each'][0]:.3f}", word])  # fmt: skip
    return (
        WHOLE.format(**run["whole_model"])
        + "\n"
        + table(
            ["case", "arcs", "ours", "whole model", "its bound", "status", "its seconds", "our seconds", ""],
            body,
        )
    )
