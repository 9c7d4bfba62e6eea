"""Names that a program could take for something else than text."""

from __future__ import annotations

from typing import Any

NAMES = {
    "script": "</script><script>window.hit = 1</script>",
    "image": "<img src=x onerror='window.hit = 1'>",
    "svg": "<svg onload='window.hit = 1'><use href='http://evil.invalid/x.svg#a'/></svg>",
    "style": "</style><style>@import 'http://evil.invalid/x.css'</style>",
    "link": "javascript:window.hit=1",
    "address": "http://evil.invalid/x.png",
    "braces": "{{7*7}}",
    "dollar": "${7*7}",
    "percent": "%s %n %(x)s {0}",
    "comment": "<!--",
    "cdata": "]]>",
    "entity": "&lt;b&gt; &#60;i&#62; &amp;xxe;",
    "quotes": "\" ' onmouseover='window.hit = 1'",
    "right to left": "\u05e9\u05dc\u05d5\u05dd abc",
    "formula": "=cmd|' /C calc'!A0",
    "plus": "+1+1",
    "minus": "-2+3",
    "at": "@SUM(1)",
    "up": "../../../up",
    "drive": "C:\\Windows\\x",
    "pdf": ") Tj /JavaScript (app.alert\\(1\\)",
    "step": "'); #1=IFCWALL('",
    "csv": 'a","b',
    "long": "L" * 200,
}


def hostile(names: list[str] | None = None) -> dict[str, Any]:
    """Give a scenario of one line whose every name is hostile, a head for each."""
    names = list(NAMES.values()) if names is None else names
    end = 3000.0 * len(names)
    square = [[3000, -2000], [3300, -2000], [3300, 2000], [3000, 2000]]
    story = [[0, -3000], [end, -3000], [end, 3000], [0, 3000]]
    return {
        "name": f"Nasty {NAMES['script']}",
        "story": f"{NAMES['image']} {NAMES['quotes']} {NAMES['cdata']}",
        "runs": [{"id": NAMES["script"], "plan": [[0, 0], [end, 0]], "elevation": 3200, "size": 50}],
        "heads": [
            {"id": name, "at": [1500 + 3000 * n, 400 * (-1) ** n, 2700]} for n, name in enumerate(names)
        ],
        "obstructions": [
            {"id": NAMES["image"], "kind": NAMES["svg"], "polygon": square, "elevations": [3260, 3500]}
        ],
        "ceilings": [{"id": NAMES["style"], "polygon": story, "elevation": 2750}],
        "keep_out": [{"id": NAMES["quotes"], "polygon": square, "of": "outlets", "why": NAMES["image"]}],
    }
