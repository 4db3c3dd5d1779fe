"""The report: one page of HTML that needs no network and no program but a browser."""

from __future__ import annotations

from geoprofile.report.page import page
from geoprofile.report.saving import write_report

__all__ = ["page", "write_report"]
