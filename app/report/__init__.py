"""Comparisons as files: a report to print, a table of divergences, a record for scripts."""

from app.report.folder import write_json, write_report
from app.report.record import comparison_json

__all__ = ["comparison_json", "write_json", "write_report"]
