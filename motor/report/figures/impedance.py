"""The page of a blocked coil's impedance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.media import plot_text
from motor.report.figures.driver import frequency_axis
from motor.report.style import sheet, style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.results.impedance import BlockedImpedance

__all__ = ["plot_impedance"]


def plot_impedance(found: BlockedImpedance) -> Figure:
    """Draw inductance over position, and inductance and eddy resistance over frequency."""
    look = style()
    figure, axes = sheet(1, 3, width=4.5, height=3.9)
    over_x, over_f, loss = axes.flat
    x = found.position * 1e3
    shades = look.shades(len(found.frequency))
    for i, (f, shade) in enumerate(zip(found.frequency, shades, strict=True)):
        value, spread = found.inductance[i] * 1e3, found.inductance_uncertainty[i] * 1e3
        over_x.plot(x, value, color=shade, lw=2, marker=look.marker(i), ms=3.5, label=f"{f:g} Hz")
        over_x.fill_between(x, value - spread, value + spread, color=shade, alpha=0.25, lw=0)
    over_x.set(xlabel="displacement in mm, outwards positive", ylabel="inductance L(x) in mH")
    over_x.axvline(0, color=look.quiet, lw=0.8)
    over_x.set_xlim(x[0], x[-1]) if len(x) > 1 else None
    over_x.set_ylim(bottom=0)
    over_x.legend(fontsize=8, frameon=False)
    shown = sorted({0, found.rest, len(x) - 1})
    for line, k in enumerate(shown):
        label = (
            "at rest" if abs(x[k]) < 1e-9 else f"at {x[k]:+.1f} mm".replace("-", "\N{MINUS SIGN}")
        )
        how = {**look.line(line), "lw": 2, "marker": look.marker(line), "ms": 4, "label": label}
        for ax, values, spread, scale in (
            (over_f, found.inductance, found.inductance_uncertainty, 1e3),
            (loss, found.eddy_resistance, found.eddy_resistance_uncertainty, 1.0),
        ):
            value, band = values[:, k] * scale, spread[:, k] * scale
            ax.plot(found.frequency, value, **how)
            ax.fill_between(
                found.frequency, value - band, value + band, color=how["color"], alpha=0.25, lw=0
            )
    over_f.set(xlabel="frequency in Hz", ylabel="inductance in mH")
    over_f.set_ylim(bottom=0)
    loss.set(xlabel="frequency in Hz", ylabel="eddy-current resistance in ohm")
    for ax in (over_f, loss):
        if found.frequency[0] > 0:
            frequency_axis(ax, float(found.frequency[0]), float(found.frequency[-1]))
        ax.legend(fontsize=8, frameon=False)
    for ax in axes.flat:
        ax.grid(alpha=0.3)
    figure.suptitle(f"{plot_text(found.design.name)}: blocked coil")
    return figure
