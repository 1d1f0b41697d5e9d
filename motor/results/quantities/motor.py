"""Figures of the motor: mass, cost, size, flux, stray field."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from geometries import Role, outer_size
from motor.base.quantity import Line, Quantity

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["MOTOR", "STRAY_DISTANCE"]

SECTION = "Motor"
STRAY_DISTANCE = 0.1
"""Metres from the motor's envelope."""


def _volume(result: MotorResult) -> float:
    outer, height = outer_size(result.design.regions)
    return math.pi * outer**2 / 4 * height


MOTOR: tuple[Quantity[MotorResult], ...] = (
    Quantity(
        name="motor_mass",
        unit="g",
        words="motor mass",
        read=lambda r: r.mass_of(),
        better="less",
        offered=4,
        head=5,
        best="lightest motor",
        hover=True,
        line=Line(SECTION, "mass"),
        slope="parts",
        kind="mass",
    ),
    Quantity(
        name="magnet_mass",
        unit="g",
        words="magnet mass",
        read=lambda r: r.mass_of(Role.MAGNET),
        better="less",
        offered=4,
        slope="parts",
        kind="mass",
    ),
    Quantity(
        name="steel_mass",
        unit="g",
        words="steel mass",
        read=lambda r: r.mass_of(Role.STEEL),
        better="less",
        offered=4,
        slope="parts",
        kind="mass",
    ),
    Quantity(
        name="total_cost",
        words="cost (prices invented or given)",
        read=lambda r: sum(r.costs.values()),
        criterion="of motor and coil, materials only",
        better="less",
        offered=4,
        head=6,
        best="lowest cost",
        hover=True,
        line=Line(SECTION, "cost", 3),
        slope="parts",
    ),
    Quantity(
        name="motor_cost",
        words="motor cost",
        read=lambda r: sum(r.costs.values()) - r.costs["coil"],
        better="less",
        offered=4,
        slope="parts",
    ),
    Quantity(
        name="coil_cost",
        words="coil cost",
        read=lambda r: r.costs["coil"],
        better="less",
        offered=4,
        slope="parts",
    ),
    Quantity(
        name="outer_diameter",
        unit="mm",
        words="outer diameter",
        read=lambda r: outer_size(r.design.regions)[0],
        better="less",
        offered=4,
        slope="parts",
        kind="length",
    ),
    Quantity(
        name="height",
        unit="mm",
        words="height",
        read=lambda r: outer_size(r.design.regions)[1],
        better="less",
        offered=4,
        slope="parts",
        kind="length",
    ),
    Quantity(
        name="volume",
        unit="cm3",
        words="volume",
        read=_volume,
        criterion="of the cylinder around the motor",
        better="less",
        offered=4,
        slope="parts",
        kind="volume",
    ),
    Quantity(
        name="peak_steel_flux_density",
        unit="T",
        words="peak steel flux density",
        read=lambda r: max((s.peak.value for s in r.steel_loads), default=None),
        criterion="what one thousandth of the worst part's volume exceeds",
        better="less",
        offered=4,
        slope="field",
        slope_factor=8.3,
        kind="flux_density",
    ),
    Quantity(
        name="magnet_flux",
        unit="mWb",
        words="flux through the magnet",
        read=lambda r: r.flux_budget.magnet,
        uncertain=True,
        line=Line(SECTION),
        slope="field",
    ),
    Quantity(
        name="gap_flux",
        unit="mWb",
        words="flux through the gap",
        read=lambda r: r.flux_budget.gap,
        uncertain=True,
        line=Line(SECTION),
        slope="field",
    ),
    Quantity(
        name="other_flux",
        unit="mWb",
        words="flux beside the gap",
        read=lambda r: r.flux_budget.rest,
        uncertain=True,
        slope="field",
    ),
    Quantity(
        name="leakage_factor",
        words="leakage factor",
        read=lambda r: r.flux_budget.leakage_factor,
        uncertain=True,
        criterion="flux through the magnet over flux through the gap",
        better="less",
        offered=4,
        slope="field",
    ),
    Quantity(
        name="leakage_factor_to_coil",
        words="leakage factor, per flux that the coil cuts",
        read=lambda r: r.leakage_factor_to_coil,
        uncertain=True,
        better="less",
        offered=4,
        line=Line(SECTION, "leakage factor to the coil"),
        slope="field",
    ),
    Quantity(
        name="utilisation",
        words="utilisation",
        read=lambda r: r.utilisation,
        uncertain=True,
        criterion="energy in the gap over half the magnet's largest energy product",
        better="more",
        offered=4,
        line=Line(SECTION, "magnet's energy used", 3, unit="percent"),
        slope="field",
        slope_factor=2.8,
    ),
    Quantity(
        name="stray_field_at_100_mm",
        unit="uT",
        words="stray field 100 mm away",
        read=lambda r: r.stray_field(STRAY_DISTANCE),
        uncertain=True,
        criterion="largest, 100 mm outside the sphere around the motor",
        better="less",
        offered=4,
        line=Line(SECTION, "stray field, largest", unit="mT"),
        slope="field",
        kind="flux_density",
    ),
)
