"""What the shop makes and buys for a finished route: cuts, stock, fittings, totals; no files.

``lengths``    rounding as the trade does, feet and inches
``ends``       which port of a fitting a pipe is in, how its end is prepared, how sure its take-out is
``outlets``    where the fabricator drills uncut pipe
``couplings``  pipe longer than stock is made of several lengths
``pieces``     every pipe piece of a route as cuts
``ordered``    barrels of dry heads and hoses, which are not cut
``stock``      which cut comes out of which stock length
``fittings``   fittings by kind and sizes, named as the trade names them
``totals``     quantities, weight, water, price and labour
``make``       all of it, step by step: :func:`cut_list`
``sheets``     all of it as tables of plain cells (``pipe_sheets``, ``other_sheets``, ``notes_sheet``)
"""

from router.cutlist.make import cut_list
from router.cutlist.records import CutList

__all__ = ["CutList", "cut_list"]
