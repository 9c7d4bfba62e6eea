"""Scenarios and routes as models of the open standard IFC4 (ISO 16739-1:2018), written with IfcOpenShell.

``lines`` holds the file and what stands once in it, ``sets`` properties and
quantities, ``solids`` shapes, ``colours`` their looks. ``given`` writes what a
scenario gives (heads of a route too). ``meets`` finds how a route's parts meet, ``bodies`` how
far they reach; ``parts`` and ``hanging`` write them, ``ports`` connects them.
The library is loaded with the first file: nothing else here needs it.
"""

from router.deliver.ifc.of_route import route_ifc
from router.deliver.ifc.of_scenario import scenario_ifc

__all__ = ["route_ifc", "scenario_ifc"]
