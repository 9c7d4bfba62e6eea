"""The published JSON Schema of a route file, derived from the records."""

from __future__ import annotations

from typing import Any

from router.route.model import Route
from router.scenario.schema import DIALECT


def route_schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of ``route.json``.

    Returns
    -------
    dict
        All lengths are in mm.
    """
    return {"$schema": DIALECT, **Route.model_json_schema(mode="serialization")}
