"""A page in the browser, and everything that it complains of or asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser


class Opened:
    """Opens a report from its file.

    ``complaints``: errors and warnings of the console, faults of scripts.
    ``asked``: every address that was asked for, without ``data:`` and ``blob:``.
    """

    def __init__(
        self, browser: Browser, file: Path, hash_: str, scripts: bool, size: tuple[int, int]
    ) -> None:
        self.file = file
        self.complaints: list[str] = []
        self.asked: list[str] = []
        self.context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, java_script_enabled=scripts
        )
        self.page = self.context.new_page()
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", self._request)
        self.page.goto(file.as_uri() + hash_)
        if scripts:
            self.page.wait_for_selector("html[data-ready]")

    def _console(self, message: Any) -> None:
        # the software renderer remarks that reading pixels back is slow
        if message.type in ("error", "warning") and "GPU stall" not in message.text:
            self.complaints.append(message.text)

    def _request(self, request: Any) -> None:
        if not request.url.startswith(("data:", "blob:")):
            self.asked.append(request.url.partition("#")[0])

    def js(self, code: str, argument: Any = None) -> Any:
        """Return what JavaScript gives."""
        return self.page.evaluate(code, argument)

    def text(self, selector: str) -> str:
        """Return the text that is shown of the first match."""
        return self.page.locator(selector).first.inner_text()

    def show(self, part: str) -> None:
        """Bring a part of the page into view."""
        self.js("id => document.getElementById(id).scrollIntoView()", part)
        self.page.wait_for_timeout(60)

    def place(self, thing: str) -> tuple[float, float]:
        """Return where a thing is on the screen in the 3D view."""
        x, y = self.js("thing => window.report.placeOf(thing)", thing)
        return x, y

    def close(self) -> None:
        """Close the page."""
        self.context.close()
