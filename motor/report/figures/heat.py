"""Temperatures over the half section, and over time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.tri import Triangulation

from geometries import polygon
from motor.base.constants import ZERO_CELSIUS
from motor.base.media import plot_text
from motor.report.style import axes_of, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from motor.results.heat import Warmth
    from motor.results.heat_time import HeatHistory

__all__ = ["plot_history", "plot_section"]


def plot_section(warmth: Warmth, *, ax: Axes | None = None) -> Axes:
    """Draw temperatures over the half section: the coil's as text, the parts' as colours.

    The winding is so much warmer that one scale for both would show nothing of the parts.
    """
    look, ax = style(), axes_of(ax, _size(warmth))
    mesh, model = warmth.model.mesh, warmth.model
    rise = model.reduced.basis @ warmth.settled.state
    values = model.ambient - ZERO_CELSIUS + rise[mesh.basis.nodal_dofs[0]]
    parts = [k for k, name in enumerate(mesh.names) if not name.startswith("coil-")]
    here = np.isin(mesh.label, parts)
    r, z = mesh.mesh.p * 1e3
    grid = Triangulation(r, z, mesh.mesh.t.T[here])
    used = np.unique(mesh.mesh.t[:, here])
    low, high = float(values[used].min()), float(values[used].max())
    high = max(high, low + 0.1)
    colours = ax.tripcolor(
        grid,
        values,
        shading="gouraud",
        cmap=look.map(look.field_map),
        vmin=low,
        vmax=high,
        rasterized=True,
    )
    for region in warmth.design.regions:
        outline = np.array([*region.outline, region.outline[0]]) * 1e3
        ax.plot(*outline.T, color="black", lw=1.1)
        inside = polygon(region).representative_point()
        middle = (inside.x * 1e3, inside.y * 1e3)
        kelvin = warmth.mean(region.name).value
        ax.annotate(
            f"{kelvin - ZERO_CELSIUS:.0f} degC",
            middle,
            ha="center",
            va="center",
            fontsize=8,
            bbox={"boxstyle": "round", "facecolor": "white", "edgecolor": "none", "alpha": 0.8},
        )
    for _, shape in warmth.design.coil.outlines(drawn=True):
        ax.fill(*(np.array(shape) * 1e3).T, facecolor=look.conductor, edgecolor="black", lw=0.5)
    top = max(p[1] for _, shape in warmth.design.coil.outlines(drawn=True) for p in shape) * 1e3
    ax.annotate(
        f"coil {warmth.coil.value - ZERO_CELSIUS:.0f} degC,\nhottest turn "
        f"{warmth.hottest('coil-winding').value - ZERO_CELSIUS:.0f} degC",
        (warmth.design.coil.mean_radius * 1e3, top),
        xytext=(0.5, 0.985),
        textcoords="axes fraction",
        ha="center",
        va="top",
        fontsize=9,
        arrowprops={"arrowstyle": "-", "color": look.ink},
    )
    ax.set(
        aspect="equal",
        xlabel="r in mm",
        ylabel="z above the middle of the gap in mm",
        title=f"{plot_text(warmth.design.name)}\n{warmth.power:g} W lasting, air at "
        f"{model.ambient - ZERO_CELSIUS:.0f} degC",
    )
    ax.margins(x=0.05, y=0.18)
    ax.set_xlim(left=0)
    bar = ax.figure.colorbar(colours, ax=ax, shrink=0.8, fraction=0.08)
    bar.set_label("temperature of the parts in degC")
    return ax


def _size(warmth: Warmth) -> tuple[float, float]:
    """Return width and height in inches that leave a section, drawn to scale, no empty side."""
    points = np.vstack([region.outline for region in warmth.design.regions])
    wide, high = points[:, 0].max(), np.ptp(points[:, 1])
    return float(np.clip(2.6 + 3.4 * wide / high, 4.5, 9.0)), 6.0


def plot_history(history: HeatHistory, *, ax: Axes | None = None) -> Axes:
    """Draw the temperatures of coil and magnet over time."""
    look, ax = style(), axes_of(ax)
    long = history.time[-1] > 3 * 3600
    time = history.time / (3600 if long else 60)
    rows = (
        ("hottest turn", history.coil_hottest),
        ("coil, mean", history.coil),
        ("magnet", history.magnet),
    )
    for k, (name, values) in enumerate(rows):
        ax.plot(time, values - ZERO_CELSIUS, lw=1.6, label=name, **look.line(k))
    ax.set(
        xlabel=f"time in {'h' if long else 'min'}",
        ylabel="temperature in degC",
        xlim=time[[0, -1]],
        title=f"{plot_text(history.name)}\n{history.programme}".strip(),
    )
    ax.grid(alpha=0.3)
    beside = ax.twinx()
    beside.plot(time, history.level, lw=1.2, label="level (right)", **look.line(len(rows)))
    beside.set_ylabel("change of level from the coil's resistance in dB")
    low = min(float(history.level.min()), -0.1)
    beside.set_ylim(1.05 * low, 0.0)
    handles = [*ax.get_lines(), *beside.get_lines()]
    words = [str(handle.get_label()) for handle in handles]
    place = (0.5, -0.13)
    ax.legend(
        handles,
        words,
        frameon=False,
        fontsize=8,
        loc="upper center",
        bbox_to_anchor=place,
        ncols=4,
    )
    return ax
