"""The report: one page with the whole answer, for a phone and for two sheets of paper."""

from forecaster.report.contents import Report
from forecaster.report.gather import gather
from forecaster.report.page import report_html, write_report

__all__ = ["Report", "gather", "report_html", "write_report"]
