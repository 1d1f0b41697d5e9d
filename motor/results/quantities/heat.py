"""Figures that a study adds where the section [heat] of its design gives a power."""

from __future__ import annotations

from collections.abc import Callable
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


def _temperature(
    name: str,
    words: str,
    read: Callable[[Warmth], Estimate | None],
    criterion: str = "",
    *,
    hover: bool = False,
) -> Quantity[Warmth]:
    return Quantity(
        name=name,
        unit="degC",
        words=words,
        read=lambda w: _celsius(read(w)),
        uncertain=True,
        criterion=criterion,
        better="less",
        offered=4,
        hover=hover,
    )


HEAT: tuple[Quantity[Warmth], ...] = (
    _temperature(
        "coil_temperature",
        "coil temperature under the programme",
        lambda w: w.coil,
        "mean of the winding, once settled",
        hover=True,
    ),
    _temperature(
        "coil_hottest", "hottest turn under the programme", lambda w: w.hottest("coil-winding")
    ),
    _temperature(
        "magnet_temperature",
        "magnet temperature under the programme",
        lambda w: w.magnet,
        "mean of the warmest magnet, once settled",
        hover=True,
    ),
    _temperature(
        "coil_temperature_at_end",
        "coil temperature at the end of the programme",
        lambda w: w.at_end(WINDING),
        "largest mean of the winding within [heat] duration, from cold",
    ),
    _temperature(
        "magnet_temperature_at_end",
        "magnet temperature at the end of the programme",
        lambda w: w.at_end(w.warmest),
        "largest mean of the warmest magnet within [heat] duration, from cold",
    ),
    Quantity(
        name="heat_in_coil",
        unit="W",
        words="heat in the coil",
        kind="power",
        read=lambda w: w.settled.heat,
    ),
    Quantity(
        name="heat_in_parts",
        unit="W",
        words="heat of eddy currents in steel, magnets and rings",
        kind="power",
        read=lambda w: w.losses,
        uncertain=True,
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
