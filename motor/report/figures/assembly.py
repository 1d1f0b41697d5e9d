"""Force over distance while parts of a motor are brought together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.media import plot_text
from motor.report.style import sheet, style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.results.assembly import Assembly

__all__ = ["plot_assembly"]

POINTS = 200
SHOWN = 0.01
"""Share of the largest pull below which the far end is not drawn."""


def plot_assembly(found: Assembly) -> Figure:
    """Draw the pull over the distance from the seat, with the holding force if one is given."""
    look = style()
    figure, axes = sheet(1, 1, width=7.0, height=4.2)
    ax = axes[0, 0]
    loud = np.flatnonzero(np.abs(found.pull) > SHOWN * abs(found.peak[0].value))
    last = min(int(loud[-1]) + 1, len(found.distance) - 1)
    x = np.linspace(0.0, float(found.distance[last]), POINTS)
    samples = slice(0, last + 1)
    place, pull, spread = (
        values[samples] for values in (found.distance, found.pull, found.uncertainty)
    )
    ax.plot(x * 1e3, found.force(x), **look.line(0), lw=2)
    ax.plot(place * 1e3, pull, color=look.ink, marker=look.marker(0), ms=3.5, ls="")
    ax.fill_between(place * 1e3, pull - spread, pull + spread, color=look.ink, alpha=0.25, lw=0)
    if found.holding is not None:
        ax.axhline(found.holding, color=look.second, lw=1.2, ls="--", label="holding force")
        if found.passed is not None:
            ax.axvline(found.passed.value * 1e3, color=look.quiet, lw=1)
        ax.legend(fontsize=8, frameon=False)
    ax.axhline(0, color=look.quiet, lw=0.8)
    ax.set(xlabel="distance from the seat in mm", ylabel="pull in N, together positive")
    ax.set_xlim(0, float(place[-1]) * 1e3)
    moving = " and ".join(name.replace("_", " ") for name in found.moving)
    ax.set_title(plot_text(f"{found.name}: {moving} from {found.side}"), fontsize=10)
    ax.grid(alpha=0.3)
    return figure
