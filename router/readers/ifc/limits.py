"""How much a model may ask of this machine; what goes over is one clear error."""

from __future__ import annotations

from dataclasses import dataclass

MB = 1024 * 1024


@dataclass(frozen=True)
class Limits:
    """Limits of one import.

    Parameters
    ----------
    memory
        Address space of the reading process, bytes.
    file_bytes
        Largest file, and largest content of a packed one.
    ratio
        Largest ratio of a packed file's content to its packed size.
    depth
        Most parentheses within each other.
    statement
        Longest statement, bytes.
    still
        Seconds without progress after which reading is given up; opening a file may
        take a second more for each MB.
    parts
        Most parts of one element's shape, mapped ones counted each time.
    triangles
        Most triangles of one element that are united exactly; beyond, its convex hull is taken.
    farthest
        Farthest that anything may lie from the middle of the model, mm.
    """

    memory: int = 4096 * MB
    file_bytes: int = 2048 * MB
    ratio: float = 200.0
    depth: int = 64
    statement: int = 64 * MB
    still: float = 120.0
    parts: int = 20_000
    triangles: int = 100_000
    farthest: float = 1e7


DEFAULT = Limits()
SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
