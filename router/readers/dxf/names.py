"""Names of ours in a DXF file: layers, the application's name, attributes of blocks.

The reader needs them to read our own files, the writer to write them.
"""

from __future__ import annotations

from typing import Final

APPID: Final = "BRANCH_DROP_ROUTER"
"""Registered application: its extended data carry what of a record is no geometry."""

SETTINGS: Final = "BRANCH_DROP_ROUTER_SCENARIO"
"""Entry of the root dictionary that carries what belongs to the scenario as a whole."""

PREFIX: Final = "ROUTER-"

HEADS: Final = "ROUTER-HEADS"
RUNS: Final = "ROUTER-RUNS"
PIPE_RUNS: Final = "ROUTER-PIPE-RUNS"
PIPE_ARMS: Final = "ROUTER-PIPE-ARMS"
PIPE_HOSES: Final = "ROUTER-PIPE-HOSES"
OBSTRUCTIONS: Final = "ROUTER-OBSTRUCTIONS"
CEILINGS: Final = "ROUTER-CEILINGS"
KEEP_OUT: Final = "ROUTER-KEEP-OUT"

READ: Final = {
    HEADS: "heads",
    RUNS: "runs",
    "ROUTER-PIPE-*": "pipes",
    OBSTRUCTIONS: "obstructions",
    CEILINGS: "ceilings",
    KEEP_OUT: "keep_out",
    "ROUTER-*": "nothing",
}
"""Layer names or patterns of our own drawings, in order, and what they hold."""

HEAD_TAGS: Final = {"id": "ID", "kind": "KIND", "thread": "THREAD", "k_factor": "K_FACTOR"}
"""Attributes of a head's block in our own drawings, by the field that they show."""
