"""Which tests a mutant is judged by: those that run its line, the quickest first."""

from __future__ import annotations

from collections import Counter
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Generator

    from mutants_made import Mutant

ROOT = Path(__file__).parent.parent
TESTS = [
    "tests/check",
    "tests/geometry",
    "tests/hangers",
    "tests/takeoffs",
    "tests/compare",
    "tests/building/test_kept_by_hand.py",
    "tests/building/test_wet_low_sections.py",
    "tests/test_keep_out.py",
    "tests/test_pins.py",
    "tests/test_reasons.py",
    "tests/test_small_cases.py",
]
OPTIONS = ["-q", "-x", "-p", "no:cacheprovider", "--no-header", "--tb=no"]

Known = dict[str, Any]
"""What was measured: ``seconds`` by test, ``lines`` by module and line: the tests that run it."""


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
        """Tell coverage which test runs."""
        self.coverage.switch_context(item.nodeid)
        return (yield)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note how long a test took and whether it failed."""
        self.seconds[report.nodeid] += report.duration
        if report.failed:
            self.failed.append(report.nodeid)


def measure_lines() -> Known:
    """Run all tests once: which of them run which line of which module, and their seconds.

    What fails while it is measured (processes of its own) takes no part.
    """
    plugin = Contexts()
    plugin.coverage.start()
    pytest.main([*TESTS, *(o for o in OPTIONS if o != "-x")], plugins=[plugin])
    plugin.coverage.stop()
    data = plugin.coverage.get_data()
    lines: dict[str, dict[str, list[str]]] = {}
    for path in data.measured_files():
        by_line = data.contexts_by_lineno(path)
        lines[str(Path(path).relative_to(ROOT))] = {
            str(line): sorted(set(contexts) - {"", *plugin.failed})
            for line, contexts in sorted(by_line.items())
        }
    return {"seconds": dict(plugin.seconds), "lines": lines}


def tests_for(mutant: Mutant, known: Known) -> list[str]:
    """Return tests that run its lines, quickest first; for what runs at import, all that run the module."""
    lines = known["lines"].get(mutant.module, {})
    found = {t for k in range(mutant.first_line, mutant.last_line + 1) for t in lines.get(str(k), [])}
    if not found and mutant.at_import:
        found = {t for tests in lines.values() for t in tests}
    return sorted(found, key=lambda t: (known["seconds"][t], t))


def within(tests: list[str], seconds: dict[str, float], most: float) -> list[str]:
    """Return the first tests that take no more than so many seconds together."""
    return [t for t, total in zip(tests, accumulate(seconds[t] for t in tests), strict=True) if total <= most]
