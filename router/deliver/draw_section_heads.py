"""The heads of a section. Heads that fall on the same place of the paper share one label."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from router.deliver import draw_style as style
from router.deliver.draw_labels import Label
from router.deliver.draw_plan import mm_text
from router.deliver.draw_symbols import R, draw_head, draw_unserved

if TYPE_CHECKING:
    from collections.abc import Callable

    from router.deliver.draw_canvas import Box, Canvas, Xy
    from router.deliver.draw_frame import SectionFrame
    from router.deliver.draw_labels import Placer
    from router.deliver.draw_section_data import SectionData, SectionHead
    from router.route.model import HeadResult

SAME_PLACE = 0.3
SHARED = 3
"""At most so many heads share a label."""


class SectionHeads:
    """Draws and describes the heads of one section."""

    def __init__(
        self, canvas: Canvas, placer: Placer, frame: SectionFrame, data: SectionData, bounds: Box
    ) -> None:
        self.canvas, self.placer, self.frame, self.data, self.bounds = canvas, placer, frame, data, bounds
        self.write: Callable[[float], str] = mm_text
        self.takeoffs = {t.id: t for t in data.takeoffs}

    def draw(self) -> None:
        """Draw all heads; labels wait in the placer."""
        groups: list[tuple[Xy, list[tuple[SectionHead, HeadResult]]]] = []
        for item in sorted(self.data.heads, key=lambda h: (h.station, h.head.id)):
            result = item.result
            z = result.inlet[2] if result is not None else item.head.at[2]
            at = self.frame.paper(item.station, z)
            if result is None or not result.served:
                self._unserved(item, at)
                continue
            self._symbol(item, at)
            for place, members in groups[-SHARED:]:
                first = members[0][1]
                if (
                    math.dist(place, at) < SAME_PLACE
                    and first.style == result.style
                    and len(members) < SHARED
                ):
                    members.append((item, result))
                    break
            else:
                groups.append((at, [(item, result)]))
        for at, members in groups:
            self._label(at, members)

    def _unserved(self, item: SectionHead, at: Xy) -> None:
        draw_unserved(self.canvas, at)
        self.placer.block((at[0] - 2.7, at[1] - 2.7, at[0] + 2.7, at[1] + 2.7))
        text = (item.head.id, "NOT SERVED")
        label = Label(text, at, style.LABEL_SIZE, (2.8, 2.8), style.VERMILION, bold=True, rank=-1)
        self.placer.want(label, self.bounds)

    def _symbol(self, item: SectionHead, at: Xy) -> None:
        head = item.head
        how = item.result.style if item.result is not None else ""
        tags: dict[str, str | None] = {"data_head": head.id, "data_style": how}
        tags |= {"data_takeoff": item.result.takeoff, "data_run": item.result.run} if item.result else {}
        self.canvas.open_group("heads", f"{head.id}: {how}", class_="section-head", **tags)
        facing = None
        if head.facing is not None:
            along = self.data.line.section_at(item.station).along
            turn = math.radians(head.facing) - math.atan2(float(along[1]), float(along[0]))
            facing = 0.0 if math.cos(turn) >= 0 else 180.0
        draw_head(self.canvas, at, head.kind, dry=head.dry, facing=facing)
        self.canvas.close_group("heads")
        half = R + 0.5
        self.placer.block((at[0] - half, at[1] - half, at[0] + half, at[1] + half))

    def _label(self, at: Xy, members: list[tuple[SectionHead, HeadResult]]) -> None:
        words = members[0][1].style or ""
        lines = [" + ".join(item.head.id for item, _ in members), style.STYLE_WORDS.get(words, words)]
        sides = [
            f"{'left' if item.lateral > 0 else 'right'} {self.write(abs(item.lateral))}"
            for item, _ in members
            if abs(item.lateral) > 1.0
        ]
        if sides:
            lines.append(" + ".join(sides))
        arms: list[str] = []
        for _, result in members:
            takeoff = self.takeoffs.get(result.takeoff or "")
            if takeoff is None or takeoff.arm_level is None or takeoff.side not in ("top", "bottom"):
                continue
            if not any(piece.kind == "arm" for piece in self.data.pieces.get(takeoff.id, [])):
                continue  # straight down or up: there is no arm to have a level
            arm = self.write(takeoff.arm_level)
            if arm not in arms:
                arms.append(arm)
        if arms:
            lines.append("arm at " + " + ".join(arms))
        prefer = 90.0 if members[0][0].head.kind == "upright" else 270.0
        clear = (R + 0.3, R + 0.3)
        label = Label(tuple(lines), at, style.SMALL_SIZE, clear, prefer=prefer, head_bold=True, rank=1)
        self.placer.want(label, self.bounds)
