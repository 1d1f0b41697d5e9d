"""Pages to send on: one HTML file that opens from disk, with live figures and no network.

``templates/base.html`` is what all pages share: title block, links to the sections, theme,
cautions.  A page is a template that extends it, and a function that collects its figures,
data and sections into a :class:`~motor.report.page.assembling.Page`.
"""

from __future__ import annotations

from motor.report.page.design.page import page_text, write_page
from motor.report.page.study.page import write_study_page

__all__ = ["page_text", "write_page", "write_study_page"]
