"""Many random scenarios, each routed, judged, and compared with oracles where they apply.

    python benchmarks/random_scenarios.py run --out DIR --count 10000 [--from 0] [--processes 1]
    python benchmarks/random_scenarios.py results --out DIR     # into benchmarks/results/
    python benchmarks/random_scenarios.py shrink --seed N       # the smallest like it, printed

A run that was broken off goes on where it was. Every scenario runs in a child that is ended
when it takes too long; scenarios that fail are written to DIR as files.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import traceback
from multiprocessing.connection import Connection, wait
from pathlib import Path
from time import monotonic, process_time
from typing import TYPE_CHECKING, Any

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent / "tests" / "oracle")]

import random_judge as ask  # noqa: E402  (tests/oracle)
import random_reasons as reasons  # noqa: E402  (tests/oracle)
from made_random import valid  # noqa: E402
from random_mix import mix  # noqa: E402

if TYPE_CHECKING:
    from router.scenario.model import Scenario

Record = dict[str, Any]

LIMIT = 20.0
"""Seconds that routing one scenario may take; then its best so far, with a bound."""
WATCHED = 180.0
"""Seconds after which a child is ended: it hangs."""
ORACLES = ("enumeration", "whole model")
"""Which is asked first, by turns."""
TINY = (0.002, 0.02)
"""Seconds of the time limits tried."""


def examine(seed: int) -> Record:
    """Ask everything of the scenario of a seed."""
    drawn = valid(seed)
    shown = mix(drawn.scenario, drawn.data.get("units", "mm"))
    return {"seed": seed, "refused": drawn.refused, "mix": shown, **examine_scenario(drawn.scenario, seed)}


def examine_scenario(scenario: Scenario, seed: int) -> Record:
    """Ask everything of a scenario; the seed says what is asked of a share of them only."""
    out: Record = {"heads": len(scenario.heads), "faults": [], "seconds": {}}

    def timed(name: str, work: Any, *given: Any) -> Any:
        began = process_time()
        try:
            return work(*given)
        except ask.WrongError as error:
            out["faults"].append([error.kind, str(error)])
        except Exception as error:
            where = traceback.extract_tb(error.__traceback__)[-1]
            kind = f"crash: {type(error).__name__} in {Path(where.filename).name}: {where.name}"
            out["faults"].append([kind, f"{name}: {error}"])
        finally:
            out["seconds"][name] = round(process_time() - began, 3)
        return None

    judged = timed("route", ask.routed, scenario, LIMIT)
    if judged is None:
        return out
    timed("referee", ask.judge, judged)
    route = judged.route
    out |= {
        "status": route.status, "served": route.counts.served, "closed": route.proof.lines_closed,
        "candidates": route.proof.candidates, "styles": route.counts.styles,
        "stopped": judged.solution.stopped is not None, "level_changes": route.counts.level_changes,
        "bounded": route.status != "feasible" or route.objective.bound > 0,
    }  # fmt: skip
    out["oracles"] = timed("oracles", ask.compare, judged, ORACLES[seed % 2]) or []
    if route.counts.served < route.counts.heads:
        out["said"] = [h.stopped_by[0].rule for h in route.heads if not h.served]
        if not judged.solution.stopped:
            found = timed("reasons", reasons.verify, judged, 1)
            out["reasons"] = dict(found or {})
            if route.status == "infeasible" and seed % 5 == 0:
                out["explained"] = dict(timed("explain", reasons.explained, judged) or {})
    if seed % 3 == 0:
        out["stop"] = timed("stop", ask.stopped, judged, seed // 3 % max(judged.questions, 1))
    if seed % 10 == 1:
        out["time limit"] = timed("time limit", ask.timed_out, judged, TINY[seed // 10 % 2])
    if seed % 10 == 2 and not out["stopped"]:
        timed("again", ask.same_again, judged)
        out["again"] = True
    if seed % 10 == 3:
        out["other ways"] = timed("other ways", ask.other_ways, judged)
    if seed % 10 == 4 or (scenario.prices is not None and route.status == "feasible"):
        out["fewer heads"] = timed("fewer heads", ask.fewer_heads, judged)
    return out


def child(pipe: Connection) -> None:
    """Examine seeds as they come."""
    while (seed := pipe.recv()) is not None:
        pipe.send(examine(seed))


class Child:
    """A process that examines one seed after the other, and is ended when it hangs."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, other = context.Pipe()
        self.process = context.Process(target=child, args=(other,), daemon=True)
        self.process.start()
        other.close()
        self.seed, self.since = -1, monotonic()

    def give(self, seed: int) -> None:
        """Let it examine a seed."""
        self.seed, self.since = seed, monotonic()
        self.pipe.send(seed)

    def end(self) -> None:
        """End it, whatever it does."""
        self.process.kill()
        self.process.join()


def run(out: Path, first: int, count: int, processes: int) -> int:
    """Examine seeds; lines of ``records.jsonl`` say what was found."""
    out.mkdir(parents=True, exist_ok=True)
    target = out / "records.jsonl"
    done = set()
    if target.exists():
        done = {json.loads(line)["seed"] for line in target.read_text(encoding="utf-8").splitlines()}
    left = [seed for seed in range(first, first + count) if seed not in done][::-1]
    began, number = monotonic(), 0
    children = [Child() for _ in range(min(processes, len(left)))]
    for each in children:
        each.give(left.pop())
    with target.open("a", encoding="utf-8") as file:
        while children:
            ready = set(wait([c.pipe for c in children], timeout=1.0))
            for k, each in enumerate(list(children)):
                record: Record | None = None
                if each.pipe in ready:
                    try:
                        record = each.pipe.recv()
                    except EOFError:
                        record = lost(each, f"crash: the process ended, code {each.process.exitcode}")
                elif monotonic() - each.since > WATCHED:
                    record = lost(each, "hang")
                if record is None:
                    continue
                file.write(json.dumps(record) + "\n")
                file.flush()
                number += 1
                keep(out, record)
                if number % 250 == 0:
                    print(f"{number} done, {(monotonic() - began) / number:.3f} s each", flush=True)
                if not each.process.is_alive():
                    children[k] = each = Child()
                if left:
                    each.give(left.pop())
                else:
                    each.end()
                    children[k] = None  # type: ignore[call-overload]
            children = [c for c in children if c is not None]
    return number


def lost(each: Child, kind: str) -> Record:
    """Record a seed whose child is gone or hangs."""
    each.end()
    return {"seed": each.seed, "faults": [[kind, f"after {monotonic() - each.since:.0f} s"]]}


def keep(out: Path, record: Record) -> None:
    """Write a scenario that fails as a file, the first few of each kind."""
    for kind, text in record["faults"]:
        print(f"seed {record['seed']}: {text[:300]}", flush=True)
        folder = out / "failures" / "".join(c if c.isalnum() else "_" for c in kind)[:60]
        folder.mkdir(parents=True, exist_ok=True)
        if len(list(folder.iterdir())) < 6:
            data = valid(record["seed"]).data
            path = folder / f"{record['seed']}.json"
            path.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")


def main() -> int:
    parser = argparse.ArgumentParser(description="Route and judge scenarios made at random.")
    parser.add_argument("what", choices=["run", "results", "shrink"])
    parser.add_argument("--out", type=Path, default=Path("/tmp/random_scenarios"))
    parser.add_argument("--from", dest="first", type=int, default=0)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    if given.what == "run":
        print(f"{run(given.out, given.first, given.count, given.processes)} scenarios, process {os.getpid()}")
        return 0
    if given.what == "shrink":
        from random_shrink import shrink

        print(json.dumps(shrink(given.seed, examine_scenario), indent=1))
        return 0
    from random_results import write

    return write(given.out / "records.jsonl", HERE / "results")


if __name__ == "__main__":
    raise SystemExit(main())
