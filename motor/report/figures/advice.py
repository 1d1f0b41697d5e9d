"""What each dimension does to each figure, as bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.media import plot_text
from motor.report.labels import named
from motor.report.style import sheet, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from motor.study.advice import Advice

__all__ = ["plot_advice"]

FIGURES = (
    "bl_at_rest_Tm",
    "stroke_82_mm",
    "motor_constant_N2_per_W",
    "bl_asymmetry_at_82_percent",
    "mean_gap_flux_density_T",
    "peak_steel_flux_density_T",
    "motor_mass_g",
    "total_cost",
)
STEP = 0.1
"""Millimetres that the bars stand for."""
BARS = 8


def plot_advice(found: Advice) -> Figure:
    """Draw for each figure what 0.1 mm more of a dimension does, in per cent, strongest first."""
    figure, axes = sheet(4, 2, width=5.2, height=2.9)
    for ax, key in zip(axes.flat, FIGURES, strict=True):
        _bars(ax, found, key)
    figure.suptitle(plot_text(f"{found.name}: what 0.1 mm more does"))
    return figure


def _bars(ax: Axes, found: Advice, key: str) -> None:
    look, absolute = style(), "asymmetry" in key
    scale = 1.0 if absolute else found.now.get(key) or np.nan
    rows = [r for r in found.slopes.rows if r.figure == key and r.unit.endswith("/mm")]
    rows = [r for r in rows if r.parameter.startswith(("geometry.", "coil."))]
    rows = [r for r in rows if not r.parameter.startswith("coil.wire.")]
    rows = sorted((r for r in rows if r.derivative), key=lambda r: -abs(r.derivative))[:BARS]
    names = [
        " + ".join(part.rpartition(".")[2].replace("_", " ") for part in r.parameter.split(" + "))
        for r in rows
    ]
    share = 100 * STEP / scale
    place = np.arange(len(rows))[::-1]
    ax.barh(
        place,
        [share * r.derivative for r in rows],
        xerr=[abs(share) * np.nan_to_num(r.uncertainty) for r in rows],
        color=look.ink,
        ecolor=look.second,
    )
    ax.set_yticks(place, [plot_text(name) for name in names], fontsize=7)
    ax.axvline(0, color=look.second, lw=0.8)
    ax.grid(alpha=0.3, axis="x")
    ax.set_title(plot_text(named(key)[0]), fontsize=9)
    ax.set_xlabel("change in %" if not absolute else "change in percentage points", fontsize=8)
