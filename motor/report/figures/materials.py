"""Curves of materials: B(H) of a steel, the second quadrant of a magnet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from motor.base.constants import ZERO_CELSIUS
from motor.base.media import plot_text
from motor.materials import Magnet, Steel, TabulatedSteel
from motor.report.style import axes_of, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_magnet", "plot_steel"]

TEMPERATURES = (233.15, 293.15, 378.15)
"""Kelvin: -40, 20 and 105 degC."""


def plot_steel(steel: Steel, *, ax: Axes | None = None) -> Axes:
    """Draw a steel's curve and the rows of its table, B over H on a logarithmic scale."""
    look, ax = style(), axes_of(ax, (7.0, 4.4))
    b = np.linspace(0.002, 2.6, 1500)
    h, _ = steel.curve().field_and_slope(b)
    ax.semilogx(h, b, color=look.ink, lw=1.8, label="curve used")
    if isinstance(steel, TabulatedSteel):
        ax.semilogx(steel.field, steel.flux_density, "o", color=look.second, ms=3.5, label="table")
    ax.set(
        xlabel="field strength H in A/m",
        ylabel="flux density B in T",
        title=plot_text(steel.name),
        xlim=(max(h[0], 1.0), h[-1]),
        ylim=(0, 2.6),
    )
    ax.grid(alpha=0.3, which="both")
    ax.legend(frameon=False)
    return ax


def plot_magnet(
    magnet: Magnet, temperatures: Sequence[float] = TEMPERATURES, *, ax: Axes | None = None
) -> Axes:
    """Draw the second quadrant of a grade, J and B over H, at temperatures in kelvin."""
    look, ax = style(), axes_of(ax, (7.0, 4.8))
    for k, temperature in enumerate(temperatures):
        shade = look.line(k)["color"]
        curve = magnet.curve_at(temperature)
        if curve is None:
            continue
        h = np.linspace(-curve.intrinsic_coercivity, 0.0, 600)
        label = f"{temperature - ZERO_CELSIUS:.0f} degC"
        ax.plot(h / 1e3, curve.polarisation(h), color=shade, lw=1.8, label=f"J, {label}")
        b = curve.flux_density(h)
        ax.plot(h[b >= 0] / 1e3, b[b >= 0], color=shade, lw=1.2, ls="--", label=f"B, {label}")
        at_knee = curve.polarisation(np.array(curve.knee))
        ax.plot(curve.knee / 1e3, at_knee, look.marker(k), color=shade, ms=5)
    ax.set(
        xlabel="field strength H in kA/m",
        ylabel="J, B in T",
        title=f"{plot_text(magnet.name)} ({magnet.family}); marks: knee",
        ylim=(0, None),
    )
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8)
    return ax
