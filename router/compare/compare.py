"""Compare routes of one scenario, each judged by the same referee."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.check import check_route
from router.compare.differences import difference
from router.compare.figures import figures
from router.compare.heads import HeadsOf
from router.compare.quantities import sources
from router.compare.ranking import rank
from router.compare.records import Comparison, HeadRow
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from router.check import Verdict
    from router.route.model import Route
    from router.scenario.model import Scenario


def compare(
    scenario: Scenario,
    routes: Sequence[tuple[str, Route]],
    verdicts: Mapping[str, Verdict] | None = None,
) -> Comparison:
    """Set two or more routes side by side.

    Parameters
    ----------
    scenario : Scenario
        In mm.
    routes : sequence of (name, Route)
        At least two, names different; heads are compared with the first.
    verdicts : mapping of name to Verdict, optional
        The referee's, where it has judged already; else it judges here.

    Returns
    -------
    Comparison
        Counts and objective are the referee's own, whatever a route says of itself.

    Raises
    ------
    ValueError
        For fewer than two routes, or a name that stands twice.
    """
    names = [name for name, _ in routes]
    if len(names) < 2:
        raise ValueError(
            f"{len(names)} route{'' if len(names) == 1 else 's'} to compare, at least 2 expected"
        )
    double = next((name for name in names if names.count(name) > 1), None)
    if double is not None:
        raise ValueError(f"two routes are called {double!r}; each needs a name of its own")
    judged = {name: (verdicts or {}).get(name) or check_route(scenario, route) for name, route in routes}
    tables = Tables(scenario.system.standard, scenario.rules.tables)
    looked = {name: HeadsOf(scenario, route, judged[name]) for name, route in routes}
    rows = []
    for head in scenario.heads:
        ways = {name: looked[name].of(head.id) for name in names}
        others = [difference(name, ways[names[0]], ways[name], scenario.weights) for name in names[1:]]
        rows.append(HeadRow(id=head.id, routes=ways, differences=others))
    own = []
    for name in names:
        missing = [row.id for row in rows if not row.routes[name].served]
        own.append(figures(scenario, tables, name, judged[name]).model_copy(update={"unserved": missing}))
    return Comparison(
        scenario=scenario.name, routes=own, heads=rows, ranking=rank(own), sources=sources(tables)
    )
