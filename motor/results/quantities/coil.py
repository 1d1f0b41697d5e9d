"""Figures of the coil, its gap and what moves with it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from motor.base.quantity import Line, Quantity

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["COIL"]

SECTION = "Coil"
COIL: tuple[Quantity[MotorResult], ...] = (
    Quantity(
        name="rest_position",
        unit="mm",
        words="rest position",
        read=lambda r: r.design.coil.rest_position,
    ),
    Quantity(
        name="gap_width",
        unit="mm",
        words="gap width",
        read=lambda r: r.design.geometry.gap.width,
    ),
    Quantity(
        name="gap_depth",
        unit="mm",
        words="gap depth",
        read=lambda r: r.design.geometry.gap.depth,
    ),
    Quantity(
        name="coil_diameter",
        unit="mm",
        words="coil diameter",
        read=lambda r: r.design.coil.inner_diameter,
        criterion="bore of the former",
        slope="parts",
        kind="length",
    ),
    Quantity(
        name="winding_height",
        unit="mm",
        words="winding height",
        read=lambda r: r.design.coil.winding_height,
    ),
    Quantity(
        name="turns",
        words="turns",
        read=lambda r: r.design.coil.turns,
        line=Line(SECTION),
        live="turns",
    ),
    Quantity(
        name="bare_wire",
        unit="mm",
        words="bare wire diameter",
        read=lambda r: math.sqrt(r.design.coil.wire.conductor_area * 4 / math.pi),
        criterion="of flat wire the diameter with the same section",
    ),
    Quantity(
        name="wire_length",
        unit="m",
        words="wire length",
        read=lambda r: r.design.coil.wire_length,
        slope="parts",
    ),
    Quantity(
        name="winding_build_up",
        unit="mm",
        words="winding build up",
        read=lambda r: r.design.coil.build_up,
    ),
    Quantity(
        name="coil_resistance",
        unit="ohm",
        words="coil resistance",
        read=lambda r: r.resistance,
        criterion="at the design's temperature",
        better="less",
        offered=4,
        head=3,
        hover=True,
        line=Line(SECTION, "resistance"),
        live="resistance",
        slope="parts",
        kind="resistance",
    ),
    Quantity(
        name="coil_mass",
        unit="g",
        words="coil mass",
        read=lambda r: r.design.coil.mass,
        criterion="of the bare conductor",
        better="less",
        offered=4,
        line=Line(SECTION, "winding mass", 3),
        live="coil_mass",
        slope="parts",
        kind="mass",
    ),
    Quantity(
        name="coil_mass_with_enamel",
        unit="g",
        words="coil mass with enamel",
        read=lambda r: r.design.coil.mass_with_enamel,
        better="less",
        slope="parts",
        kind="mass",
    ),
    Quantity(
        name="former_mass",
        unit="g",
        words="former mass",
        read=lambda r: r.design.coil.former_mass,
        better="less",
        slope="parts",
    ),
    Quantity(
        name="fill_factor",
        words="fill factor",
        read=lambda r: r.design.coil.fill_factor,
        criterion="conductor's share of the winding's section",
    ),
    Quantity(
        name="clearance_inner",
        unit="mm",
        words="radial clearance inside",
        read=lambda r: r.clearance.inner,
        better="more",
        line=Line(SECTION, "clearance inside", form="{:.3f}"),
        live="clearance_inner",
        slope="parts",
        rings_decide=True,
        kind="length",
    ),
    Quantity(
        name="clearance_outer",
        unit="mm",
        words="radial clearance outside",
        read=lambda r: r.clearance.outer,
        better="more",
        line=Line(SECTION, "clearance outside", form="{:.3f}"),
        live="clearance_outer",
        slope="parts",
        rings_decide=True,
        kind="length",
    ),
    Quantity(
        name="moving_mass",
        unit="g",
        words="moving mass",
        read=lambda r: r.moving_mass,
        better="less",
        offered=4,
        hover=True,
        line=Line(SECTION, "", 3),
        live="moving_mass",
        slope="parts",
        kind="mass",
    ),
    Quantity(
        name="resonance",
        unit="Hz",
        words="resonance",
        read=lambda r: r.resonance,
        criterion="of moving mass and suspension in free air",
        better="less",
        offered=4,
        hover=True,
        line=Line(SECTION, "", 3),
        live="resonance",
        slope="parts",
        kind="frequency",
    ),
)
