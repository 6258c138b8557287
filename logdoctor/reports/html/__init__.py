"""The verdict as one HTML file: no script, nothing fetched, light, dark and print; a large log stays small."""

from __future__ import annotations

from logdoctor.reports.html.page import html_report

__all__ = ["html_report"]
