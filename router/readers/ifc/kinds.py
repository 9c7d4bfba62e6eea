"""What an element is for us, by its class and the class of its type."""

from __future__ import annotations

from typing import Any, Final

SKIPPED: Final = {
    "IfcFeatureElement": "openings and other features (cut out of their elements)",
    "IfcSpatialElement": "storeys, spaces and other places",
    "IfcSpatialStructureElement": "storeys, spaces and other places",
    "IfcPort": "ports",
    "IfcAnnotation": "annotations",
    "IfcGrid": "grids",
    "IfcVirtualElement": "virtual elements",
    "IfcReinforcingElement": "reinforcement",
    "IfcPositioningElement": "grids",
    "IfcLinearPositioningElement": "grids",
    "IfcStructuralItem": "items of the structural analysis",
    "IfcStructuralActivity": "items of the structural analysis",
    "IfcFastener": "fasteners",
    "IfcMechanicalFastener": "fasteners",
}

KINDS: Final = {
    "IfcPipeSegment": "pipe",
    "IfcPipeFitting": "fitting",
    "IfcFireSuppressionTerminal": "terminal",
    "IfcBeam": "beam",
    "IfcMember": "beam",
    "IfcColumn": "column",
    "IfcPile": "column",
    "IfcSlab": "slab",
    "IfcRoof": "slab",
    "IfcPlate": "slab",
    "IfcFooting": "slab",
    "IfcWall": "wall",
    "IfcCurtainWall": "wall",
    "IfcDuctSegment": "duct",
    "IfcDuctFitting": "duct",
    "IfcDuctSilencer": "duct",
    "IfcCableCarrierSegment": "tray",
    "IfcCableCarrierFitting": "tray",
    "IfcCableSegment": "tray",
    "IfcCableFitting": "tray",
    "IfcLightFixture": "light",
    "IfcLamp": "light",
    "IfcCovering": "covering",
    "IfcFlowSegment": "pipe",
    "IfcFlowFitting": "fitting",
    "IfcFlowTerminal": "terminal",
    "IfcFlowController": "equipment",
    "IfcFlowMovingDevice": "equipment",
    "IfcFlowStorageDevice": "equipment",
    "IfcFlowTreatmentDevice": "equipment",
    "IfcEnergyConversionDevice": "equipment",
    "IfcDistributionControlElement": "equipment",
    "IfcTransportElement": "equipment",
    "IfcBuildingElementProxy": "other",
    "IfcProxy": "other",
}
"""Class to kind; the most special class that is listed counts. Flow segments and fittings
without a type are taken as pipe: they have no other name in IFC2X3."""


def kind_of(element: Any, of_type: Any | None) -> str:
    """Give the kind of an element: a kind of obstruction, ``fitting``, ``covering``, or ``other``.

    Returns
    -------
    str
        Empty for what is never taken (see :func:`why_skipped`).
    """
    if why_skipped(element):
        return ""
    own = _special(element.is_a())
    if own is not None and own[0] not in ("IfcFlowSegment", "IfcFlowFitting", "IfcFlowTerminal"):
        return own[1]
    if of_type is not None:
        name = of_type.is_a().removesuffix("Type").removesuffix("Style")
        if name in KINDS:
            return KINDS[name]
    if own is not None:
        return own[1]
    for name, kind in KINDS.items():
        if element.is_a(name):
            return kind
    return "other"


def _special(name: str) -> tuple[str, str] | None:
    plain = name.removesuffix("StandardCase").removesuffix("ElementedCase")
    return (plain, KINDS[plain]) if plain in KINDS else None


def why_skipped(element: Any) -> str:
    """Say why a class is never taken; empty if it is.

    Returns
    -------
    str
    """
    for name, reason in SKIPPED.items():
        if _is(element, name):
            return reason
    return ""


def _is(element: Any, name: str) -> bool:
    try:
        return bool(element.is_a(name))
    except RuntimeError:  # a class that this schema does not have
        return False
