"""The figures of a motor that are differentiated, by their key in ``summary.json``."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from geometries import Role
from motor.results.motor_result import MotorResult

__all__ = ["BESIDE_RINGS", "FIGURES", "OF_FIELD", "OF_PARTS", "Figures"]


def _asymmetry(result: MotorResult) -> float:
    x = result.stroke_82.symmetric.value
    if not -result.bl_curve.x[0] >= x <= result.bl_curve.x[-1]:
        return math.nan
    out, inn = (float(b) for b in result.bl_curve(np.array([x, -x])))
    return (out - inn) / (out + inn)


def _mean_gap(result: MotorResult) -> float:
    area = 2 * math.pi * result.design.coil.mean_radius * result.design.geometry.gap.depth
    return result.flux_budget.gap.value / area


Figures = dict[str, Callable[[MotorResult], float | None]]
OF_FIELD: Figures = {
    "bl_at_rest_Tm": lambda r: r.bl_curve.at_rest.value,
    "bl_peak_Tm": lambda r: r.bl_curve.peak.value,
    "bl_peak_position_mm": lambda r: 1e3 * r.bl_curve.peak_position.value,
    "bl_asymmetry_at_82_percent": _asymmetry,
    "motor_constant_N2_per_W": lambda r: r.motor_constant.value,
    "mean_gap_flux_density_T": _mean_gap,
    "stroke_82_mm": lambda r: 1e3 * r.stroke_82.symmetric.value,
    "stroke_82_inward_mm": lambda r: 1e3 * r.stroke_82.inward.value,
    "stroke_82_outward_mm": lambda r: 1e3 * r.stroke_82.outward.value,
    "stroke_70_mm": lambda r: 1e3 * r.stroke_70.symmetric.value,
    "stroke_70_inward_mm": lambda r: 1e3 * r.stroke_70.inward.value,
    "stroke_70_outward_mm": lambda r: 1e3 * r.stroke_70.outward.value,
    "usable_stroke_mm": lambda r: 1e3 * r.usable_stroke.value,
    "gap_flux_mWb": lambda r: 1e3 * r.flux_budget.gap.value,
    "magnet_flux_mWb": lambda r: 1e3 * r.flux_budget.magnet.value,
    "leakage_factor": lambda r: r.flux_budget.leakage_factor.value,
    "leakage_factor_to_coil": lambda r: r.leakage_factor_to_coil.value,
}
"""Figures read off the field, by their key in ``summary.json`` and in that key's unit."""
OF_PARTS: Figures = {
    "overhang_mm": lambda r: 1e3 * r.design.overhang,
    "mechanical_limit_mm": lambda r: 1e3 * r.travel.limit,
    "clearance_inner_mm": lambda r: 1e3 * r.clearance.inner,
    "clearance_outer_mm": lambda r: 1e3 * r.clearance.outer,
    "wire_length_m": lambda r: r.design.coil.wire_length,
    "coil_resistance_ohm": lambda r: r.resistance,
    "coil_mass_g": lambda r: 1e3 * r.design.coil.mass,
    "moving_mass_g": lambda r: None if r.moving_mass is None else 1e3 * r.moving_mass,
    "resonance_Hz": lambda r: r.resonance,
    "motor_mass_g": lambda r: 1e3 * r.mass_of(),
    "magnet_mass_g": lambda r: 1e3 * r.mass_of(Role.MAGNET),
    "steel_mass_g": lambda r: 1e3 * r.mass_of(Role.STEEL),
    "motor_cost": lambda r: sum(r.costs.values()) - r.costs["coil"],
    "coil_cost": lambda r: r.costs["coil"],
}
"""Figures that follow from the drawing alone."""
BESIDE_RINGS = (
    "clearance_inner_mm",
    "clearance_outer_mm",
    "mechanical_limit_mm",
    "usable_stroke_mm",
)
"""Figures that a ring may decide, so that they have no derivative where one is left out."""
FIGURES: Figures = {**OF_FIELD, **OF_PARTS}
