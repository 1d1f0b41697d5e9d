"""The page's section on heat, for a design whose section [heat] gives a power."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from motor.base.constants import ZERO_CELSIUS
from motor.report.figures.heat import plot_history, plot_section
from motor.report.page.assembling import Grid
from motor.report.page.pictures import picture
from motor.report.style import sheet
from motor.report.tables.heat import CAUTION, magnet_words
from motor.results.heat import Warmth, heat
from motor.results.heat_time import programme_of

if TYPE_CHECKING:
    from markupsafe import Markup

    from motor.results.motor_result import MotorResult

__all__ = ["HeatSection", "heat_section"]

DURATION = 8 * 3600.0
"""s shown where the design gives no duration."""


@dataclass(frozen=True)
class HeatSection:
    """Words, cautions, pictures, and two tables: figures, and what bears how much, who says so."""

    words: str
    cautions: tuple[str, ...]
    pictures: tuple[Markup, ...]
    figures: Grid
    limits: Grid
    sources: str


def heat_section(result: MotorResult) -> HeatSection | None:
    """Return where the programme of a design settles; None if the design gives no power."""
    power = result.design.heat.power
    if power is None:
        return None
    warm = heat(result, power)
    largest, why = warm.largest_power
    rows = [
        ("coil, mean of the winding", warm.coil, -ZERO_CELSIUS, warm.band("coil"), "degC"),
        (
            "hottest turn",
            warm.hottest("coil-winding"),
            -ZERO_CELSIUS,
            warm.band("coil_hottest"),
            "degC",
        ),
        *(
            (magnet_words(warm, name), warm.mean(name), -ZERO_CELSIUS, warm.band(name), "degC")
            for name in warm.magnets
        ),
        (f"largest lasting power ({why})", largest, 0.0, warm.largest_power_band, "W"),
        ("Bl at rest, magnets warm", warm.bl_at_rest, 0.0, warm.bl_band, "T m"),
    ]
    if warm.settled.losses:
        words = "heat of eddy currents in steel, magnets and rings"
        rows.append((words, warm.losses, 0.0, warm.band("losses"), "W"))
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
            f"{limit.limit - ZERO_CELSIUS:.0f}",
            f"{limit.temperature - ZERO_CELSIUS:.0f}",
            f"{limit.power:.3g}" if math.isfinite(limit.power) else "coil chars first",
        )
        for limit in warm.limits
    ]
    sources: dict[str, list[str]] = {}
    for limit in warm.limits:
        sources.setdefault(limit.source, []).append(limit.name.replace("_", " "))
    return HeatSection(
        words=f"Where temperatures settle under {power:g} W of lasting programme (in the coil at "
        f"20 degC) in air at {warm.model.ambient - ZERO_CELSIUS:.4g} degC. The second ± is "
        "what materials, "
        f"convection and moving air leave open. {CAUTION}",
        cautions=tuple(warm.cautions),
        pictures=_pictures(warm),
        figures=Grid(
            ("quantity", "value", "± numerical", "± material, air", "unit"),
            lines,
            ("value", "± numerical", "± material, air"),
        ),
        limits=Grid(
            ("what", "limit degC", "here degC", "power in W"),
            limits,
            ("limit degC", "here degC", "power in W"),
        ),
        sources="; ".join(f"{' and '.join(names)}: {source}" for source, names in sources.items()),
    )


def _pictures(warm: Warmth) -> tuple[Markup, ...]:
    """Draw where temperatures settle, and the way there."""
    rules = warm.design.heat
    over_time = warm.history(programme_of(rules), rules.duration or DURATION)
    sheets = [sheet(1, 1, width=6.0, height=4.6) for _ in range(2)]
    plot_section(warm, ax=sheets[0][1][0, 0])
    plot_history(over_time, ax=sheets[1][1][0, 0])
    return tuple(picture(figure) for figure, _ in sheets)
