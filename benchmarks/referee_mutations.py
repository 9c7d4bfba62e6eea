"""Score of the referee on mutated routes: run once, written to ``benchmarks/results/``.

    python benchmarks/referee_mutations.py [--seeds 8]

Every scenario of ours and four variants are solved, each kind of mutation is applied with each
seed, and the referee judges. What a mutation breaks is known by its construction (see
``tests/check/mutants.py``); no time is measured.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
from collections import Counter
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "tests" / "check"))

from mutant_cases import NAMES, VARIANTS, by_hand, solved  # noqa: E402
from mutants import GOOD, KINDS, OUTCOMES, Result, results, score  # noqa: E402

import router  # noqa: E402
from router.check import check_route  # noqa: E402


def markdown(found: list[Result], cases: list[str], seeds: int) -> str:
    total = Counter(r.outcome for r in found)
    breaking = [r for r in found if r.claim.breaks]
    lines = [
        "# The referee on mutated routes",
        "",
        f"{len(found):,} seeded mutations of {len(cases)} clean routes ({'; '.join(cases)}), {seeds} seeds a "
        f"kind where it applies, {len({r.digest for r in found}):,} of them different; branch-drop-router "
        f"{router.__version__}. What each breaks is known by its "
        "construction, with all other books kept in order where that can be done.",
        "",
        f"- breaking a rule: {len(breaking):,}, found: {total['found'] + total['found by another rule']:,}, "
        f"of these by the rule that it must be where one is named: {total['found']:,}; "
        f"missed: {total['missed']:,}",
        f"- breaking none: {len(found) - len(breaking):,}, stayed clean: {total['stayed clean']:,}, "
        f"false alarms: {total['false alarm']:,}",
        f"- crashed: {total['crashed']:,}",
        "",
        "| kind of mutation | mutations | " + " | ".join(OUTCOMES) + " |",
        "|---|---:" + "|---:" * len(OUTCOMES) + "|",
    ]
    for kind, outcomes in score(found).items():
        row = " | ".join(str(outcomes[o]) if outcomes[o] else "" for o in OUTCOMES)
        lines.append(f"| {kind} | {outcomes.total()} | {row} |")
    row = " | ".join(f"{total[o]:,}" for o in OUTCOMES)
    lines += [f"| all | {len(found):,} | {row} |", ""]
    bad = [r for r in found if r.outcome not in GOOD]
    if bad:
        lines += ["## Not as it should be", ""]
        lines += [f"- {r.outcome}: {r.kind}, {r.case}, seed {r.seed}: {r.claim.why}" for r in bad]
        lines.append("")
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(description="Score the referee on mutated routes.")
    parser.add_argument("--seeds", type=int, default=8)
    seeds = parser.parse_args().seeds
    cases = [*(solved(name) for name in (*NAMES, *VARIANTS)), *by_hand()]
    for case in cases:
        verdict = check_route(case.scenario, case.route)
        if not verdict.clean:
            print(f"{case.name} is not clean: {verdict.breaks[0].text}")
            return 1
    found = list(results(cases, range(seeds)))
    names = [case.name for case in cases]
    target = HERE / "results"
    target.mkdir(exist_ok=True)
    text = markdown(found, names, seeds)
    (target / "referee_mutations.md").write_text(text, encoding="utf-8")
    data = {
        "version": router.__version__,
        "python": platform.python_version(),
        "cases": names,
        "seeds": seeds,
        "mutations": len(found),
        "different_mutations": len({r.digest for r in found}),
        "outcomes": dict(Counter(r.outcome for r in found)),
        "by_kind": {kind: dict(outcomes) for kind, outcomes in score(found).items()},
        "kinds_without_a_mutation": [kind for kind in KINDS if kind not in score(found)],
        "not_as_it_should_be": [
            {"kind": r.kind, "case": r.case, "seed": r.seed, "outcome": r.outcome, "why": r.claim.why}
            for r in found
            if r.outcome not in GOOD
        ],
    }
    (target / "referee_mutations.json").write_text(json.dumps(data, indent=2) + "\n", encoding="utf-8")
    print(text)
    return int(any(r.outcome not in GOOD for r in found))


if __name__ == "__main__":
    raise SystemExit(main())
