"""The trade's tables with source and grade, and the look-ups over them; no geometry.

``sizes``      nominal sizes, read and written
``tables``     :class:`~router.trade.tables.Tables`: every look-up, in mm
``take_outs``  centre-to-end lengths by joining method (used through ``tables``)
``schedules``  pipe schedules by hazard and case (used through ``tables``)
``joining``    how a run of a size is joined
``drains``     which drain a trapped low section needs, by its volume
``reducing``   reducing fittings in one piece, and the bushings that serve else
``prices``     look-ups in the scenario's own prices and labour minutes
``styles``     which styles a system allows a head, and why not
``published``  the published values (``data/*.json``), one file per family

Every table names the published standard that its values stand in and how sure
they are: A a published sheet was seen that says so; B from memory, checked in
part; C from memory; D from memory or assumed, doubtful. No complete edition of
NFPA 13, EN 12845, ASME B16.3, ASME B16.9 or ASTM A733 was read; requirements
are paraphrased. A scenario may give its own value for every row
(``rules.tables``), and the local code and each product's listing go before all.

Assumed throughout, grade D: the shortest nipple with a shoulder, everything of
welded outlets and mechanical tees, the bare thread of metric nipples, hose,
reducing fittings of 2-1/2 in. and larger, tees whose run reduces.
"""
