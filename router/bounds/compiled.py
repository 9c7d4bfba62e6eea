"""Whether the compiled passes are there, and from what size on they pay."""

from __future__ import annotations

import importlib
import sys
from functools import cache, wraps
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

WORTH_ARCS = 10_000
"""A process that has met fewer arcs does without: loading the compiler takes half a second."""
NESTED = 5
"""More than the passes that one pass calls: each may fail to be kept."""
_met = [0]


class Kernels:
    """The compiled passes; what is compiled is used though it could not be kept for the next process."""

    def __init__(self, module: ModuleType) -> None:
        self.module = module

    def __getattr__(self, name: str) -> Callable[..., Any]:
        """Give a pass by its name."""
        compiled = getattr(self.module, name)

        @wraps(compiled)
        def call(*args: Any) -> Any:
            for _ in range(NESTED):
                try:
                    return compiled(*args)
                except OSError:  # a full disk: it is compiled before it is kept, so once more it runs
                    continue
            return compiled(*args)

        return call


@cache
def _kernels() -> Kernels | None:
    try:
        return Kernels(importlib.import_module("router.bounds.kernels"))
    except (ImportError, RuntimeError, OSError, MemoryError):
        # not installed, no folder to keep its work in, or too little memory for the compiler
        return None


def kernels(arcs: int) -> Kernels | None:
    """Give the module of compiled passes if it is there and pays, now that so many more arcs are met.

    Whether it is used changes no answer, only the time.
    """
    _met[0] += arcs
    if _met[0] < WORTH_ARCS and "router.bounds.kernels" not in sys.modules:
        return None
    return _kernels()
