"""The page of a temperature sweep."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.constants import ZERO_CELSIUS
from motor.base.media import plot_text
from motor.report.style import sheet, style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.results.temperature_sweep import TemperatureSweep

__all__ = ["plot_sweep"]


def plot_sweep(sweep: TemperatureSweep) -> Figure:
    """Draw Bl, stroke, resistance and demagnetisation margin over temperature."""
    look = style()
    figure, axes = sheet(2, 2, width=4.75, height=3.3, sharex=True)
    rows = sweep.rows()
    t = np.array([row["temperature_degC"] for row in rows], float)
    column = {key: np.array([row[key] for row in rows], float) for key in rows[0]}
    bl, stroke, resistance, margin = axes.flat
    bl.plot(
        t,
        column["bl_at_rest_Tm"],
        color=look.ink,
        lw=2,
        marker="o",
        ms=3,
        label="at that temperature",
    )
    bl.plot(
        t,
        column["bl_back_at_20_degC_Tm"],
        color=look.second,
        lw=1.5,
        ls="--",
        marker="s",
        ms=3,
        label="back at 20 degC",
    )
    bl.set_ylabel("Bl at rest in T m")
    stroke.plot(t, column["stroke_82_mm"], color=look.ink, lw=2, marker="o", ms=3)
    stroke.set_ylabel("82 % stroke in mm")
    resistance.plot(t, column["coil_resistance_ohm"], color=look.ink, lw=2, marker="o", ms=3)
    resistance.set_ylabel("coil resistance in ohm")
    margin.plot(t, column["demag_margin_kA_per_m"], color=look.ink, lw=2, marker="o", ms=3)
    spread = column["demag_margin_uncertainty_kA_per_m"]
    low, high = (column["demag_margin_kA_per_m"] + sign * spread for sign in (-1, 1))
    margin.fill_between(t, low, high, color=look.ink, alpha=0.25, lw=0)
    if sweep.worst:
        worst = column["worst_pair_margin_kA_per_m"]
        label = "most remanence with least coercivity"
        margin.plot(t, worst, color=look.second, lw=1.5, ls="--", marker="s", ms=3, label=label)
        margin.legend(fontsize=8, frameon=False)
    margin.axhline(0, color=look.second, lw=1.2)
    margin.set_ylabel("margin to the knee in kA/m")
    for ax, low in ((bl, 0.0), (resistance, 0.0), (stroke, 0.0)):
        ax.set_ylim(low, 1.25 * max(float(line.get_ydata().max()) for line in ax.get_lines()))
    safe = sweep.safe_range
    for ax in axes.flat:
        ax.grid(alpha=0.3)
        if safe is not None:
            ax.axvspan(
                safe[0] - ZERO_CELSIUS,
                safe[1] - ZERO_CELSIUS,
                color=look.safe,
                alpha=0.6,
                lw=0,
                label="short of the knee",
            )
    for ax in (resistance, margin):
        ax.set_xlabel("temperature of magnet and coil in degC")
    bl.legend(fontsize=8, frameon=False, loc="lower left")
    figure.suptitle(plot_text(sweep.design.name))
    return figure
