"""Every pipe piece of a route as cuts; barrels and hoses apart."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from router.cutlist.couplings import GRADE, gap, kind_of, split
from router.cutlist.ends import BARE
from router.cutlist.lengths import length_text, to_mm, to_units, unit_mm
from router.cutlist.outlets import outlets_of
from router.cutlist.records import Coupling, Cut, End, place

if TYPE_CHECKING:
    from router.cutlist.ends import Ends
    from router.cutlist.records import Outlet
    from router.route.model import Piece

_MATCH_MM = 0.6
"""Make-up of the route against our own from the tables: more than that is remarked."""


class Cutter:
    """Makes the cuts of a route.

    Parameters
    ----------
    ends
        Of the route.
    longest
        Longest stock length, in units.
    """

    def __init__(self, ends: Ends, longest: int) -> None:
        self.ends, self.longest = ends, longest
        self.standard = ends.scenario.system.standard
        self.owners = {p: t.id for t in ends.route.takeoffs for p in t.pieces}
        self.cuts: list[Cut] = []
        self.couplings: list[Coupling] = []
        self.remarks: list[str] = []

    def make(self) -> None:
        """Make all cuts, in the route's order."""
        for piece in self.ends.route.pieces:
            if piece.kind not in BARE:
                self._piece(piece)
        self._joints_without_fitting()
        self._grooved_joints()

    def _piece(self, piece: Piece) -> None:
        pair = (self.ends.end(piece, 0), self.ends.end(piece, 1))
        joining = self.ends.joining(piece)
        shorter = [self._coupled(piece, end) for end in pair]
        bare = piece.make_up - sum(shorter)
        ours = piece.length - pair[0].less - pair[1].less
        if abs(ours - piece.make_up) > _MATCH_MM:
            self.remarks.append(
                f"piece {piece.id}: the route says {piece.make_up:.1f} mm of bare pipe, the tables give "
                f"{ours:.1f} mm; the route's is taken"
            )
        outlets = outlets_of(self.ends, piece, pair[0].less + shorter[0])
        grade = max((end.grade for end in pair), default="") or "A"
        if any(shorter):
            grade = max(grade, GRADE)
        cut = Cut(
            tag=piece.id,
            piece=piece.id,
            run=piece.run,
            takeoff=self.owners.get(piece.id, ""),
            kind=piece.kind,
            dn=piece.dn,
            centres=piece.length,
            exact=round(bare, 3),
            units=to_units(bare, self.standard),
            ends=pair,
            grade=grade,
            outlets=outlets,
        )
        if cut.units > self.longest:
            self._split(cut, joining)
            return
        if cut.units <= 0:
            cut = replace(cut, note="cannot be made: its fittings leave no pipe between them")
            self.remarks.append(f"piece {piece.id}: bare length {bare:.1f} mm, {cut.note}")
        self.cuts.append(cut)

    def _coupled(self, piece: Piece, end: End) -> float:
        """Half the gap of a coupling that stands where two run pieces meet without a fitting."""
        if end.stands != "coupling":
            return 0.0
        return gap(self.ends.tables, piece.dn, self.ends.joining(piece)) / 2

    def _split(self, cut: Cut, joining: str) -> None:
        tables, rules = self.ends.tables, self.ends.scenario.rules
        between = gap(tables, cut.dn, joining)
        least = tables.shortest_nipple(cut.dn, joining=joining)
        longest = to_mm(self.longest, self.standard)
        rooms = [
            tables.take_out("outlet", "run", cut.dn, o.dn, joining=joining) + rules.working_allowance
            for o in cut.outlets
        ]
        blocked = [(o.station - r, o.station + r) for o, r in zip(cut.outlets, rooms, strict=True)]
        # half a unit below, so that a rounded length is never longer than stock
        parts = split(cut.exact, longest, between, max(least, unit_mm(self.standard)), blocked)
        if parts is None:
            note = "longer than stock, and no place for a joint away from its outlets: to order"
            self.remarks.append(f"piece {cut.tag}: {length_text(cut.units, self.standard)}, {note}")
            self.cuts.append(replace(cut, note=note))
            return
        kind = kind_of(joining)
        middle = End(kind, cut.ends[0].preparation)
        for k, (start, length) in enumerate(parts):
            last = k == len(parts) - 1
            tag = f"{cut.tag}{_letter(k)}"
            ends = (cut.ends[0] if k == 0 else middle, cut.ends[1] if last else middle)
            note = f"part {k + 1} of {len(parts)} of {cut.piece}, joined by {kind}"
            units = to_units(length, self.standard)
            outlets = tuple(_moved(o, start) for o in cut.outlets if start <= o.station <= start + length)
            self.cuts.append(
                replace(
                    cut, tag=tag, exact=round(length, 3), units=units, ends=ends, outlets=outlets, note=note
                )
            )
            if not last:
                at = f"{cut.piece}, between {tag} and {cut.tag}{_letter(k + 1)}"
                self.couplings.append(Coupling(kind, cut.dn, "longer than stock", at))

    def _joints_without_fitting(self) -> None:
        for pieces in self.ends.loose.values():
            if len(pieces) > 1:
                first, second = pieces[:2]
                kind = kind_of(self.ends.joining(first))
                at = f"between {first.id} and {second.id}"
                why = "run goes on" if first.dn == second.dn else f"run goes on, on DN{second.dn}"
                self.couplings.append(Coupling(kind, first.dn, why, at))

    def _grooved_joints(self) -> None:
        """Every grooved pipe end at a fitting takes a coupling of its own."""
        for piece in self.ends.route.pieces:
            if piece.kind in BARE or self.ends.joining(piece) != "grooved":
                continue
            for name in piece.fittings:
                fitting = self.ends.fittings.get(name or "")
                if fitting is not None:
                    at = f"{piece.id} to {fitting.id}"
                    self.couplings.append(Coupling("grooved coupling", piece.dn, "at a grooved fitting", at))


def _moved(outlet: Outlet, start: float) -> Outlet:
    return replace(outlet, station=round(outlet.station - start, 3))


def _letter(k: int) -> str:
    """Give a, b, ... z, aa, ab ... for the parts of a piece."""
    text = ""
    k += 1
    while k:
        k, rest = divmod(k - 1, 26)
        text = chr(ord("a") + rest) + text
    return text


def head_at(ends: Ends, piece: Piece) -> str:
    """Give the id of the head at a piece's end, empty if there is none."""
    return ends.heads.get(place(piece.end), "")
