"""Mutation testing of the referee and the distances: are the tests able to fail.

    pip install --target LIB cosmic-ray coverage
    PYTHONPATH=.:LIB python benchmarks/mutants.py --work DIR [--count 360] [--seed 8] [--again]

A mutant is the code with one thing changed. Changes come from cosmic-ray's operators and a few of
our own (``mutants_made.py``), drawn from a seed in proportion to what each module offers. Every
mutant is judged by the tests that run its line, quickest first, up to the first that fails. Which
tests run a line is measured first (``DIR/lines.json``; remove it after tests have changed). Tests
are collected once; each mutant gets a process of its own, in which the code of the changed function
takes the place of its own, or, where what is changed runs at import, a fresh interpreter that
imports the changed text. No file is written over. Every result goes to ``DIR/results.jsonl`` at
once, so a run that was stopped goes on where it was; ``--again`` runs what has survived so far once
more, ``--most`` ends a first pass early. ``benchmarks/results/mutants.md`` is written by hand from
it: that a mutant means the same as the code is for a person to say.
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
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from types import CodeType, FunctionType
from typing import TYPE_CHECKING

import pytest
from mutants_made import Mutant, sample
from mutants_tests import OPTIONS, ROOT, TESTS, Known, measure_lines, tests_for, within

if TYPE_CHECKING:
    from collections.abc import Sequence
    from types import ModuleType

WALL_S = 900


class Chosen:
    """Pytest plugin: only the chosen tests, in their order; remembers what failed."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.rank = {test: k for k, test in enumerate(tests)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep the chosen tests, in their order."""
        items[:] = sorted((i for i in items if i.nodeid in self.rank), key=lambda i: self.rank[i.nodeid])

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the first test that fails."""
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Note a module of tests that cannot be imported."""
        if report.failed and not self.failed:
            self.failed = f"import: {report.nodeid}"


class Instead(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Import one module from changed text."""

    def __init__(self, name: str, path: Path, text: str) -> None:
        self.name, self.path, self.text = name, path, text

    def find_spec(
        self, fullname: str, path: object = None, target: object = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Find the one module only."""
        if fullname != self.name:
            return None
        # a package must say where its modules lie
        where = [str(self.path.parent)] if self.path.name == "__init__.py" else None
        return importlib.util.spec_from_file_location(
            fullname, self.path, loader=self, submodule_search_locations=where
        )

    def create_module(self, spec: object) -> None:
        """Let Python make the module."""
        return

    def exec_module(self, module: ModuleType) -> None:
        """Run the changed text in it."""
        exec(compile(self.text, str(self.path), "exec"), module.__dict__)


def name_of(module: str) -> str:
    """Dotted name of a file."""
    return module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def functions_of(module: ModuleType) -> dict[str, FunctionType]:
    """Return the functions and methods of a module by qualified name, whatever is wrapped round them."""
    found: dict[str, FunctionType] = {}
    todo: list[object] = list(vars(module).values())
    while todo:
        thing = todo.pop()
        if isinstance(thing, FunctionType):
            if thing.__module__ == module.__name__ and thing.__code__.co_filename == module.__file__:
                found[thing.__qualname__] = thing
        elif isinstance(thing, type) and thing.__module__ == module.__name__:
            todo += vars(thing).values()
        else:
            todo += [getattr(thing, name, None) for name in ("fget", "func", "__func__", "__wrapped__")]
            todo = [each for each in todo if each is not None]
    return found


def codes_of(code: CodeType) -> dict[str, CodeType]:
    """Return the code of every function in a module's code, by qualified name."""
    found: dict[str, CodeType] = {}
    for each in code.co_consts:
        if isinstance(each, CodeType):
            found[each.co_qualname] = each
            found |= {k: v for k, v in codes_of(each).items() if k not in found}
    return found


def put_in(mutant: Mutant) -> None:
    """Give the functions of a loaded module the code that they have in the mutant."""
    module = importlib.import_module(name_of(mutant.module))
    codes = codes_of(compile(mutant.text, str(ROOT / mutant.module), "exec"))
    changed = 0
    for name, function in functions_of(module).items():
        if name in codes and codes[name] != function.__code__:
            function.__code__ = codes[name]
            changed += 1
    assert changed, mutant


def limited(cpu_s: int) -> None:
    """End this process when its time is up: a mutant may run for ever."""
    os.setpgid(0, 0)
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 5))
    quiet = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(quiet, stream)


class Loop:
    """Pytest plugin: in place of running all tests, run for every mutant those that run its line."""

    def __init__(self, todo: list[Mutant], known: Known, args: argparse.Namespace, results: Path) -> None:
        self.todo, self.known, self.args, self.results = todo, known, args, results
        self.failed = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note the first test that fails."""
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Judge all mutants; nothing else is run."""
        items = {item.nodeid: item for item in session.items}
        workers = []
        for k in range(self.args.jobs):
            workers.append(os.fork())
            if not workers[-1]:
                for mutant in self.todo[k :: self.args.jobs]:
                    self.one(mutant, items)
                os._exit(0)
        for worker in workers:
            os.waitpid(worker, 0)
        return True

    def one(self, mutant: Mutant, items: dict[str, pytest.Item]) -> None:
        """Judge one mutant and write what was found."""
        tests = within(tests_for(mutant, self.known), self.known["seconds"], self.args.most)
        row: dict[str, object] = {"outcome": "no test"}
        if tests:
            cpu_s = 30 + int(5 * sum(self.known["seconds"][t] for t in tests))
            out, into = os.pipe()
            child = os.fork()
            if not child:
                limited(cpu_s)
                if mutant.at_import:
                    os.write(into, self.fresh(mutant, tests))
                    os._exit(0)
                put_in(mutant)
                chosen = [items[test] for test in tests if test in items]
                for item, after in zip(chosen, [*chosen[1:], None], strict=True):
                    item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                    if self.failed:
                        break
                os.write(into, self.failed.encode() or b"-")
                os._exit(0)
            os.close(into)
            row = said_by(child, out)
        row = {**mutant.record(), **row, "tests": len(tests)}
        with self.results.open("a") as file:  # a row is short: appended in one go
            file.write(json.dumps(row) + "\n")

    def fresh(self, mutant: Mutant, tests: list[str]) -> bytes:
        """Run the tests in a fresh interpreter that imports the mutant."""
        with tempfile.NamedTemporaryFile("w", suffix=".json") as file:
            json.dump({"module": mutant.module, "text": mutant.text, "tests": tests}, file)
            file.flush()
            return (
                subprocess.run(
                    [sys.executable, __file__, "--one", file.name], stdout=subprocess.PIPE, check=False
                ).stdout
                or b"ended"
            )


def said_by(child: int, out: int) -> dict[str, object]:
    """Wait for a mutant's process: which test failed, or that it ran for ever."""
    deadline = time.monotonic() + WALL_S
    while not (done := os.waitpid(child, os.WNOHANG))[0]:
        if time.monotonic() > deadline:
            os.killpg(child, signal.SIGKILL)
        time.sleep(0.02)
    said = os.read(out, 65536).decode()
    os.close(out)
    if not said:
        signalled = os.WIFSIGNALED(done[1])
        return {"outcome": "timeout" if signalled else "killed", "killer": f"ended with {done[1]}"}
    return {"outcome": "survived"} if said == "-" else {"outcome": "killed", "killer": said}


def one(path: Path) -> None:
    """Judge a mutant in this interpreter; print which test failed or a dash."""
    given = json.loads(path.read_text())
    sys.meta_path.insert(0, Instead(name_of(given["module"]), ROOT / given["module"], given["text"]))
    chosen = Chosen(given["tests"])
    files = list(dict.fromkeys(t.split("::")[0] for t in given["tests"]))
    answer = os.dup(1)
    os.dup2(2, 1)
    code = pytest.main([*files, *OPTIONS], plugins=[chosen])
    os.write(answer, (chosen.failed or ("killed" if code else "-")).encode())


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--work", type=Path)
    parser.add_argument("--one", type=Path, help="used by itself")
    parser.add_argument("--count", type=int, default=360)
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument("--again", action="store_true", help="run survivors once more")
    parser.add_argument("--only", default="", help="modules whose path holds this")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--most", type=float, default=1e9, help="seconds of tests a mutant: a first pass")
    args = parser.parse_args()
    os.chdir(ROOT)
    if args.one:
        one(args.one)
        return
    args.work.mkdir(parents=True, exist_ok=True)
    known_path, results = args.work / "lines.json", args.work / "results.jsonl"
    results.touch()
    if not known_path.exists():
        child = os.fork()  # so that nothing of the router is imported here
        if not child:
            known_path.write_text(json.dumps(measure_lines()))
            os._exit(0)
        if os.waitpid(child, 0)[1]:
            sys.exit("the tests fail on the code as it is")
    known = json.loads(known_path.read_text())
    last = outcomes(results)
    mutants = sample(ROOT, args.count, args.seed, args.only)
    open_ones = ("survived", "no test") if args.again else ()
    todo = [m for m in mutants if m.id not in last or last[m.id] in open_ones]
    pytest.main([*TESTS, *OPTIONS], plugins=[Loop(todo, known, args, results)])
    last = outcomes(results)
    by_module: dict[str, Counter[str]] = {}
    for mutant in mutants:
        by_module.setdefault(mutant.module, Counter())[last.get(mutant.id, "not run")] += 1
    for module, found in by_module.items():
        print(f"{module}: {dict(found)}")
    print(f"all: {dict(sum(by_module.values(), Counter()))}")


def outcomes(results: Path) -> dict[str, str]:
    """Return the last outcome of each mutant so far."""
    rows = [json.loads(row) for row in results.read_text().splitlines()]
    return {row["id"]: row["outcome"] for row in rows}


if __name__ == "__main__":
    main()
