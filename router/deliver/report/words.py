"""The words of the page explained, and what it was made from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.deliver.report.html import Html, el, join
from router.deliver.report.wording import STYLE_SAYS

if TYPE_CHECKING:
    from router.deliver.report.prepare import Contents

WORDS = {
    "head": "A sprinkler. Its inlet is the point that the pipe must reach. Pendent: fed from above. Upright: "
    "from below. Sidewall: from behind. A dry head has a barrel, ordered to length.",
    "line": "A run of pipe given in plan: a main, a cross main or a branch line.",
    "station": "Distance in plan along a line from its supply end.",
    "level": "Elevation of a line's centre at its supply end; its pitch comes on top.",
    "offset": "A change of level within a line: two elbows of 45 or 90 degrees.",
    "takeoff": "Whatever leaves a line: pipe to one head, to several heads, or another line.",
    "outlet": "The opening in a line where a takeoff begins: to the left or right (looking away from the "
    "supply), at the top, at the bottom, or at its end.",
    "arm": "Horizontal pipe from an outlet or a riser nipple towards a head.",
    "drop, sprig": "The upright pipe down to a pendent head; up to an upright head.",
    "riser nipple": "An upright pipe between an outlet and what it feeds.",
    "dogleg": "One more elbow in an arm, because outlet and head do not line up.",
    "take-out": "From the centre of a fitting to the end of the fitting.",
    "make-up": "The pipe between two fittings; there is a shortest one that can be made.",
    "obstruction": "Beam, duct, tray, column or another trade's pipe: a plan outline, a range of "
    "elevations, a clearance.",
    "drain": "What a low section needs that cannot drain back to the supply.",
    "candidate": "One way to serve a head, or one stretch of a line at a level, that was built and checked "
    "before choosing.",
    "points": "The currency of choosing: what each fitting, level change, metre of pipe is worth. The "
    "weights are the designer's.",
    "bound": "Points below which no choice among the candidates can come.",
    "referee": "The part that judges a finished route. It shares nothing with the part that found it.",
    "mark": "Name of a cut length; pieces that are cut alike share it.",
}


def words() -> Html:
    """Give the glossary."""
    styles = {
        title: says[0].upper() + says[1:] + "."
        for key, (title, says) in STYLE_SAYS.items()
        if key != "run_takeoff"
    }
    entries = (WORDS | styles).items()
    return el("dl", *(el("div", el("dt", word), el("dd", says)) for word, says in entries), class_="words")


def made_from(contents: Contents) -> Html:
    """Say from which files, by which version."""
    files = [el("li", el("bdi", s.name), ": ", el("code", s.sha256)) for s in contents.sources]
    versions = dict.fromkeys(
        ", ".join(f"{what} {number}" for what, number in shown.route.versions.items())
        for shown in contents.shown
        if shown.route.versions
    )
    return join(
        [
            el(
                "p",
                f"Written by branch-router {contents.version}.",
                f" Routes solved with {'; '.join(versions)}." if versions else None,
            ),
            el("p", "SHA-256 of the files that it was made from:") if files else None,
            el("ul", *files, class_="files") if files else None,
        ]
    )
