"""The page of Bl and reluctance force over position and current."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.media import plot_text
from motor.report.style import sheet, style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.results.coil_map import CoilMap

__all__ = ["plot_coil_map"]


def plot_coil_map(found: CoilMap) -> Figure:
    """Draw Bl(x, i), its change by the current, and the force that keeps its direction."""
    look = style()
    figure, axes = sheet(1, 3, width=4.5, height=3.9)
    over_x, over_i, pull = axes.flat
    x, amperes = found.position * 1e3, found.signed_current
    bl, spread = found.force_factor
    middle, last = len(found.current), len(amperes) - 1
    for line, k in enumerate((middle, last, 0)):
        how = {**look.line(line), "lw": 2, "marker": look.marker(line), "ms": 3.5}
        label = (
            f"{amperes[k]:+.3g} A".replace("-", "\N{MINUS SIGN}") if k != middle else "no current"
        )
        over_x.plot(x, bl[:, k], label=label, **how)
        over_x.fill_between(
            x,
            bl[:, k] - spread[:, k],
            bl[:, k] + spread[:, k],
            color=how["color"],
            alpha=0.25,
            lw=0,
        )
    over_x.set(xlabel="displacement in mm, outwards positive", ylabel="Bl(x, i) in T m")
    over_x.set_ylim(bottom=0)
    shown = sorted({0, int(np.abs(x).argmin()), len(x) - 1})
    for line, i in enumerate(shown):
        how = {**look.line(line), "lw": 2, "marker": look.marker(line), "ms": 4}
        label = f"at {x[i]:+.1f} mm".replace("-", "\N{MINUS SIGN}")
        over_i.plot(amperes, 100 * (bl[i] / found.bl[i] - 1), label=label, **how)
    over_i.set(xlabel="current in A", ylabel="change of Bl(x, i) by the current in %")
    over_i.axhline(0, color=look.quiet, lw=0.8)
    mean, band = found.steady_force
    pull.plot(x, mean, color=look.ink, lw=2, marker=look.marker(0), ms=3.5)
    pull.fill_between(x, mean - band, mean + band, color=look.ink, alpha=0.25, lw=0)
    pull.set(
        xlabel="displacement in mm, outwards positive",
        ylabel=f"steady force of a sine of {found.current[-1]:.3g} A peak in N",
    )
    pull.axhline(0, color=look.quiet, lw=0.8)
    for ax in (over_x, over_i):
        ax.legend(fontsize=8, frameon=False)
    for ax in (over_x, pull):
        ax.set_xlim(x[0], x[-1]) if len(x) > 1 else None
    for ax in axes.flat:
        ax.grid(alpha=0.3)
    figure.suptitle(f"{plot_text(found.design.name)}: Bl over position and current")
    return figure
