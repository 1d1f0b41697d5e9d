"""What dimensions do to Bl(x) and to the flux density along the gap, as curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.media import plot_text
from motor.report.style import sheet, style
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
    """Draw how Bl(x) and B_r(z) change as each of the dimensions grows that matter most."""
    figure, axes = sheet(1, 2, width=5.2, height=4.2)
    lengths = {row.parameter for row in found.rows if row.unit.endswith("/mm")}
    panels = (
        (found.x, found.bl, "displacement in mm, outwards positive", "change of Bl(x) in T m"),
        (found.z, found.gap, "height above the gap's middle in mm", "change of B in T"),
    )
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
