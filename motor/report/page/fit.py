"""The page of a sample inferred from measurements."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.program import stamp
from motor.report.page.assembling import Grid, Page, today
from motor.report.page.pictures import picture
from motor.report.tables.fit import fit_groups

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.report.tables.fit_record import Consequences

__all__ = ["fit_page"]


def fit_page(found: Consequences, figure: Figure) -> Page:
    """Collect the picture, drawn by :func:`plot_fit`, what is wrong, and the tables of a page."""
    fit = found.fit
    grids = [(title, Grid(heads, rows, heads[1:])) for title, heads, rows in fit_groups(found)]
    anchors = [(f"table-{k}", title) for k, (title, _) in enumerate(grids)]
    return Page(
        template="fit.html",
        title=f"{fit.name}, inferred from measurements",
        title_block=(
            ("design", fit.before.design.name),
            ("measurements", str(len(fit.residuals))),
            ("date", today()),
            ("program", stamp()),
        ),
        sections=(("picture", "Measured and inferred"), *anchors),
        plots={},
        context={
            "notes": "",
            "key_figures": [],
            "warnings": fit.warnings(),
            "picture": picture(figure),
            "tables": [(*head, grid) for head, (_, grid) in zip(anchors, grids, strict=True)],
        },
    )
