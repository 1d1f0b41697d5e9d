"""The result of one design as a table to read: text for the terminal, HTML for a notebook."""

from __future__ import annotations

import io
import math
from html import escape
from typing import TYPE_CHECKING, NamedTuple

from geometries import Role

if TYPE_CHECKING:
    from rich.table import Table

    from motor.results.loaded import LoadedCoil
    from motor.results.motor_result import MotorResult

__all__ = [
    "CAUTION",
    "Row",
    "html_table",
    "loaded_text",
    "loss_words",
    "rich_table",
    "rows",
    "text_table",
]

CAUTION = (
    "Caution: magnets attract suddenly, pinch, shatter and disturb pacemakers; coils burn. "
    "Follow local rules and qualified practice when handling and testing."
)
STRAY_DISTANCE = 0.1
LIMIT_NAMES = {
    "bl_82": "Bl at 82 %",
    "bl_70": "Bl at 70 %",
    "overhang": "geometric overhang",
    "mechanical": "mechanical stop",
    "compliance": "compliance at 75 %",
    "inductance": "inductance changed by 10 %",
}


class Row(NamedTuple):
    """One line: what, value, numerical uncertainty, unit, remark.  An empty value is a heading."""

    what: str
    value: str = ""
    spread: str = ""
    unit: str = ""
    remark: str = ""


def _number(value: float | None, digits: int = 4) -> str:
    if value is None or not math.isfinite(value):
        return "none"
    return f"{value:#.{digits}g}".rstrip(".")


def _spread(value: float) -> str:
    return f"± {value:.1g}" if value and math.isfinite(value) else ""


def _reached(stroke: float) -> str:
    return f"{stroke * 1e3:.3g}" if math.isfinite(stroke) else "not before contact"


def rows(result: MotorResult) -> list[Row]:
    """Return the lines of the table."""
    return [
        *_force_rows(result),
        *_stroke_rows(result),
        *_coil_rows(result),
        *_motor_rows(result),
        *_solution_rows(result),
    ]


def _force_rows(result: MotorResult) -> list[Row]:
    curve, gap = result.bl_curve, result.gap_profile
    rest, peak, constant = curve.at_rest, curve.peak, result.motor_constant
    where = curve.peak_position
    return [
        Row("Force"),
        Row(
            "Bl at rest",
            _number(rest.value),
            _spread(rest.uncertainty),
            "T m",
            loss_words(result),
        ),
        Row(
            "Bl, largest",
            _number(peak.value),
            _spread(peak.uncertainty),
            "T m",
            f"at x = {where.value * 1e3:+.2f} ± {where.uncertainty * 1e3:.1g} mm",
        ),
        Row("Bl²/Re", _number(constant.value), _spread(constant.uncertainty), "N²/W"),
        Row(
            "gap flux density, mean",
            _number(gap.mean.value),
            _spread(gap.mean.uncertainty),
            "T",
            "over the gap depth, at mean coil radius",
        ),
        Row(
            "gap flux density, largest", _number(gap.peak.value), _spread(gap.peak.uncertainty), "T"
        ),
    ]


def loss_words(result: MotorResult) -> str:
    """Return what magnets have lost for good, beside Bl at rest; empty where that is nothing."""
    loss = result.irreversible_loss.value
    if loss <= 0:
        return ""
    before = result.bl_curve.at_rest.value / (1 - loss)
    degrees = result.design.temperature - 273.15
    return f"{100 * loss:.2g} % lost for good at {degrees:.4g} degC; {_number(before)} before"


def _overhang_remark(result: MotorResult) -> str:
    """Return what the overhang is, or what the rest position leaves of it."""
    words = "(winding height - gap depth) / 2"
    if result.design.coil.rest_position:
        left = result.stroke_limits["overhang"].value
        words = f"{left * 1e3:.3g} mm with the rest offset"
    return words + ("; underhung" if result.design.overhang < 0 else "")


def _given_rows(result: MotorResult) -> list[Row]:
    """Return the limits by suspension and inductance where these are given over displacement."""
    known = [name for name in ("compliance", "inductance") if name in result.stroke_limits]
    return [
        Row(
            LIMIT_NAMES[name],
            _number(result.stroke_limits[name].value * 1e3, 3),
            "",
            "mm",
            "as given over displacement",
        )
        for name in known
    ]


def _stroke_rows(result: MotorResult) -> list[Row]:
    lines = [Row("Stroke, one-way")]
    for name, stroke in (("82", result.stroke_82), ("70", result.stroke_70)):
        lines.append(
            Row(
                f"Bl falls to {name} %",
                _number(stroke.symmetric.value * 1e3, 3),
                _spread(stroke.symmetric.uncertainty * 1e3),
                "mm",
                f"inward {_reached(stroke.inward.value)}, outward {_reached(stroke.outward.value)}",
            )
        )
    overhang, usable, travel = result.design.overhang, result.usable_stroke, result.travel
    best, reach = result.best_rest_position
    return [
        *lines,
        Row(
            "geometric overhang",
            _number(overhang * 1e3, 3),
            "",
            "mm",
            _overhang_remark(result),
        ),
        *_given_rows(result),
        Row(
            "mechanical limit",
            _number(travel.limit * 1e3, 3),
            "",
            "mm",
            f"inward {_number(travel.inward * 1e3, 3)}, "
            f"outward {_number(travel.outward * 1e3, 3)}; margin kept",
        ),
        Row(
            "usable linear stroke",
            _number(usable.value * 1e3, 3),
            _spread(usable.uncertainty * 1e3),
            "mm",
            f"ruled by: {LIMIT_NAMES[usable.limited_by]}",
        ),
        Row(
            "best rest position",
            f"{best.value * 1e3:+.2f}",
            _spread(best.uncertainty * 1e3),
            "mm",
            f"gives {reach.value * 1e3:.2f} mm at 82 %; now "
            f"{result.design.coil.rest_position * 1e3:+.2f} mm",
        ),
    ]


def _coil_rows(result: MotorResult) -> list[Row]:
    coil, clearance = result.design.coil, result.clearance
    degrees = result.design.temperature - 273.15
    lines = [
        Row("Coil"),
        Row(
            "turns",
            str(coil.turns),
            "",
            "",
            f"{coil.layers} layers of {coil.turns_per_layer}, {coil.wire.material}",
        ),
        Row("resistance", _number(result.resistance), "", "ohm", f"at {degrees:.0f} degC"),
        Row(
            "winding mass",
            _number(coil.mass * 1e3, 3),
            "",
            "g",
            f"{coil.mass_with_enamel * 1e3:.3g} g with enamel",
        ),
        Row(
            "clearance inside / outside",
            f"{clearance.inner * 1e3:.3f} / {clearance.outer * 1e3:.3f}",
            "",
            "mm",
        ),
    ]
    if result.moving_mass is not None:
        lines += [
            Row("moving mass", _number(result.moving_mass * 1e3, 3), "", "g"),
            Row("resonance", _number(result.resonance, 3), "", "Hz", "free air"),
        ]
    return lines


def _motor_rows(result: MotorResult) -> list[Row]:
    budget, stray = result.flux_budget, result.stray_field(STRAY_DISTANCE)
    to_coil = result.leakage_factor_to_coil
    lines = [
        Row("Motor"),
        Row(
            "mass",
            _number(result.mass_of() * 1e3, 4),
            "",
            "g",
            f"steel {result.mass_of(Role.STEEL) * 1e3:.1f} g, "
            f"magnet {result.mass_of(Role.MAGNET) * 1e3:.1f} g",
        ),
        Row(
            "cost",
            _number(sum(result.costs.values()), 3),
            "",
            "",
            f"coil {result.costs['coil']:.2g}; invented default prices per kilogram",
        ),
        Row(
            "flux through the magnet",
            _number(budget.magnet.value * 1e3),
            _spread(budget.magnet.uncertainty * 1e3),
            "mWb",
        ),
        Row(
            "flux through the gap",
            _number(budget.gap.value * 1e3),
            _spread(budget.gap.uncertainty * 1e3),
            "mWb",
            f"leakage factor {budget.leakage_factor.value:.4g} "
            f"{_spread(budget.leakage_factor.uncertainty)}",
        ),
        Row(
            "leakage factor to the coil",
            _number(to_coil.value, 4),
            _spread(to_coil.uncertainty),
            "",
            "per flux that the coil at rest cuts, outside the gap too",
        ),
    ]
    lines += [
        Row(
            "magnet's energy used",
            _number(100 * result.utilisation.value, 3),
            _spread(100 * result.utilisation.uncertainty),
            "%",
            "energy in the gap over half the largest energy product",
        ),
        Row(
            "stray field, largest",
            _number(stray.value * 1e3, 4),
            _spread(stray.uncertainty * 1e3),
            "mT",
            f"{STRAY_DISTANCE * 1e3:.0f} mm outside the motor",
        ),
    ]
    for point in result.working_points:
        grade = result.design.materials.magnet_of(point.region)
        lines.append(
            Row(
                f"{_spoken(point.region)}, working point",
                _number(point.flux_density.value, 4),
                _spread(point.flux_density.uncertainty),
                "T",
                f"{point.field.value / 1e3:.0f} kA/m, "
                f"permeance {_number(point.permeance.value, 3)}, "
                f"{grade.name}",
            )
        )
    lines.extend(
        Row(
            f"{_spoken(m.region)}, margin to the knee",
            f"{m.margin / 1e3:.1f}",
            _spread(m.uncertainty / 1e3),
            "kA/m",
            f"{100 * m.share_past_knee:.2g} % of its volume past it, "
            f"{100 * m.loss:.2g} % of its remanence lost",
        )
        for m in result.magnet_health
    )
    lines.extend(
        Row(
            f"{_spoken(load.region)}, peak flux density",
            _number(load.peak.value, 4),
            _spread(load.peak.uncertainty),
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
    from rich.box import SIMPLE_HEAD
    from rich.table import Table

    table = Table(title=result.design.name, box=SIMPLE_HEAD, title_justify="left")
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
    from rich.console import Console

    target = io.StringIO()
    Console(file=target, width=118, color_system=None).print(rich_table(result))
    return target.getvalue().rstrip() + "\n\n" + CAUTION


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
    return "\n".join([*lines, "</table>", f"<p>{escape(CAUTION)}</p>"])
