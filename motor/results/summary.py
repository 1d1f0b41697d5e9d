"""The result of one design as a flat record, units in the names."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries import Role
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.field.field import Estimate

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["asymmetry", "summary"]


def _mm(value: float) -> float | None:
    return finite(value * 1e3)


def _limit(value: Estimate | None) -> float | None:
    return None if value is None else _mm(value.value)


def asymmetry(result: MotorResult) -> Estimate | None:
    """Return (Bl(x) - Bl(-x)) / (Bl(x) + Bl(-x)) at the symmetric 82 % stroke."""
    x = result.stroke_82.symmetric.value
    if not math.isfinite(x) or -x < result.bl_curve.x[0]:
        return None
    out, inn = (float(b) for b in result.bl_curve(np.array([x, -x])))
    spread = np.interp([x, -x], result.bl_curve.x, result.bl_curve.uncertainty).sum()
    return Estimate((out - inn) / (out + inn), 0.5 * float(spread) / (out + inn))


def summary(result: MotorResult) -> dict[str, Any]:
    """Return the figures of a result under names that carry their unit.

    Strokes are one-way and symmetric about rest unless the name says inward or outward.
    ``None`` stands for "no limit within reach", or for an uncertainty that is switched off.
    Names with ``uncertainty`` hold the absolute numerical uncertainty of the figure they are
    named after.
    """
    design, curve = result.design, result.bl_curve
    coil, gap = design.coil, design.geometry.gap
    at_rest, peak, where = curve.at_rest, curve.peak, curve.peak_position
    best_rest, best_stroke = result.best_rest_position
    uneven = asymmetry(result)
    margin, stray = result.demagnetisation_margin, result.stray_field(0.1)
    limits = result.stroke_limits
    record: dict[str, Any] = {
        **origin(),
        "name": design.name,
        "geometry": design.geometry.kind,
        "temperature_degC": round(design.temperature - 273.15, 9),
        "bl_at_rest_Tm": at_rest.value,
        "bl_at_rest_uncertainty_Tm": at_rest.uncertainty,
        "bl_peak_Tm": peak.value,
        "bl_peak_uncertainty_Tm": peak.uncertainty,
        "bl_peak_position_mm": _mm(where.value),
        "bl_peak_position_uncertainty_mm": _mm(where.uncertainty),
        "bl_asymmetry_at_82_percent": None if uneven is None else uneven.value,
        "bl_asymmetry_at_82_percent_uncertainty": None if uneven is None else uneven.uncertainty,
        "irreversible_loss_percent": 100 * result.irreversible_loss.value,
        "irreversible_loss_uncertainty_percent": 100 * result.irreversible_loss.uncertainty,
        "demagnetisation_margin_kA_per_m": None if margin is None else margin.value / 1e3,
        "demagnetisation_margin_uncertainty_kA_per_m": None
        if margin is None
        else margin.uncertainty / 1e3,
        "motor_constant_N2_per_W": result.motor_constant.value,
        "motor_constant_uncertainty_N2_per_W": result.motor_constant.uncertainty,
        "mean_gap_flux_density_T": result.gap_profile.mean.value,
        "mean_gap_flux_density_uncertainty_T": result.gap_profile.mean.uncertainty,
        "peak_gap_flux_density_T": result.gap_profile.peak.value,
        "peak_gap_flux_density_uncertainty_T": result.gap_profile.peak.uncertainty,
    }
    for name, stroke in (("82", result.stroke_82), ("70", result.stroke_70)):
        record[f"stroke_{name}_mm"] = _mm(stroke.symmetric.value)
        record[f"stroke_{name}_uncertainty_mm"] = _mm(stroke.symmetric.uncertainty)
        for side, one in (("inward", stroke.inward), ("outward", stroke.outward)):
            record[f"stroke_{name}_{side}_mm"] = _mm(one.value)
            record[f"stroke_{name}_{side}_uncertainty_mm"] = _mm(one.uncertainty)
    record |= {
        "overhang_mm": _mm(design.overhang),
        "overhang_stroke_mm": _mm(limits["overhang"].value),
        "compliance_stroke_mm": _limit(limits.get("compliance")),
        "inductance_stroke_mm": _limit(limits.get("inductance")),
        "mechanical_limit_mm": _mm(result.travel.limit),
        "mechanical_limit_inward_mm": _mm(result.travel.inward),
        "mechanical_limit_outward_mm": _mm(result.travel.outward),
        "usable_stroke_mm": _mm(result.usable_stroke.value),
        "usable_stroke_uncertainty_mm": _mm(result.usable_stroke.uncertainty),
        "usable_stroke_limited_by": result.usable_stroke.limited_by,
        "best_rest_position_mm": _mm(best_rest.value),
        "best_rest_position_uncertainty_mm": _mm(best_rest.uncertainty),
        "best_rest_position_stroke_82_mm": _mm(best_stroke.value),
        "best_rest_position_stroke_82_uncertainty_mm": _mm(best_stroke.uncertainty),
        "rest_position_mm": _mm(coil.rest_position),
        "gap_width_mm": _mm(gap.width),
        "gap_depth_mm": _mm(gap.depth),
        "winding_height_mm": _mm(coil.winding_height),
        "clearance_inner_mm": _mm(result.clearance.inner),
        "clearance_outer_mm": _mm(result.clearance.outer),
        "turns": coil.turns,
        "wire_length_m": coil.wire_length,
        "winding_build_up_mm": _mm(coil.build_up),
        "coil_resistance_ohm": result.resistance,
        "coil_mass_g": coil.mass * 1e3,
        "coil_mass_with_enamel_g": coil.mass_with_enamel * 1e3,
        "motor_mass_g": result.mass_of() * 1e3,
        "magnet_mass_g": result.mass_of(Role.MAGNET) * 1e3,
        "steel_mass_g": result.mass_of(Role.STEEL) * 1e3,
        "part_mass_g": {name: mass * 1e3 for name, mass in result.masses.items()},
        "part_cost": result.costs,
        "motor_cost": sum(result.costs.values()) - result.costs["coil"],
        "coil_cost": result.costs["coil"],
        "fill_factor": coil.fill_factor,
        "former_mass_g": coil.former_mass * 1e3,
        "utilisation": result.utilisation.value,
        "utilisation_uncertainty": result.utilisation.uncertainty,
        "stray_field_at_100_mm_uT": stray.value * 1e6,
        "stray_field_at_100_mm_uncertainty_uT": stray.uncertainty * 1e6,
        "magnet_flux_mWb": result.flux_budget.magnet.value * 1e3,
        "magnet_flux_uncertainty_mWb": result.flux_budget.magnet.uncertainty * 1e3,
        "gap_flux_mWb": result.flux_budget.gap.value * 1e3,
        "gap_flux_uncertainty_mWb": result.flux_budget.gap.uncertainty * 1e3,
        "other_flux_mWb": result.flux_budget.rest.value * 1e3,
        "other_flux_uncertainty_mWb": result.flux_budget.rest.uncertainty * 1e3,
        "leakage_factor": finite(result.flux_budget.leakage_factor.value),
        "leakage_factor_uncertainty": result.flux_budget.leakage_factor.uncertainty,
        "leakage_factor_to_coil": finite(result.leakage_factor_to_coil.value),
        "leakage_factor_to_coil_uncertainty": result.leakage_factor_to_coil.uncertainty,
        "working_points": [
            {
                "part": p.region,
                "flux_density_T": p.flux_density.value,
                "flux_density_uncertainty_T": finite(p.flux_density.uncertainty),
                "field_kA_per_m": p.field.value / 1e3,
                "field_uncertainty_kA_per_m": finite(p.field.uncertainty / 1e3),
                "permeance": finite(p.permeance.value),
                "permeance_uncertainty": finite(p.permeance.uncertainty),
            }
            for p in result.working_points
        ],
        "magnets": [
            {
                "part": m.region,
                "demagnetisation_margin_kA_per_m": m.margin / 1e3,
                "demagnetisation_margin_uncertainty_kA_per_m": finite(m.uncertainty / 1e3),
                "worst_field_kA_per_m": m.worst_field / 1e3,
                "knee_field_kA_per_m": m.knee_field / 1e3,
                "share_past_knee_percent": 100 * m.share_past_knee,
                "remanence_lost_percent": 100 * m.loss,
            }
            for m in result.magnet_health
        ],
        "steel_loads": [
            {
                "part": s.region,
                "peak_flux_density_T": s.peak.value,
                "peak_flux_density_uncertainty_T": finite(s.peak.uncertainty),
                "mean_flux_density_T": s.mean.value,
                "mean_flux_density_uncertainty_T": finite(s.mean.uncertainty),
            }
            for s in result.steel_loads
        ],
        "steel_beyond_table": [
            {
                "part": part.region,
                "steel": part.steel,
                "peak_flux_density_T": part.peak,
                "last_row_T": part.last_row,
            }
            for part in result.beyond_tables
        ],
        **_materials(result),
        "moving_mass_g": None if result.moving_mass is None else result.moving_mass * 1e3,
        "resonance_Hz": result.resonance,
        "newton_iterations": result.field.iterations,
        "newton_residual": result.field.residual,
        "unknowns": result.field.unknowns,
        "triangles": result.field.triangles,
        "converged": True,
        "notes": result.notes,
        "regions": list(result.field.fine.system.mesh.names),
    }
    return {key: None if _is_nan(value) else value for key, value in record.items()}


def _materials(result: MotorResult) -> dict[str, float | None]:
    """Return what steel beyond its table leaves open of the figures that hang on it most."""
    open_ = result.material_uncertainty
    stroke = open_(lambda r: r.stroke_82.symmetric.value)
    return {
        "bl_at_rest_material_uncertainty_Tm": open_(lambda r: r.bl_curve.at_rest.value),
        "motor_constant_material_uncertainty_N2_per_W": open_(lambda r: r.motor_constant.value),
        "mean_gap_flux_density_material_uncertainty_T": open_(lambda r: r.gap_profile.mean.value),
        "stroke_82_material_uncertainty_mm": _mm(stroke),
    }


def _is_nan(value: object) -> bool:
    return isinstance(value, float) and math.isnan(value)
