"""Drawings in DXF become heads, runs or pipes, and solids."""

from router.readers.dxf.mapping import DxfMapping, LayerMapping, own_mapping, read_dxf_mapping
from router.readers.dxf.read import read_dxf

__all__ = ["DxfMapping", "LayerMapping", "own_mapping", "read_dxf", "read_dxf_mapping"]
