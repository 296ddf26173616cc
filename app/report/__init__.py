"""Comparisons and cases as files: a report to print, a table of divergences, a record for scripts.

``app.report.contents`` has the report as a value and the sections that can be chosen; it is imported where needed.
"""

from app.report.folder import write_html, write_json, write_pdf, write_report
from app.report.record import comparison_json

__all__ = ["comparison_json", "write_html", "write_json", "write_pdf", "write_report"]
