"""Everything that the page shows, worked out before a line of it is written."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import router
from router.check import check_route
from router.check.network import Network
from router.check.survey import Survey
from router.compare import compare
from router.cutlist import cut_list
from router.deliver.route_json import belongs_to
from router.geometry.plan import PlanLine
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from router.check import Finding, Verdict
    from router.compare import Comparison
    from router.cutlist import CutList
    from router.explain.records import Explained
    from router.route.model import Fitting, Piece, Route, Takeoff
    from router.scenario.model import Scenario


@dataclass(frozen=True)
class Source:
    """A file that the report was made from."""

    name: str
    sha256: str


@dataclass(frozen=True)
class Shown:
    """One route with all that is known of it.

    ``ways``: how water goes in it. ``drawn``: read from a person's drawing, so
    nothing is proven. ``explained``: its reasons, else ``no_reasons`` says why
    there are none. ``remarks``: what there was to say when the file was read.
    """

    name: str
    route: Route
    verdict: Verdict
    ways: Network
    cuts: CutList | None
    cuts_fault: str = ""
    drawn: bool = False
    fits: bool = True
    explained: Explained | None = None
    no_reasons: str = ""
    remarks: Sequence[str] = ()

    @cached_property
    def takeoffs(self) -> dict[str, Takeoff]:
        """Takeoffs by id."""
        return {takeoff.id: takeoff for takeoff in self.route.takeoffs}

    @cached_property
    def pieces(self) -> dict[str, Piece]:
        """Pieces by id."""
        return {piece.id: piece for piece in self.route.pieces}

    @cached_property
    def fittings(self) -> dict[str, Fitting]:
        """Fittings by id."""
        return {fitting.id: fitting for fitting in self.route.fittings}

    @cached_property
    def takeoff_of(self) -> dict[str, Takeoff]:
        """Takeoffs by their fittings' ids."""
        return {fitting: takeoff for takeoff in self.route.takeoffs for fitting in takeoff.fittings}

    @cached_property
    def change_of(self) -> dict[str, str]:
        """Changes of level by their fittings' ids."""
        return {
            f: change.id for run in self.route.runs for change in run.level_changes for f in change.fittings
        }

    @cached_property
    def marks(self) -> dict[str, str]:
        """Marks of the cut list by the pieces' ids."""
        return {} if self.cuts is None else {cut.piece: cut.mark for cut in self.cuts.cuts}

    @cached_property
    def found(self) -> dict[str, list[Finding]]:
        """Findings by the element that they are about; those about a takeoff also by its head."""
        result: dict[str, list[Finding]] = {}
        for finding in self.verdict.findings:
            for name in dict.fromkeys((finding.element, finding.against)):
                if name is not None:
                    result.setdefault(name, []).append(finding)
        return result


@dataclass(frozen=True)
class Contents:
    """The whole of a report."""

    scenario: Scenario
    shown: Sequence[Shown]
    sources: Sequence[Source]
    comparison: Comparison | None = None
    version: str = field(default=router.__version__)

    @cached_property
    def tables(self) -> Tables:
        """Trade tables as this scenario has them."""
        return Tables(self.scenario.system.standard, self.scenario.rules.tables or None)

    @cached_property
    def lines(self) -> dict[str, PlanLine]:
        """Plan lines of the runs by id."""
        return {run.id: PlanLine(run.plan) for run in self.scenario.runs}


@dataclass(frozen=True)
class Given:
    """A route as it was read: its name, whether it is a drawing, what was remarked."""

    name: str
    route: Route
    drawn: bool = False
    remarks: Sequence[str] = ()


def prepare(
    scenario: Scenario,
    given: Sequence[Given],
    sources: Sequence[Source] = (),
    reasons: Mapping[str, Explained | str] | None = None,
) -> Contents:
    """Judge the routes and work out their cut lists and how they differ.

    Parameters
    ----------
    scenario : Scenario
        In mm.
    given : sequence of Given
        At least one route, names different.
    sources : sequence of Source
        The files that were read.
    reasons : mapping, optional
        By route name: the reasons, or why there are none.

    Returns
    -------
    Contents
    """
    shown = []
    for item in given:
        verdict = check_route(scenario, item.route)
        cuts, fault = None, ""
        try:
            cuts = cut_list(scenario, item.route)
        except ValueError as error:
            fault = str(error)
        why = (reasons or {}).get(item.name, "they were not asked for (--no-reasons)")
        shown.append(
            Shown(
                name=item.name,
                route=item.route,
                verdict=verdict,
                ways=Network(Survey(scenario, item.route)),
                cuts=cuts,
                cuts_fault=fault,
                drawn=item.drawn,
                fits=item.drawn or belongs_to(scenario, item.route),
                explained=None if isinstance(why, str) else why,
                no_reasons=why if isinstance(why, str) else "",
                remarks=item.remarks,
            )
        )
    comparison = None
    if len(shown) > 1:
        verdicts = {item.name: item.verdict for item in shown}
        comparison = compare(scenario, [(item.name, item.route) for item in shown], verdicts)
    return Contents(scenario, shown, sources, comparison)
