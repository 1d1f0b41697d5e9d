"""Figures of force: Bl, flux density in the gap, what magnets lose."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np

from motor.base.quantity import Line, Quantity
from motor.field.field import Estimate
from motor.results.gap import largest_in_gap

if TYPE_CHECKING:
    from motor.results.bl import BlCurve
    from motor.results.motor_result import MotorResult

__all__ = ["FORCE"]

SECTION = "Force"
UNEVEN = 0.4
"""Share of the error model's bound, relative to Bl, that is stated for the asymmetry."""


def _asymmetry(result: MotorResult) -> Estimate | None:
    curve = result.bl_curve
    fine, coarse = map(_at_82_percent, (curve, dataclasses.replace(curve, bl=curve.bl_coarse)))
    if fine is None:
        return None
    spread = curve.errors.bound(fine, fine if coarse is None else coarse, 1.0)
    return Estimate(fine, UNEVEN * spread)


def _at_82_percent(curve: BlCurve) -> float | None:
    """Return (Bl(x) - Bl(-x)) / (Bl(x) + Bl(-x)) at the 82 % stroke x; None beyond the curve."""
    x = curve.stroke(0.82).symmetric.value
    if not x <= min(-curve.x[0], curve.x[-1]):
        return None
    out, inn = (float(b) for b in curve(np.array([x, -x])))
    return (out - inn) / (out + inn)


def _largest_asymmetry(result: MotorResult) -> float | None:
    values = result.bl_curve.asymmetry()[1]
    return float(abs(values).max()) if len(values) else None


def _mean_gap_from_flux(result: MotorResult) -> float:
    area = 2 * math.pi * result.design.coil.mean_radius * result.design.geometry.gap.depth
    return result.flux_budget.gap.value / area


def _largest_in_gap(result: MotorResult) -> float:
    gap, coil = result.design.geometry.gap, result.design.coil
    return largest_in_gap(result.field.fine, gap, coil.mean_radius, coil.winding_height)


FORCE: tuple[Quantity[MotorResult], ...] = (
    Quantity(
        name="bl_at_rest",
        unit="Tm",
        words="Bl at rest",
        read=lambda r: r.bl_curve.at_rest,
        uncertain=True,
        material=True,
        better="more",
        offered=2,
        head=1,
        best="largest Bl at rest",
        hover=True,
        line=Line(SECTION),
        live="bl",
        slope="field",
        slope_factor=0.8,
        kind="force_factor",
        target="bl",
    ),
    Quantity(
        name="bl_peak",
        unit="Tm",
        words="largest Bl",
        read=lambda r: r.bl_curve.peak,
        uncertain=True,
        better="more",
        offered=4,
        line=Line(SECTION, "Bl, largest"),
        slope="field",
        slope_factor=0.8,
        kind="force_factor",
    ),
    Quantity(
        name="bl_peak_position",
        unit="mm",
        words="position of the largest Bl",
        read=lambda r: r.bl_curve.peak_position,
        uncertain=True,
        slope="field",
        slope_factor=1.9,
    ),
    Quantity(
        name="bl_asymmetry_at_82_percent",
        words="asymmetry of Bl at the 82 % stroke",
        read=_asymmetry,
        uncertain=True,
        criterion="(Bl(x) - Bl(-x)) / (Bl(x) + Bl(-x)) at the symmetric 82 % stroke",
        offered=4,
        slope="field",
        slope_factor=1.6,
        smooth=lambda r: _at_82_percent(r.bl_curve),
    ),
    Quantity(
        name="largest_asymmetry",
        words="largest asymmetry of Bl",
        read=_largest_asymmetry,
        criterion="largest |Bl(x) - Bl(-x)| / (Bl(x) + Bl(-x)) within the coil's travel",
        better="less",
        offered=4,
    ),
    Quantity(
        name="motor_constant",
        unit="N2_per_W",
        words="Bl²/Re",
        read=lambda r: r.motor_constant,
        uncertain=True,
        material=True,
        better="more",
        offered=3,
        head=4,
        best="largest Bl²/Re",
        hover=True,
        line=Line(SECTION),
        live="constant",
        slope="field",
        slope_factor=0.8,
        kind="motor_constant",
    ),
    Quantity(
        name="mean_gap_flux_density",
        unit="T",
        words="mean gap flux density",
        read=lambda r: r.gap_profile.mean,
        uncertain=True,
        material=True,
        criterion="over the gap depth, at the coil's mean radius",
        better="more",
        offered=4,
        line=Line(SECTION, "gap flux density, mean"),
        slope="field",
        smooth=_mean_gap_from_flux,
        kind="flux_density",
    ),
    Quantity(
        name="peak_gap_flux_density",
        unit="T",
        words="largest gap flux density",
        read=lambda r: r.gap_profile.peak,
        uncertain=True,
        line=Line(SECTION, "gap flux density, largest"),
        slope="field",
        smooth=_largest_in_gap,
        kind="flux_density",
    ),
    Quantity(
        name="irreversible_loss",
        unit="percent",
        words="Bl lost for good",
        read=lambda r: r.irreversible_loss,
        uncertain=True,
        criterion="share of Bl at rest at the design's temperature, assembled at 20 degC",
        better="less",
        offered=4,
    ),
    Quantity(
        name="demagnetisation_margin",
        unit="kA_per_m",
        words="margin to the knee",
        read=lambda r: r.demagnetisation_margin,
        uncertain=True,
        criterion="from the field that costs 1 % of remanence, at the magnet's worst thousandth",
        better="more",
        offered=4,
        slope="field",
        slope_factor=4.6,
        kind="field_strength",
    ),
)
