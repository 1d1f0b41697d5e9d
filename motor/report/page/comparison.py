"""The page of motors side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.program import stamp
from motor.report.page.assembling import Grid, Page, today
from motor.report.page.pictures import picture
from motor.report.tables.comparison import cells, groups, heads

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.study.motor_comparison import MotorComparison

__all__ = ["comparison_page"]


def comparison_page(found: MotorComparison, figure: Figure) -> Page:
    """Collect the picture, drawn by :func:`plot_comparison`, and the tables of a page."""
    names = heads(found)
    tables = [
        (
            anchor,
            title,
            Grid(tuple(names), [tuple(cells(found, row)) for row in rows], tuple(names[2:])),
        )
        for anchor, (title, rows) in zip(("drawings", "figures"), groups(found), strict=True)
    ]
    return Page(
        template="comparison.html",
        title=" against ".join(result.design.name for result in found.results),
        title_block=(
            ("motors", str(len(found.results))),
            ("date", today()),
            ("program", stamp()),
        ),
        sections=(
            ("picture", "Sections and Bl(x)"),
            ("drawings", "Drawings"),
            ("figures", "Figures"),
            ("cautions", "Cautions"),
        ),
        plots={},
        context={
            "notes": "",
            "key_figures": [],
            "picture": picture(figure),
            "tables": tables,
        },
    )
