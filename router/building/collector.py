"""Python's collector of reference cycles, paused while a route is made."""

from __future__ import annotations

import gc
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def collector_paused() -> Iterator[None]:
    """Look for no reference cycles meanwhile.

    Routes, graphs and verdicts are millions of objects that live to the end and
    refer to each other one way only: they are freed by their counts. The collector
    goes through all of them again and again, and finds next to nothing (1,300 objects
    after 1,200 heads, at the same peak of memory) for a tenth of the time to solve,
    a quarter of that to judge, a third of that to write and more than half of that to read.
    """
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
