"""What dimensions do to Bl(x) and to the flux density along the gap, as curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.media import plot_text
from motor.base.units import format_quantity
from motor.report.style import sheet, style
from motor.study.neighbours import RINGS
from motor.study.parameters import TOGETHER

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.figure import Figure

    from motor.base.arrays import Floats
    from motor.study.derivatives import Derivatives

__all__ = ["plot_derivatives"]

SHOWN, STEP = 5, 0.1
"""How many dimensions are drawn, and by how many millimetres each grows."""


def plot_derivatives(found: Derivatives) -> Figure:
    """Draw how Bl(x) and B_r(z) change as each of the dimensions grows that matter most.

    And L(x) and the resistance of eddy currents, at the lowest frequency asked for, if any.
    """
    lengths = {row.parameter for row in found.rows if row.unit.endswith("/mm")}
    out = "displacement in mm, outwards positive"
    bl, gap = (
        {name: slope for name, slope in slopes.items() if RINGS not in name}
        for slopes in (found.bl, found.gap)
    )
    panels: list[tuple[Floats, Mapping[str, Floats], str, str]] = [
        (found.x, bl, out, "change of Bl(x) in T m"),
        (found.z, gap, "height above the gap's middle in mm", "change of B in T"),
    ]
    held = found.inductance
    if held is not None:
        at = format_quantity(float(held.frequency[0]), "frequency")
        words = (f"change of L(x) at {at} in mH", f"change of R(x) at {at} in ohm")
        for what, slopes in zip(words, held.by_key().values(), strict=True):
            first = {name: slope[:, 0] for name, slope in slopes.items()}
            panels.append((held.position, first, out, what))
    figure, axes = sheet(len(panels) // 2, 2, width=5.2, height=4.2)
    look = style()
    for ax, (places, slopes, along, what) in zip(axes.flat, panels, strict=True):
        for line, name in enumerate(_strongest(slopes, lengths)):
            how = {**look.line(line), "lw": 2}
            slope, spread = STEP * slopes[name]
            ax.plot(1e3 * places, slope, label=_short(name), **how)
            ax.fill_between(
                1e3 * places, slope - spread, slope + spread, color=how["color"], alpha=0.2, lw=0
            )
        ax.axhline(0, color=look.quiet, lw=0.8)
        ax.set(xlabel=along, ylabel=f"{what} per {STEP:g} mm")
        ax.legend(
            fontsize=8, frameon=False, loc="upper center", bbox_to_anchor=(0.5, -0.17), ncols=2
        )
    return figure


def _strongest(slopes: Mapping[str, Floats], lengths: set[str]) -> list[str]:
    """Return the lengths that change a curve most, the one that does most first."""
    sizes = {name: float(np.abs(slopes[name][0]).max()) for name in slopes if name in lengths}
    moving = [name for name, size in sizes.items() if size > 0]
    return sorted(moving, key=lambda name: -sizes[name])[:SHOWN]


def _short(name: str) -> str:
    """Return a parameter's name without its section, with that of a wire or ring."""
    parts = [one.split(".")[1:] or [one] for one in name.split(TOGETHER)]
    return plot_text(", ".join(" ".join(part).replace("_", " ") for part in parts))
