"""What stands beside a figure in the table: limits, other sides, conditions."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from geometries import Role
from motor.base.constants import ZERO_CELSIUS
from motor.results.result_notes import magnet_degrees
from motor.results.usable_stroke import LIMIT_NAMES

if TYPE_CHECKING:
    from motor.results.bl import LinearStroke
    from motor.results.motor_result import MotorResult

__all__ = ["known", "loss_words", "number", "remark_of", "spread"]


def number(value: float | None, digits: int = 4) -> str:
    """Return a number with its significant digits; "none" where there is none."""
    if value is None or not math.isfinite(value):
        return "none"
    return f"{value:#.{digits}g}".rstrip(".")


def spread(value: float) -> str:
    """Return an uncertainty with its sign; nothing where it is 0 or not known."""
    return f"± {value:.1g}" if value and math.isfinite(value) else ""


def known(value: float, doubt: float, digits: int = 1) -> str:
    """Return a value as far as it is known: to the last of the digits of its uncertainty.

    Four digits where the uncertainty is 0 or not known.
    """
    if not (doubt > 0 and math.isfinite(doubt)):
        return f"{value:.4g}"
    last = math.floor(math.log10(float(f"{doubt:.{digits}g}"))) - digits + 1
    rounded = round(value, -last) + 0.0
    if rounded and math.floor(math.log10(abs(rounded))) < -4:
        return f"{rounded:.{math.floor(math.log10(abs(rounded))) - last}e}"
    return f"{rounded:.{max(-last, 0)}f}"


def loss_words(result: MotorResult) -> str:
    """Return what magnets have lost for good, beside Bl at rest; empty where that is nothing."""
    loss = result.irreversible_loss.value
    if loss <= 0:
        return ""
    before = result.bl_curve.at_rest.value / (1 - loss)
    degrees = magnet_degrees(result.design)
    return f"{100 * loss:.2g} % lost for good at {degrees}; {number(before)} before"


def _peak(result: MotorResult) -> str:
    where = result.bl_curve.peak_position
    return f"at x = {where.value * 1e3:+.2f} ± {where.uncertainty * 1e3:.1g} mm"


def _reached(stroke: float) -> str:
    return f"{stroke * 1e3:.3g}" if math.isfinite(stroke) else "not before contact"


def _sides(stroke: LinearStroke) -> str:
    return f"inward {_reached(stroke.inward.value)}, outward {_reached(stroke.outward.value)}"


def _overhang(result: MotorResult) -> str:
    """Return what the overhang is, or what the rest position leaves of it."""
    words = "(winding height - gap depth) / 2"
    if result.design.coil.rest_position:
        left = result.stroke_limits["overhang"].value
        words = f"{left * 1e3:.3g} mm with the rest offset"
    return words + ("; underhung" if result.design.overhang < 0 else "")


def _travel(result: MotorResult) -> str:
    inward, outward = result.travel.inward * 1e3, result.travel.outward * 1e3
    ways = (
        "unlimited" if number(way, 3) == "none" else number(way, 3) for way in (inward, outward)
    )
    return "inward {}, outward {}; margin deducted".format(*ways)


def _best_rest(result: MotorResult) -> str:
    reach, now = result.best_rest_position[1].value, result.design.coil.rest_position
    return f"gives {reach * 1e3:.2f} mm at 82 %; now {now * 1e3:+.2f} mm"


def _turns(result: MotorResult) -> str:
    coil = result.design.coil
    words = [f"{c.layers} layers of {c.turns_per_layer}, {c.wire.material}" for c in coil.each]
    named = [
        f"{part.name.replace('_', ' ')} {own}, {part.sense} sense"
        for part, own in zip(coil.parts, words[1:], strict=True)
    ]
    return "; ".join([words[0], *named, *([f"in {coil.connection}"] if named else [])])


def _masses(result: MotorResult) -> str:
    steel, magnet = result.mass_of(Role.STEEL), result.mass_of(Role.MAGNET)
    return f"steel {steel * 1e3:.1f} g, magnet {magnet * 1e3:.1f} g"


def _leakage(result: MotorResult) -> str:
    factor = result.flux_budget.leakage_factor
    return f"leakage factor {factor.value:.4g} {spread(factor.uncertainty)}"


REMARKS: dict[str, Callable[[MotorResult], str]] = {
    "bl_at_rest": loss_words,
    "bl_peak": _peak,
    "mean_gap_flux_density": lambda r: "over the gap depth, at mean coil radius",
    "stroke_82": lambda r: _sides(r.stroke_82),
    "stroke_70": lambda r: _sides(r.stroke_70),
    "overhang": _overhang,
    "compliance_stroke": lambda r: "as given over displacement",
    "inductance_stroke": lambda r: "as given over displacement",
    "mechanical_limit": _travel,
    "usable_stroke": lambda r: f"limited by: {LIMIT_NAMES[r.usable_stroke.limited_by]}",
    "best_rest_position": _best_rest,
    "turns": _turns,
    "coil_resistance": lambda r: f"at {r.design.temperature - ZERO_CELSIUS:.0f} degC",
    "coil_mass": lambda r: f"{r.design.coil.mass_with_enamel * 1e3:.3g} g with enamel",
    "resonance": lambda r: "free air",
    "motor_mass": _masses,
    "total_cost": lambda r: f"coil {r.costs['coil']:.2g}; invented default prices per kilogram",
    "gap_flux": _leakage,
    "leakage_factor_to_coil": lambda r: "per flux that the coil at rest cuts, outside the gap too",
    "utilisation": lambda r: "energy in the gap over half the largest energy product",
    "stray_field_at_100_mm": lambda r: "100 mm outside the motor",
}
"""By the figure's name."""


def remark_of(name: str, result: MotorResult) -> str:
    """Return the remark beside a figure, "" where there is none."""
    return REMARKS[name](result) if name in REMARKS else ""
