"""Findings as topics of the open collaboration format BCF 2.1 (buildingSMART), for a coordination tool.

Version 2.1 and not 3.0: it is what most tools read (common practice, no source).
"""

from router.deliver.bcf.archive import findings_bcf

__all__ = ["findings_bcf"]
