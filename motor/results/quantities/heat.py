"""Figures that a study adds where the section [heat] of its design gives a power."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.constants import ZERO_CELSIUS
from motor.base.quantity import Quantity
from motor.field.field import Estimate
from motor.field.heat_mesh import WINDING

if TYPE_CHECKING:
    from motor.results.heat import Warmth

__all__ = ["HEAT"]


def _celsius(found: Estimate | None) -> Estimate | None:
    return found and Estimate(found.value - ZERO_CELSIUS, found.uncertainty)


HEAT: tuple[Quantity[Warmth], ...] = (
    Quantity(
        name="coil_temperature",
        unit="degC",
        words="coil temperature under the programme",
        read=lambda w: _celsius(w.coil),
        uncertain=True,
        criterion="mean of the winding, once settled",
        better="less",
        offered=4,
        hover=True,
    ),
    Quantity(
        name="coil_hottest",
        unit="degC",
        words="hottest turn under the programme",
        read=lambda w: _celsius(w.hottest("coil-winding")),
        uncertain=True,
        better="less",
        offered=4,
    ),
    Quantity(
        name="magnet_temperature",
        unit="degC",
        words="magnet temperature under the programme",
        read=lambda w: _celsius(w.magnet),
        uncertain=True,
        criterion="mean of the warmest magnet, once settled",
        better="less",
        offered=4,
        hover=True,
    ),
    Quantity(
        name="coil_temperature_at_end",
        unit="degC",
        words="coil temperature at the end of the programme",
        read=lambda w: _celsius(w.at_end(WINDING)),
        uncertain=True,
        criterion="largest mean of the winding within [heat] duration, from cold",
        better="less",
        offered=4,
    ),
    Quantity(
        name="magnet_temperature_at_end",
        unit="degC",
        words="magnet temperature at the end of the programme",
        read=lambda w: _celsius(w.at_end(w.warmest)),
        uncertain=True,
        criterion="largest mean of the warmest magnet within [heat] duration, from cold",
        better="less",
        offered=4,
    ),
    Quantity(
        name="thermal_margin",
        unit="K",
        words="thermal margin",
        kind="temperature",
        read=lambda w: w.margin[0],
        uncertain=True,
        criterion="least distance of wire, bonds, former, magnets and fluid to what they bear, "
        "at the end of [heat] duration, or once settled",
        better="more",
        offered=4,
        hover=True,
    ),
    Quantity(
        name="thermal_margin_of",
        words="what has the least thermal margin",
        read=lambda w: w.margin[1],
    ),
    Quantity(
        name="largest_power",
        unit="W",
        words="largest lasting power",
        kind="power",
        read=lambda w: w.largest_power[0],
        uncertain=True,
        criterion="the first of wire, bonds, former, magnets and fluid at its limit",
        better="more",
        offered=4,
        hover=True,
    ),
    Quantity(
        name="largest_power_limited_by",
        words="what limits the power",
        read=lambda w: w.largest_power[1],
    ),
    Quantity(
        name="bl_at_rest_warm",
        unit="Tm",
        words="Bl at rest, magnets warm from the programme",
        kind="force_factor",
        read=lambda w: w.bl_at_rest,
        uncertain=True,
        better="more",
        offered=4,
    ),
    Quantity(
        name="level_change",
        unit="dB",
        words="change of level, coil and magnets warm",
        read=lambda w: w.compression,
        better="more",
        offered=4,
    ),
)
