"""Results as files: a folder that appears complete or not at all."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from motor.base.beside import beside
from motor.base.csv_table import CsvTable
from motor.base.program import stamp
from motor.base.steps import step
from motor.base.whole_files import folder_of
from motor.design.reading import design_to_toml
from motor.report.files.sheet import sheet_svg
from motor.report.files.vtu import write_vtu

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.results.motor_result import MotorResult
    from motor.study.advice import Advice
    from motor.study.motor_comparison import MotorComparison

__all__ = [
    "FIGURE_ENDINGS",
    "save",
    "save_advice",
    "save_comparison",
    "save_figure",
    "save_table",
    "write_figure",
    "write_rows",
    "write_tables",
]

FIGURE_ENDINGS = (".png", ".svg")
DPI = {".png": 130, ".svg": 100}
"""Of figures, and of images inside SVG files: more points than the field is computed at show
nothing more."""


def save(result: MotorResult, folder: str | Path, *, pictures: bool = True) -> list[Path]:
    """Write all results of a design into a folder, in one step.

    Parameters
    ----------
    result : MotorResult
    folder : path
        Made if it does not exist; files of the same names are replaced.
    pictures : bool
        False to leave out the PNG and SVG figures.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    OutputError
        If the folder cannot be written; nothing new stays behind.
    """
    with step("figures and files" if pictures else "files"), folder_of(folder) as (work, written):
        _write_all(result, work, pictures)
    return written


class Tabled(Protocol):
    """A record with rows, and a figure of it: a temperature sweep, a coil's impedance."""

    def summary(self) -> dict[str, Any]:
        """Return the record; its "rows" are a list of flat records."""

    def plot(self) -> Figure:
        """Draw it."""


def save_table(found: Tabled, stem: str, folder: str | Path) -> list[Path]:
    """Write rows as CSV, the whole record as JSON, and the figure; see :func:`save`."""
    with step("figure and files"), folder_of(folder) as (work, written):
        write_tabled(found, work / stem)
    return written


def save_comparison(found: MotorComparison, folder: str | Path) -> list[Path]:
    """Write motors side by side: rows, record, figure and page; see :func:`save`."""
    from motor.report.page.comparison import comparison_page  # start-up time

    with step("figure and files"), folder_of(folder) as (work, written):
        figure = write_tabled(found, work / "comparison")
        page = comparison_page(found, figure).text()
        (work / "comparison.html").write_text(page, encoding="utf-8")
    return written


def save_advice(found: Advice, folder: str | Path) -> list[Path]:
    """Write what to change: rows, record, figure, and the joint change as a design; see save."""
    with step("figure and files"), folder_of(folder) as (work, written):
        write_tabled(found, work / "change")
        if found.design is not None:
            text = design_to_toml(found.design)
            (work / "changed.toml").write_text(text, encoding="utf-8")
    return written


def write_tabled(found: Tabled, stem: Path) -> Figure:
    """Write record, rows and figure under a path without its ending, and return the figure."""
    record, figure = found.summary(), found.plot()
    stem.with_name(stem.name + ".json").write_text(
        json.dumps(record, indent=2, allow_nan=False) + "\n", encoding="utf-8"
    )
    write_rows(record["rows"], stem.with_name(stem.name + ".csv"))
    save_figure(figure, stem)
    return figure


def write_rows(rows: Sequence[Mapping[str, object]], path: Path) -> None:
    """Write records with the same keys as CSV: a header and rows."""
    columns = list(rows[0])
    CsvTable(columns, ([row[c] for c in columns] for row in rows), digits=None).write(path)


def save_figure(figure: Figure, stem: Path) -> None:
    """Write a figure as PNG and SVG, laid out once for both.

    By the canvases themselves: ``savefig`` would go through every artist once more for each.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # start-up time
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    figure.dpi = DPI[".png"]
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    png, svg = (stem.with_name(stem.name + kind) for kind in FIGURE_ENDINGS)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.print_png(png, metadata=_metadata(".png"))
    figure.dpi = DPI[".svg"]
    canvas = FigureCanvasSVG(figure)
    canvas.print_svg(svg, metadata=_metadata(".svg"))


def write_figure(figure: Figure, path: Path) -> None:
    """Write a figure as PNG or SVG, by the ending; it names the program in its metadata."""
    kind = path.suffix.lower()
    figure.savefig(path, dpi=DPI[kind], metadata=_metadata(kind))


def _metadata(kind: str) -> dict[str, str | None]:
    return {"Software": stamp()} if kind == ".png" else {"Creator": stamp(), "Date": None}


def _write_all(result: MotorResult, work: Path, pictures: bool) -> None:
    if not pictures:
        _write_files(result, work)
        return
    from motor.report.figures.curves import figures  # start-up time

    draw = figures(result)

    def write(*stems: str) -> None:
        for stem in stems:
            save_figure(draw[stem](), work / stem)

    def others() -> None:
        _write_files(result, work)
        write(*(stem for stem in draw if stem != "field"))

    beside(lambda: write("field"), others)


def _write_files(result: MotorResult, work: Path) -> None:
    design = result.design
    (work / "summary.json").write_text(
        json.dumps(result.summary(), indent=2, allow_nan=False) + "\n", encoding="utf-8"
    )
    text = f"# {stamp()}\n{design_to_toml(design)}"
    (work / "design.toml").write_text(text, encoding="utf-8")
    write_tables(result, work)
    (work / "section.svg").write_text(sheet_svg(design), encoding="utf-8")
    write_vtu(result, work / "field.vtu")


def write_tables(result: MotorResult, work: Path) -> None:
    """Write Bl(x) and the flux density along the gap as CSV into a folder."""
    curve = result.bl_curve
    CsvTable(
        ("x_mm", "bl_Tm", "bl_uncertainty_Tm"),
        np.stack([curve.x * 1e3, curve.bl, curve.uncertainty], axis=-1).tolist(),
    ).write(work / "bl_curve.csv")
    gap = result.gap_profile
    CsvTable(
        ("z_mm", "b_r_at_coil_T", "b_r_at_coil_uncertainty_T", "b_r_at_middle_T"),
        np.stack([gap.z * 1e3, gap.at_coil, gap.uncertainty, gap.at_middle], axis=-1).tolist(),
    ).write(work / "gap_profile.csv")
