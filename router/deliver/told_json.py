"""Reasons and times as JSON: what ``explain --json`` and ``route --times`` write."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from router.explain import Explained

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from router.explain import HeadReasons, RunReasons

REASONS = "branch-drop-router/reasons"
TIMES = "branch-drop-router/times"
VERSION = 1


def reasons_text(found: Explained | Sequence[HeadReasons | RunReasons]) -> str:
    """Give reasons as JSON text, the same text for the same reasons.

    Parameters
    ----------
    found
        Of a whole route: lists ``heads`` and ``runs``. Of one head or run: its fields. Of a head
        and a run of one name, in this order: ``head`` and ``run``.

    Returns
    -------
    str
    """
    if isinstance(found, Explained):
        return _text(REASONS, found.model_dump(mode="json"))
    data = [reasons.model_dump(mode="json") for reasons in found]
    return _text(REASONS, data[0] if len(data) == 1 else {"head": data[0], "run": data[1]})


def times_text(seconds: Mapping[str, float]) -> str:
    """Give the seconds by phase as JSON text.

    Returns
    -------
    str
    """
    return _text(TIMES, {"seconds": {phase: round(value, 4) for phase, value in seconds.items()}})


def _text(name: str, data: Mapping[str, Any]) -> str:
    whole = {"format": name, "version": VERSION, **data}
    return json.dumps(whole, indent=2, ensure_ascii=False) + "\n"
