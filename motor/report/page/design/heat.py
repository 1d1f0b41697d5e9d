"""The page's section on heat, for a design whose section [heat] gives a power."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from motor.report.page.assembling import Grid
from motor.report.tables.heat import CAUTION
from motor.results.heat import heat

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["HeatSection", "heat_section"]

ZERO = 273.15


@dataclass(frozen=True)
class HeatSection:
    """Words, cautions, and two tables: figures, and what bears how much."""

    words: str
    cautions: tuple[str, ...]
    figures: Grid
    limits: Grid


def heat_section(result: MotorResult) -> HeatSection | None:
    """Return where the programme of a design settles; None if the design gives no power."""
    power = result.design.heat.power
    if power is None:
        return None
    warm = heat(result, power)
    largest, why = warm.largest_power
    rows = [
        ("coil, mean of the winding", warm.coil, -ZERO, warm.band("coil"), "degC"),
        ("hottest turn", warm.hottest("coil-winding"), -ZERO, warm.band("coil_hottest"), "degC"),
        ("magnet", warm.magnet, -ZERO, warm.band("magnet"), "degC"),
        (f"largest lasting power ({why})", largest, 0.0, warm.largest_power_band, "W"),
        ("Bl at rest, magnets warm", warm.bl_at_rest, 0.0, warm.bl_band, "T m"),
    ]
    lines = [
        (
            words,
            f"{found.value + shift:.4g}",
            f"{found.uncertainty:.2g}" if math.isfinite(found.uncertainty) else "",
            f"{band:.2g}",
            unit,
        )
        for words, found, shift, band, unit in rows
    ]
    limits = [
        (
            limit.name.replace("_", " "),
            f"{limit.limit - ZERO:.0f}",
            f"{limit.temperature - ZERO:.0f}",
            f"{limit.power:.3g}" if math.isfinite(limit.power) else "coil chars first",
            limit.source,
        )
        for limit in warm.limits
    ]
    return HeatSection(
        words=f"Where temperatures settle under {power:g} W of lasting programme (in the coil at "
        f"20 degC) in air at {warm.model.ambient - ZERO:.4g} degC. The second ± is what materials, "
        f"convection and moving air leave open. {CAUTION}",
        cautions=tuple(warm.cautions),
        figures=Grid(
            ("quantity", "value", "± numerical", "± material, air", "unit"),
            lines,
            ("value", "± numerical", "± material, air"),
        ),
        limits=Grid(
            ("what", "limit degC", "here degC", "power in W", "source"),
            limits,
            ("limit degC", "here degC", "power in W"),
        ),
    )
