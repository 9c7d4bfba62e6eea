"""One browser and one report of the demo for all tests of a process."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from browser.opened import Opened
from router.building.route import route_scenario
from router.deliver.report import prepare, report_html
from router.deliver.report.prepare import Given
from router.explain import explain_route
from router.scenario import read_scenario

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Playwright

    from router.route.model import Route
    from router.scenario.model import Scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
NAMES = ("chromium", "chromium-browser")
SOFTWARE = ("--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
"""WebGL drawn by the processor: no graphics card is needed."""


@pytest.fixture(scope="session")
def chromium() -> str:
    """Give the path of Chromium. Without it the tests skip, but where CI is set they fail."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None:
        text = "Chromium is not installed: the report is not tested in a browser (apt-get install chromium)"
        if os.environ.get("CI") == "true":
            pytest.fail(text)
        pytest.skip(text)
    return found


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="session")
def browser(playwright: Playwright, chromium: str) -> Iterator[Browser]:
    started = playwright.chromium.launch(executable_path=chromium, args=list(SOFTWARE))
    yield started
    started.close()


@pytest.fixture(scope="session")
def demo() -> tuple[Scenario, Route]:
    """Give the demo's scenario and its route; not to be changed."""
    scenario = read_scenario(SCENARIOS / "loading_dock.json")
    return scenario, route_scenario(scenario)[0]


@pytest.fixture(scope="session")
def demo_file(demo: tuple[Scenario, Route], tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("report") / "demo report.html"
    scenario, route = demo
    file.write_text(report_html(prepare(scenario, [Given("route", route)])), encoding="utf-8")
    return file


@pytest.fixture(scope="session")
def reasons_file(demo: tuple[Scenario, Route], tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("report") / "reasons.html"
    scenario, route = demo
    why = {"route": explain_route(scenario, route)}
    file.write_text(report_html(prepare(scenario, [Given("route", route)], (), why)), encoding="utf-8")
    return file


RESET = """() => {
  document.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' }));
  const form = document.getElementById('filters'), units = document.getElementById('units');
  form.reset();
  form.dispatchEvent(new Event('change'));
  units.value = 'mm';
  units.dispatchEvent(new Event('change'));
  document.querySelector('[data-view="iso"]').click();
  scrollTo(0, 0);
}"""


@pytest.fixture(scope="session")
def demo_page(browser: Browser, demo_file: Path) -> Iterator[Opened]:
    page = Opened(browser, demo_file, "", True, (1366, 768))
    yield page
    page.close()


@pytest.fixture
def page(demo_page: Opened) -> Iterator[Opened]:
    """Give the demo's report as it is when it has been opened; opening anew would take seconds a test."""
    demo_page.js(RESET)
    yield demo_page
    assert demo_page.complaints == []
    assert demo_page.asked == [demo_page.file.as_uri()]


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Opened]]:
    """Give a function that opens a file; what its page complains of fails the test at the end."""
    pages: list[Opened] = []

    def start(
        file: Path, *, hash_: str = "", scripts: bool = True, size: tuple[int, int] = (1366, 768)
    ) -> Opened:
        page = Opened(browser, file, hash_, scripts, size)
        pages.append(page)
        return page

    yield start
    for page in pages:
        page.close()
        assert page.complaints == []
        assert page.asked == [file for file in page.asked if file == page.file.as_uri()]
