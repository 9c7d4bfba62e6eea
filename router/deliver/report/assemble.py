"""The whole page: its parts in the order of a reader's questions, style sheet, scripts, security policy."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import TYPE_CHECKING

from router.deliver.report.answer import answer, heading, route_name
from router.deliver.report.buying import buying
from router.deliver.report.checking import checking
from router.deliver.report.differences import differences
from router.deliver.report.heads import heads
from router.deliver.report.html import Html, el, join
from router.deliver.report.kept import kept
from router.deliver.report.levels import levels
from router.deliver.report.model3d import model_json
from router.deliver.report.proven import proven
from router.deliver.report.rules import rules
from router.deliver.report.viewer import bar, plan, space
from router.deliver.report.words import made_from, words
from router.route.model import CAUTION

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.deliver.report.prepare import Contents, Shown

SCRIPTS = ("units", "model", "tables", "scene", "view3d", "filters", "linking", "drawings", "main")
"""Files of ``page/``, in the order in which they are put together."""
PARTS = {
    "answer": "The answer",
    "heads": "How each head is connected",
    "levels": "Where the line changes level and why",
    "plan": "Plan",
    "space": "3D",
    "buy": "What to buy",
    "site": "What to check on site",
    "proof": "What was proven",
    "routes": "Differences between routes",
    "rules": "Weights and rules",
    "words": "Words and sources",
}
SHORT = {
    "heads": "Heads",
    "levels": "Levels",
    "site": "Check on site",
    "proof": "Proof",
    "routes": "Differences",
    "rules": "Rules",
    "words": "Words",
    "answer": "Answer",
    "buy": "Buy",
}


def report_html(contents: Contents) -> str:
    """Write the page.

    Parameters
    ----------
    contents : Contents
        From :func:`router.deliver.report.prepare.prepare`.

    Returns
    -------
    str
        One HTML document that needs nothing from elsewhere; the same bytes for the same contents.
    """
    three, own = _file("vendor/three.min.js"), _own_script()
    policy = (
        "default-src 'none'; "
        f"script-src {_hash(three)} {_hash(own)}; style-src 'unsafe-inline'; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )
    shown_parts = {key: made for key, title in PARTS.items() if (made := _part(contents, key)) is not None}
    sections = [
        el("section", el("h2", PARTS[key]) if key != "answer" else None, made, id=key)
        for key, made in shown_parts.items()
    ]
    page = [
        Html("<!DOCTYPE html>\n"),
        Html('<html lang="en">'),
        el(
            "head",
            el("meta", charset="utf-8"),
            Html(f'<meta http-equiv="Content-Security-Policy" content="{policy}">'),
            el("meta", name="viewport", content="width=device-width, initial-scale=1"),
            el("title", f"{contents.scenario.name}: how every head is connected"),
            el("style", Html(_file("page.css"))),
        ),
        Html("<body>"),
        el("a", "To the answer", href="#answer", class_="skip"),
        _navigation(contents, list(shown_parts)),
        el("main", heading(contents), _caution(), *sections, _caution()),
        Html('<div id="tip" role="status" aria-live="polite" hidden></div>'),
        Html(f'<script type="application/json" id="data">{model_json(contents)}</script>'),
        Html(f"<script>{three}</script>"),
        Html(f"<script>{own}</script>"),
        Html("</body></html>\n"),
    ]
    return str(join(page, Html("\n")))


def _part(contents: Contents, key: str) -> Html | None:
    of_a_route: dict[str, Callable[[Shown], Html]] = {
        "answer": lambda s: answer(contents, s),
        "heads": lambda s: heads(contents, s),
        "levels": lambda s: levels(contents, s),
        "plan": lambda s: plan(contents, s),
        "buy": lambda s: buying(contents, s),
        "site": lambda s: checking(contents, s),
        "proof": proven,
    }
    if key in of_a_route:
        return join(
            el("div", route_name(contents, shown), of_a_route[key](shown), class_="of-route", data_route=k)
            for k, shown in enumerate(contents.shown)
        )
    if key == "space":
        return space(contents)
    if key == "routes":
        olds = [
            el("div", route_name(contents, shown), old, class_="of-route", data_route=k)
            for k, shown in enumerate(contents.shown)
            if (old := kept(shown)) is not None
        ]
        found = differences(contents)
        return join([found, *olds]) if found is not None or olds else None
    if key == "rules":
        return rules(contents)
    return join([words(), el("h3", "Made from", class_="sub"), made_from(contents)])


def _navigation(contents: Contents, keys: list[str]) -> Html:
    links = [el("li", el("a", SHORT.get(key, PARTS[key]), href=f"#{key}")) for key in keys]
    return el("nav", el("ul", *links), bar(contents), aria_label="Parts of this report")


def _caution() -> Html:
    return el("p", el("strong", "Caution. "), CAUTION, class_="caution", role="note")


def _own_script() -> str:
    parts = "\n".join(_file(f"{name}.js") for name in SCRIPTS)
    return f"(function () {{\n'use strict';\n{parts}\n}})();\n"


def _file(name: str) -> str:
    """Read a file of the page; nothing in it may end its element."""
    text = files("router.deliver.report").joinpath("page").joinpath(name).read_text(encoding="utf-8")
    if "</script" in text.lower() or "</style" in text.lower():
        raise ValueError(f"page/{name}: must not hold the end of its own element")
    return text


def _hash(script: str) -> str:
    digest = hashlib.sha256(script.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
