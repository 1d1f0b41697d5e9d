"""The result of one design as a flat record, units in the names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from motor.base.constants import ZERO_CELSIUS
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.quantity import records
from motor.results.quantities import motor_quantities

if TYPE_CHECKING:
    from motor.design.design import Design
    from motor.results.motor_result import MotorResult

__all__ = ["figures_of", "summary"]


def figures_of(result: MotorResult) -> dict[str, Any]:
    """Return every figure of a result and its uncertainties under names that carry their unit.

    Strokes are one-way and symmetric about rest unless the name says inward or outward.
    ``None`` stands for "no limit within reach", or for an uncertainty that is switched off.
    Names with ``uncertainty`` hold the absolute numerical uncertainty of the figure they are
    named after, with ``material_uncertainty`` what steel beyond its table leaves open.
    """
    return records(motor_quantities(), result)


def summary(result: MotorResult) -> dict[str, Any]:
    """Return the figures of a result, see :func:`figures_of`, those of its parts, and its mesh."""
    design, field = result.design, result.field
    return {
        **origin(),
        "name": design.name,
        "geometry": design.geometry.kind,
        "temperature_degC": round(design.temperature - ZERO_CELSIUS, 9),
        **_part_temperatures(design),
        **figures_of(result),
        **_parts(result),
        "newton_iterations": field.iterations,
        "newton_residual": field.residual,
        "unknowns": field.unknowns,
        "triangles": field.triangles,
        "converged": True,
        "notes": result.notes,
        "regions": list(field.fine.system.mesh.names),
    }


def _part_temperatures(design: Design) -> dict[str, Any]:
    """Return the temperatures of parts where the design gives any of their own."""
    if not design.materials.temperatures:
        return {}
    kelvin = {region.name: design.temperature_of(region.name) for region in design.regions}
    return {"part_temperature_degC": {n: round(t - ZERO_CELSIUS, 9) for n, t in kelvin.items()}}


def _parts(result: MotorResult) -> dict[str, Any]:
    """Return masses, costs, working points and loads part by part."""
    return {
        "part_mass_g": {name: mass * 1e3 for name, mass in result.masses.items()},
        "part_cost": result.costs,
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
        **_further_gaps(result),
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
        **_forces(result),
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
    }


def _forces(result: MotorResult) -> dict[str, Any]:
    """Return the axial force on each part and at each joint; nothing without steel to hold it."""
    if result.forces is None:
        return {}
    return {
        "forces": [
            {
                "part": part.region,
                "force_N": part.force.value,
                "force_uncertainty_N": finite(part.force.uncertainty),
            }
            for part in result.forces.parts
        ],
        "joints": [
            {
                "between": list(joint.between),
                "force_N": None if joint.pull is None else abs(joint.pull.value),
                "force_uncertainty_N": (
                    None if joint.pull is None else finite(joint.pull.uncertainty)
                ),
                "tension": joint.tension,
            }
            for joint in result.forces.joints
        ],
    }


def _further_gaps(result: MotorResult) -> dict[str, Any]:
    """Return the flux density in every gap beyond the first; nothing where there is none."""
    gaps = result.design.geometry.gap.further
    if not gaps:
        return {}
    return {
        "further_gaps": [
            {
                "middle_mm": gap.middle * 1e3,
                "gap_width_mm": gap.width * 1e3,
                "gap_depth_mm": gap.depth * 1e3,
                "mean_flux_density_T": mean.value,
                "mean_flux_density_uncertainty_T": finite(mean.uncertainty),
            }
            for gap, mean in zip(gaps, result.further_gaps, strict=True)
        ]
    }
