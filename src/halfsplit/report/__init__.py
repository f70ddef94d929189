"""The bench sheet: records to one self-contained HTML file with plots. It holds no opinion of its own."""

from halfsplit.report.file import written
from halfsplit.report.records import SheetData
from halfsplit.report.sheet import bench_sheet

__all__ = ["SheetData", "bench_sheet", "written"]
