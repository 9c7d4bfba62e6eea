"""Sheets of paper for a route: plans, sections, isometrics, list of marks; as SVG and PDF.

``paper``     paper sizes, scales, how lengths are written
``recorder``  a canvas that keeps its commands; ``pdf`` writes them
``page``      frame and title block
``plans``, ``sections``, ``isometrics`` (``strips``, ``projection``), ``lists``: one file a kind of sheet
``make``      all sheets of a route in order; ``write``: into a file or a folder
"""

from router.deliver.sheets.make import Set, sheet_set
from router.deliver.sheets.paper import Paper, paper_of

__all__ = ["Paper", "Set", "paper_of", "sheet_set"]
