"""The report: one page with the whole answer, for a phone and for two sheets of paper."""

from forecaster.report.contents import Report
from forecaster.report.page import report_html, write_report

__all__ = ["Report", "report_html", "write_report"]
