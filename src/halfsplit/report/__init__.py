"""Records on paper: the bench sheet and the reports, each one HTML file or PDF. No opinion of its own."""

from halfsplit.report.file import Reader, paper, reader_named, written
from halfsplit.report.owner import owner_report
from halfsplit.report.records import SheetData
from halfsplit.report.sheet import bench_sheet
from halfsplit.report.technician import technician_report

__all__ = [
    "Reader",
    "SheetData",
    "bench_sheet",
    "owner_report",
    "paper",
    "reader_named",
    "technician_report",
    "written",
]
