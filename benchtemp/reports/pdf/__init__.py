"""A report as a PDF: pages with numbers, table heads that repeat, charts as vector graphics."""

from benchtemp.reports.pdf.document import Paper, pdf_bytes

__all__ = ["Paper", "pdf_bytes"]
