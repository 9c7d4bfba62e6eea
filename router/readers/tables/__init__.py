"""Tables of heads, obstructions and pipes, as spreadsheets give them: CSV and XLSX.

How people write numbers and lengths is in ``router.readers.spelled``. ``csv_file``, ``xlsx_file``: files
as rows of cells.
``fields``, ``columns``, ``heading``: which column is what. ``rows``, ``items``, ``outlines``: rows become
things.
"""

from router.readers.tables.columns import Columns, TableColumns, read_columns
from router.readers.tables.read import read_table, tables_drawn

__all__ = ["Columns", "TableColumns", "read_columns", "read_table", "tables_drawn"]
