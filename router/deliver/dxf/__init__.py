"""Scenarios and routes as drawings in DXF."""

from router.deliver.dxf.write import route_dxf, scenario_dxf

__all__ = ["route_dxf", "scenario_dxf"]
