"""Foreign formats become a scenario."""

from router.readers.csv_folder import read_csv_folder
from router.readers.floor import ImportResult
from router.readers.report import ImportReport

__all__ = ["ImportReport", "ImportResult", "read_csv_folder"]
