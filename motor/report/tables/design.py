"""The result of one design as a table to read: text for the terminal, HTML for a notebook."""

from __future__ import annotations

import io
from html import escape
from typing import TYPE_CHECKING, NamedTuple

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from motor.base.cautions import MOTOR
from motor.base.media import terminal_text
from motor.base.quantity import COLUMN_UNITS, Quantity
from motor.report.tables.remarks import number, remark_of, spread
from motor.results.quantities import motor_quantities

if TYPE_CHECKING:
    from rich.table import Table

    from motor.results.loaded import LoadedCoil
    from motor.results.motor_result import MotorResult

__all__ = [
    "Row",
    "html_table",
    "loaded_text",
    "rich_table",
    "row_of",
    "rows",
    "text_table",
]


class Row(NamedTuple):
    """One line: what, value, numerical uncertainty, unit, remark.  An empty value is a heading."""

    what: str
    value: str = ""
    spread: str = ""
    unit: str = ""
    remark: str = ""


def rows(result: MotorResult) -> list[Row]:
    """Return the lines of the table."""
    lines, section = [], ""
    for quantity in motor_quantities():
        row = row_of(quantity, result)
        if quantity.line is None or row is None:
            continue
        if quantity.line.section != section:
            section = quantity.line.section
            lines.append(Row(section))
        lines.append(row)
    return [*lines, *_part_rows(result), *_solution_rows(result)]


def row_of(quantity: Quantity[MotorResult], result: MotorResult) -> Row | None:
    """Return a figure's line; None if it has none, or the design has no such figure."""
    line = quantity.line
    if line is None:
        return None
    unit = quantity.unit if line.unit is None else line.unit
    value, doubt = quantity.reading(result, unit)
    if value is None:
        return None
    if line.form:
        text = line.form.format(value)
    else:
        text = str(value) if isinstance(value, str | int) else number(value, line.digits)
    return Row(
        line.words or quantity.words,
        text,
        spread(doubt),
        COLUMN_UNITS[unit].words,
        remark_of(quantity.name, result),
    )


def _part_rows(result: MotorResult) -> list[Row]:
    """Return further gaps, working points, margins and peak flux densities part by part."""
    lines = [
        Row(
            f"gap {k}, mean flux density",
            number(abs(mean.value)),
            spread(mean.uncertainty),
            "T",
            "half way across; its flux crosses "
            + ("as that of the first" if mean.value >= 0 else "against that of the first"),
        )
        for k, mean in enumerate(result.further_gaps, start=2)
    ]
    for point in result.working_points:
        grade = result.design.materials.magnet_of(point.region)
        lines.append(
            Row(
                f"{_spoken(point.region)}, working point",
                number(point.flux_density.value, 4),
                spread(point.flux_density.uncertainty),
                "T",
                f"{point.field.value / 1e3:.0f} kA/m, "
                f"permeance {number(point.permeance.value, 3)}, "
                f"{grade.name}",
            )
        )
    lines.extend(
        Row(
            f"{_spoken(m.region)}, margin to the knee",
            f"{m.margin / 1e3:.1f}",
            spread(m.uncertainty / 1e3),
            "kA/m",
            f"{100 * m.share_past_knee:.2g} % of its volume past it, "
            f"{100 * m.loss:.2g} % of its remanence lost",
        )
        for m in result.magnet_health
    )
    lines.extend(
        Row(
            f"{_spoken(load.region)}, peak flux density",
            number(load.peak.value, 4),
            spread(load.peak.uncertainty),
            "T",
            f"mean {load.mean.value:.2f} T, {result.design.materials.steel_of(load.region).name}",
        )
        for load in result.steel_loads
    )
    return lines


def _solution_rows(result: MotorResult) -> list[Row]:
    field = result.field
    return [
        *(Row("warning", "see", "", "", note) for note in result.notes),
        Row("Solution"),
        Row("unknowns", str(field.unknowns), "", "", f"{field.triangles} triangles"),
        Row(
            "Newton steps",
            str(field.iterations),
            "",
            "",
            f"residual {field.residual:.1e}, converged",
        ),
    ]


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def rich_table(result: MotorResult) -> Table:
    """Return the table for a terminal."""
    table = Table(title=terminal_text(result.design.name), box=SIMPLE_HEAD, title_justify="left")
    table.add_column("")
    table.add_column("value", justify="right")
    table.add_column("± numerical")
    table.add_column("unit")
    table.add_column("", overflow="fold")
    for row in rows(result):
        style = "" if row.value else "bold"
        table.add_row(*row, style=style)
    return table


def text_table(result: MotorResult) -> str:
    """Return the table as plain text."""
    target = io.StringIO()
    Console(file=target, width=118, color_system=None, markup=False, emoji=False).print(
        rich_table(result)
    )
    return target.getvalue().rstrip() + "\n\n" + MOTOR


def loaded_text(result: MotorResult, loaded: LoadedCoil) -> str:
    """Return what the coil's own current changes, as a sentence."""
    return (
        f"With {loaded.current:g} A at x = {loaded.position * 1e3:+g} mm: "
        f"force {loaded.force.value:.4g} ± {loaded.force.uncertainty:.1g} N, "
        f"Bl {loaded.force_factor.value:.4g} T m "
        f"(without current {float(result.bl_curve(loaded.position)):.4g}), "
        f"reluctance force {loaded.reluctance_force.value:.3g} "
        f"± {loaded.reluctance_force.uncertainty:.1g} N\n"
    )


def html_table(result: MotorResult) -> str:
    """Return the table as HTML."""
    lines = [f"<table><caption>{escape(result.design.name)}</caption>"]
    for row in rows(result):
        if not row.value:
            lines.append(
                f'<tr><th colspan="5" style="text-align:left">{escape(row.what)}</th></tr>'
            )
            continue
        lines.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>")
    return "\n".join([*lines, "</table>", f"<p>{escape(MOTOR)}</p>"])
