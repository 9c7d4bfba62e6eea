"""Cut list for the terminal: what is bought and cut, by size, and what is worth a look."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from router.cutlist.lengths import length_text
from router.cutlist.stock import waste
from router.trade.sizes import label

if TYPE_CHECKING:
    from router.cutlist.records import CutList


def cutlist_table(cuts: CutList) -> RenderableType:
    """Lay out the sum of a cut list.

    Returns
    -------
    RenderableType
        For a rich console.
    """
    parts: list[RenderableType] = [Text(cuts.scenario, style="bold"), stock_table(cuts), Text(_counts(cuts))]
    if cuts.currency:
        last = cuts.totals[-1]
        parts.append(
            Text(f"{last.what}: {last.price:,.2f} {cuts.currency}, {last.minutes:,.0f} min of labour")
        )
    parts += [Text(f"note: {remark}", style="yellow") for remark in cuts.remarks]
    parts.append(Text(cuts.caution, style="italic"))
    return Group(*parts)


def stock_table(cuts: CutList) -> Table:
    """Lay out by size how many pieces come out of how many bars.

    Returns
    -------
    Table
    """
    table = Table(box=box.SIMPLE_HEAD, header_style="bold")
    table.add_column("size")
    for name in ("pieces", "alike", "cut, m", "bars", "bought", "not used"):
        table.add_column(name, justify="right")
    table.add_column("fewest?")
    for size in cuts.stock:
        groups = [group for group in cuts.groups if group.dn == size.dn]
        lost, share = waste(size, cuts.standard)
        used = sum(bar.stock_units for bar in cuts.bars if bar.dn == size.dn)
        metres = sum(cut.exact for cut in cuts.cuts if cut.dn == size.dn) / 1000.0
        table.add_row(
            label(size.dn, cuts.standard),
            str(sum(len(group.tags) for group in groups)),
            str(len(groups)),
            f"{metres:,.2f}",
            str(size.bars),
            length_text(used, cuts.standard),
            f"{lost / 1000.0:,.2f} m, {share:.0f} %",
            "proven" if size.proven else f"at least {size.fewest}",
        )
    return table


def _counts(cuts: CutList) -> str:
    fittings = sum(line.quantity for line in cuts.fittings)
    saws = sum(bar.saw_cuts for bar in cuts.bars)
    words = [f"{saws} saw cuts", f"{fittings} fittings (reducers included)"]
    words += [
        f"{n} {kind}{'s' if n > 1 else ''}"
        for kind, n in sorted(Counter(c.kind for c in cuts.couplings).items())
    ]
    ordered = Counter(item.kind for item in cuts.ordered)
    words += [f"{n} {kind}{'s' if n > 1 else ''} to order" for kind, n in sorted(ordered.items())]
    words += [f"{len(cuts.hangers)} hangers", f"{sum(d.counts_as is not None for d in cuts.drains)} drains"]
    return ", ".join(words)
