"""Mutation testing of the referee and the distances: are the tests able to fail?

    pip install --target LIB cosmic-ray coverage
    PYTHONPATH=.:LIB python benchmarks/mutants.py --work DIR [--count 600] [--seed 8] [--again]

A mutant is the code with one thing changed. Changes come from cosmic-ray's operators and a few of
our own (``mutants_made.py``), drawn from a seed in proportion to what each module offers. Every
mutant is judged by the tests that run its line, quickest first, in a process of its own that
imports the changed module instead of the file: no file is written over. Which tests run a line is
measured first (``DIR/lines.json``; remove it after tests have changed). Every result goes to
``DIR/results.jsonl`` at once, so a run that was stopped goes on where it was; ``--again`` runs what
has survived so far once more. ``benchmarks/results/mutants.md`` is written by hand from it: that a
mutant means the same as the code is for a person to say.
"""

from __future__ import annotations

import argparse
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import resource
import signal
import sys
import time
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from mutants_made import Mutant, sample

if TYPE_CHECKING:
    from collections.abc import Generator, Sequence
    from types import ModuleType

HERE = Path(__file__).parent
ROOT = HERE.parent
TESTS = [
    "tests/check",
    "tests/geometry",
    "tests/hangers",
    "tests/takeoffs",
    "tests/compare",
    "tests/test_keep_out.py",
    "tests/test_pins.py",
    "tests/test_reasons.py",
    "tests/test_small_cases.py",
]
OPTIONS = ["-q", "-x", "-p", "no:cacheprovider", "--no-header", "--tb=no"]
WALL_S = 900


class Contexts:
    """Pytest plugin: says which test is running, and how long each took."""

    def __init__(self) -> None:
        import coverage

        self.coverage = coverage.Coverage(
            data_file=None, source=["router.check", "router.geometry"], config_file=False
        )
        self.seconds: Counter[str] = Counter()
        self.failed: list[str] = []

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        self.coverage.switch_context(item.nodeid)
        return (yield)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.seconds[report.nodeid] += report.duration
        if report.failed:
            self.failed.append(report.nodeid)


def measure_lines() -> dict[str, object]:
    """Run all tests once: which of them run which line of which module, and their seconds."""
    plugin = Contexts()
    plugin.coverage.start()
    pytest.main([*TESTS, *OPTIONS], plugins=[plugin])
    plugin.coverage.stop()
    assert not plugin.failed, plugin.failed
    data = plugin.coverage.get_data()
    lines: dict[str, dict[str, list[str]]] = {}
    for path in data.measured_files():
        by_line = data.contexts_by_lineno(path)
        lines[str(Path(path).relative_to(ROOT))] = {
            str(line): sorted(c for c in contexts if c) for line, contexts in sorted(by_line.items())
        }
    return {"seconds": dict(plugin.seconds), "lines": lines}


class Chosen:
    """Pytest plugin: only the chosen tests, in their order; remembers what failed."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.rank = {test: k for k, test in enumerate(tests)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((i for i in items if i.nodeid in self.rank), key=lambda i: self.rank[i.nodeid])

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed and not self.failed:
            self.failed = f"import: {report.nodeid}"


class Instead(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Import one module from changed text."""

    def __init__(self, name: str, path: Path, text: str) -> None:
        self.name, self.path, self.text = name, path, text

    def find_spec(
        self, fullname: str, path: object = None, target: object = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname != self.name:
            return None
        # a package must say where its modules lie
        where = [str(self.path.parent)] if self.path.name == "__init__.py" else None
        return importlib.util.spec_from_file_location(
            fullname, self.path, loader=self, submodule_search_locations=where
        )

    def create_module(self, spec: object) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.text, str(self.path), "exec"), module.__dict__)


def name_of(module: str) -> str:
    """Dotted name of a file."""
    return module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def tests_for(mutant: Mutant, known: dict[str, dict[str, dict[str, list[str]]]]) -> list[str]:
    """Return tests that run its lines, quickest first; for what runs at import, all that run the module."""
    lines = known["lines"].get(mutant.module, {})
    found = {t for k in range(mutant.first_line, mutant.last_line + 1) for t in lines.get(str(k), [])}
    if not found and mutant.at_import:
        found = {t for tests in lines.values() for t in tests}
    return sorted(found, key=lambda t: (known["seconds"][t], t))


def judge(mutant: Mutant, tests: list[str], cpu_s: int) -> dict[str, str]:
    """Run the tests on a mutant in a process of its own."""
    if not tests:
        return {"outcome": "no test"}
    out, into = os.pipe()
    child = os.fork()
    if not child:
        os.close(out)
        os.setpgid(0, 0)
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 5))
        resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
        quiet = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(quiet, stream)
        name = name_of(mutant.module)
        assert name not in sys.modules, name
        sys.meta_path.insert(0, Instead(name, ROOT / mutant.module, mutant.text))
        chosen = Chosen(tests)
        files = list(dict.fromkeys(t.split("::")[0] for t in tests))
        try:
            code = int(pytest.main([*files, *OPTIONS], plugins=[chosen]))
        except BaseException as error:
            code, chosen.failed = 1, f"crash: {type(error).__name__}"
        os.write(into, json.dumps({"code": code, "killer": chosen.failed}).encode())
        os._exit(0)
    os.close(into)
    deadline = time.monotonic() + WALL_S
    while not (done := os.waitpid(child, os.WNOHANG))[0]:
        if time.monotonic() > deadline:
            os.killpg(child, signal.SIGKILL)
        time.sleep(0.02)
    said = os.read(out, 65536)
    os.close(out)
    if not said:
        return {"outcome": "timeout" if os.WIFSIGNALED(done[1]) else "killed", "killer": f"signal {done[1]}"}
    result = json.loads(said)
    return {"outcome": "killed" if result["code"] else "survived", "killer": result["killer"]}


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("--count", type=int, default=600)
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument("--again", action="store_true", help="run survivors once more")
    parser.add_argument("--only", default="", help="modules whose path holds this")
    args = parser.parse_args()
    os.chdir(ROOT)
    args.work.mkdir(parents=True, exist_ok=True)
    known_path, results_path = args.work / "lines.json", args.work / "results.jsonl"
    if not known_path.exists():
        child = os.fork()  # so that nothing of the router is imported here
        if not child:
            known_path.write_text(json.dumps(measure_lines()))
            os._exit(0)
        if os.waitpid(child, 0)[1]:
            sys.exit("the tests fail on the code as it is")
    known = json.loads(known_path.read_text())
    rows = [json.loads(row) for row in results_path.read_text().splitlines()] if results_path.exists() else []
    last = {row["id"]: row["outcome"] for row in rows}
    import hypothesis  # noqa: F401
    import scipy.optimize
    import trimesh  # noqa: F401

    import router.scenario.read
    import router.trade.sizes  # noqa: F401

    mutants = sample(ROOT, args.count, args.seed)
    with results_path.open("a") as file:
        for mutant in mutants:
            if args.only not in mutant.module:
                continue
            if mutant.id in last and not (args.again and last[mutant.id] in ("survived", "no test")):
                continue
            tests = tests_for(mutant, known)
            cpu_s = 30 + int(5 * sum(known["seconds"][t] for t in tests))
            row = {**mutant.record(), **judge(mutant, tests, cpu_s), "tests": len(tests)}
            last[mutant.id] = row["outcome"]
            file.write(json.dumps(row) + "\n")
            file.flush()
    by_module: dict[str, Counter[str]] = {}
    for mutant in mutants:
        by_module.setdefault(mutant.module, Counter())[last.get(mutant.id, "not run")] += 1
    for module, outcomes in by_module.items():
        print(f"{module}: {dict(outcomes)}")
    print(f"all: {dict(sum(by_module.values(), Counter()))}")


if __name__ == "__main__":
    main()
