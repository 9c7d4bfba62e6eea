"""Surface colours by role, from the general palette of the drawings (Okabe and Ito 2008)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from router.deliver import draw_style as style

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.deliver.ifc.lines import Entity, Lines

COLOURS: Final = {
    "main": (style.BLUE, 0.0),
    "branch": ("#56B4E9", 0.0),
    "head_arm": (style.GREEN, 0.0),
    "barrel": (style.PURPLE, 0.0),
    "hose": (style.ORANGE, 0.0),
    "fitting": (style.GREY, 0.0),
    "head": (style.VERMILION, 0.0),
    "head without supply": ("#F0E442", 0.0),
    "hanger": (style.INK, 0.0),
    "obstruction": (style.FAINT, 0.0),
    "ceiling": ("#dedede", 0.6),
    "keep-out": (style.VERMILION, 0.7),
}
"""Role -> colour, and how much light passes (0 none, 1 all)."""


class Colours:
    """Paints solids; a role's style is made where the first solid wants it."""

    def __init__(self, lines: Lines) -> None:
        self.lines = lines
        self._styles: dict[str, Entity] = {}

    def paint(self, role: str, solids: Iterable[Entity]) -> None:
        """Give solids the colour of a role."""
        made = self._styles.get(role)
        if made is None:
            made = self._styles[role] = self._style(role)
        for solid in solids:
            self.lines.add("IfcStyledItem", solid, [made], None)

    def _style(self, role: str) -> Entity:
        text, through = COLOURS[role]
        red, green, blue = (int(text[k : k + 2], 16) / 255 for k in (1, 3, 5))
        colour = self.lines.add("IfcColourRgb", None, red, green, blue)
        shading = self.lines.add("IfcSurfaceStyleShading", colour, through)
        return self.lines.add("IfcSurfaceStyle", role, "BOTH", [shading])
