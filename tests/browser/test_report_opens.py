"""The page opens from its file, at usual sizes, without scripts, without WebGL, on paper."""

from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from browser.opened import Opened

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Playwright

    from router.route.model import Route
    from router.scenario.model import Scenario

PARTS = ("answer", "heads", "levels", "plan", "space", "buy", "site", "proof", "rules", "words")


@pytest.mark.parametrize("size", [(1366, 768), (1920, 1080)])
def test_it_opens_without_a_complaint_and_fits_the_screen(
    opened: Callable[..., Opened], demo_file: Path, size: tuple[int, int]
) -> None:
    page = opened(demo_file, size=size)
    assert page.asked == [demo_file.as_uri()]
    for part in PARTS:
        page.show(part)
    assert page.js("document.documentElement.scrollWidth <= innerWidth")
    page.js("() => { for (const one of document.querySelectorAll('details')) one.open = true; }")
    page.page.select_option("#units", "ft")
    assert page.js("document.documentElement.scrollWidth <= innerWidth")


def test_a_request_would_be_refused(page: Opened) -> None:
    refused = page.js("() => fetch('data:text/plain,x').then(() => 'let through', () => 'refused')")
    assert refused == "refused"
    page.complaints.clear()  # the browser says that it refused


def test_everything_but_the_3d_view_is_there_without_scripts(
    opened: Callable[..., Opened], demo_file: Path, demo: tuple[Scenario, Route]
) -> None:
    page = opened(demo_file, scripts=False)
    text = page.text("main")
    for head in demo[0].heads:
        assert re.search(rf"^{head.id}\t", page.text("#heads table"), flags=re.M), head.id
    for words in ("What to buy", "Cut list, by mark", "Near a limit", "The 3D view needs a script and WebGL"):
        assert words in text
    assert page.page.locator("#plan .drawing > svg").is_visible()
    assert not page.page.locator("#view3d").is_visible()
    assert not page.page.locator("#units").is_visible()


def test_without_webgl_the_rest_works(
    playwright: Playwright, chromium: str, demo_file: Path, demo: tuple[Scenario, Route]
) -> None:
    browser = playwright.chromium.launch(
        executable_path=chromium, args=["--no-sandbox", "--disable-gpu", "--disable-3d-apis"]
    )
    page = Opened(browser, demo_file, "#plan", True, (1366, 768))
    assert page.page.locator("#no3d").is_visible()
    assert not page.page.locator("#view3d").is_visible()
    page.page.locator('#heads [data-go="head:H05"]').click()
    assert page.js("document.querySelectorAll('#heads tr.picked').length") == 1
    page.page.select_option("#units", "m")
    assert "3.000 m" in page.text(".asked")
    assert page.complaints == []
    browser.close()


def test_it_prints_on_a3_with_every_row(page: Opened, demo: tuple[Scenario, Route]) -> None:
    made = PdfReader(BytesIO(page.page.pdf(prefer_css_page_size=True)))
    box = made.pages[0].mediabox
    # ISO 216: A3 is 297 x 420 mm; a point is 1/72 in.
    assert float(box.width) == pytest.approx(420 / 25.4 * 72, abs=1)
    assert float(box.height) == pytest.approx(297 / 25.4 * 72, abs=1)
    texts = [one.extract_text() for one in made.pages]
    assert all(len(text) > 40 or "3D" in text for text in texts), "an empty page"
    whole = "\n".join(texts)
    for words in ("How each head is connected", "What to check on site", "Which piece comes out of which"):
        assert words in whole
    for piece in demo[1].pieces:
        assert piece.id in whole
    for hanger in demo[1].hangers:
        assert hanger.id in whole
    # a table that goes on has its head again: as often as pages have marks of the cut list in them
    marks = [text for text in texts if re.search(r"^[A-E]\d+ \d+ ", text, flags=re.M)]
    assert len(marks) > 1
    assert all("cut length" in text for text in marks)
    assert all(f"{k + 1} of {len(texts)}" in text for k, text in enumerate(texts))
    assert len(texts) < 25
