"""The page of a sample inferred from measurements."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motor.base.program import stamp
from motor.report.page.assembling import Grid, Page, today
from motor.report.page.pictures import picture
from motor.report.tables.fit import fit_groups

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.figure import Figure

    from motor.report.tables.fit_record import Consequences

__all__ = ["FitSection", "fit_page", "fit_section"]


@dataclass(frozen=True)
class FitSection:
    """What was measured on a sample, for the page of the design that was corrected by it."""

    name: str
    warnings: tuple[str, ...]
    picture: Markup
    tables: tuple[tuple[str, Grid], ...]


def fit_section(found: Consequences, figure: Figure) -> FitSection:
    """Return the section of a fit, with the picture drawn by :func:`plot_fit`."""
    warnings = tuple(found.fit.warnings())
    return FitSection(found.fit.name, warnings, picture(figure), tuple(_grids(found)))


def _grids(found: Consequences) -> list[tuple[str, Grid]]:
    return [(title, Grid(heads, rows, heads[1:])) for title, heads, rows in fit_groups(found)]


def fit_page(found: Consequences, figure: Figure) -> Page:
    """Collect the picture, drawn by :func:`plot_fit`, what is wrong, and the tables of a page."""
    fit = found.fit
    grids = _grids(found)
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
