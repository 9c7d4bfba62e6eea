"""A comparison as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from router.deliver.files import save

if TYPE_CHECKING:
    from router.compare import Comparison


def comparison_text(comparison: Comparison) -> str:
    """Give a comparison as JSON text, the same text for the same routes.

    Returns
    -------
    str
    """
    return json.dumps(comparison.model_dump(mode="json"), indent=2, ensure_ascii=False) + "\n"


def write_comparison(comparison: Comparison, path: str | Path) -> None:
    """Write a comparison, whole or not at all.

    Raises
    ------
    OutputError
        If the place cannot be written; an older file is then untouched.
    """
    save(Path(path), comparison_text(comparison))
