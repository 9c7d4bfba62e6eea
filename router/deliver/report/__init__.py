"""The report: one HTML file that opens offline and answers a designer's, a shop's and a reviewer's questions.

``prepare``    judges the routes, works out cut lists, asks for reasons: everything the page shows
``html``       elements with everything escaped; ``lengths`` writes lengths so that the page can switch units
``answer``     title, the answer in plain words, key figures; ``heads``, ``levels``, ``views``, ``buying``,
               ``checking``, ``proven``, ``differences``, ``rules``, ``words``: one file a part of the page
``model3d``    pieces, fittings, heads and obstructions as compact JSON for the 3D view
``assemble``   the whole page: parts in order, style sheet, scripts, security policy
``page/``      style sheet and scripts as plain files; ``page/vendor`` three.js
"""

from router.deliver.report.assemble import report_html
from router.deliver.report.prepare import Contents, Shown, prepare

__all__ = ["Contents", "Shown", "prepare", "report_html"]
