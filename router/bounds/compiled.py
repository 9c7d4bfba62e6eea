"""Whether the compiled passes are there, and from what size on they pay."""

from __future__ import annotations

import importlib
import sys
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import ModuleType

WORTH_ARCS = 10_000
"""A process that has met fewer arcs does without: loading the compiler takes half a second."""
_met = [0]


@cache
def _kernels() -> ModuleType | None:
    try:
        return importlib.import_module("router.bounds.kernels")
    except (ImportError, RuntimeError):  # not installed, or it finds no folder to keep its work in
        return None


def kernels(arcs: int) -> ModuleType | None:
    """Give the module of compiled passes if it is there and pays, now that so many more arcs are met.

    Whether it is used changes no answer, only the time.
    """
    _met[0] += arcs
    if _met[0] < WORTH_ARCS and "router.bounds.kernels" not in sys.modules:
        return None
    return _kernels()
