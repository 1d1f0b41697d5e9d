"""The field over the half section, and where the flux goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from contourpy import contour_generator
from matplotlib.patheffects import withStroke

from geometries import Role
from motor.base.media import plot_text
from motor.report.style import axes_of, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from geometries import Region
    from motor.base.arrays import Floats
    from motor.field.field import Field
    from motor.results.budget import FluxBudget
    from motor.results.motor_result import MotorResult

__all__ = [
    "field_size",
    "flux_lines",
    "plot_budget",
    "plot_field",
    "plot_motor",
    "section_window",
]

FLUX_LINES = 28
PIXELS = 420
STRONGEST = 2.2
"""Upper end of the colour scale in tesla: the saturation of mild steel."""
Outline = Sequence[tuple[float, float]]


def plot_motor(result: MotorResult, *, ax: Axes | None = None) -> Axes:
    """Draw |B| and flux lines over the half section, with parts and coil outlined."""
    coil = [shape for _, shape in result.design.coil.outlines(drawn=True)]
    return plot_field(result.field, ax=ax, coil=coil, name=result.design.name)


def plot_field(
    field: Field, *, ax: Axes | None = None, coil: Sequence[Outline] = (), name: str = ""
) -> Axes:
    """Draw |B| and flux lines over the parts.

    Parameters
    ----------
    field : Field
    ax : Axes or None
    coil : sequence of outlines
        Winding and former, metres, to be filled.
    name : str
        Of the design, for the title.
    """
    look, ax = style(), axes_of(ax, (8.0, 6.0))
    widest, lowest, highest = section_window(field, coil)
    r, z = np.linspace(0.0, widest, PIXELS), np.linspace(lowest, highest, PIXELS)
    points = np.meshgrid(r, z)
    level = field.fine
    magnitude = np.hypot(*np.moveaxis(level.flux_density(*points), -1, 0))
    psi = level.flux_function(*points)
    extent = (r[0] * 1e3, r[-1] * 1e3, z[0] * 1e3, z[-1] * 1e3)
    colours = ax.imshow(
        magnitude,
        origin="lower",
        extent=extent,
        cmap=look.map(look.field_map),
        vmin=0,
        vmax=STRONGEST,
        interpolation="bilinear",
    )
    lines = ax.contour(
        r * 1e3,
        z * 1e3,
        psi,
        levels=flux_levels(psi),
        colors=look.flux,
        linewidths=0.7,
        linestyles="solid",
    )
    lines.set_path_effects([withStroke(linewidth=1.7, foreground=look.halo, alpha=0.55)])
    for region in field.regions:
        outline = np.array([*region.outline, region.outline[0]]) * 1e3
        if region.role is Role.CONDUCTOR:
            ax.fill(*outline.T, facecolor=look.ring, edgecolor="black", lw=0.8)
        else:
            ax.plot(*outline.T, color="black", lw=1.1)
        if region.role is Role.MAGNET:
            _mark_magnet(ax, region, outline)
    for shape in coil:
        ax.fill(*(np.array(shape) * 1e3).T, facecolor=look.conductor, edgecolor="black", lw=0.5)
    ax.set(
        aspect="equal",
        xlim=extent[:2],
        ylim=extent[2:],
        xlabel="r in mm",
        ylabel="z above the middle of the gap in mm",
        title=f"{plot_text(name)}\nflux density and flux lines".strip(),
    )
    bar = ax.figure.colorbar(colours, ax=ax, extend="max", shrink=0.8, fraction=0.08)
    bar.set_label("flux density |B| in T")
    return ax


def field_size(field: Field, coil: Sequence[Outline] = ()) -> tuple[float, float]:
    """Return the size in inches at which the section fills its figure."""
    widest, lowest, highest = section_window(field, coil)
    height = 6.0
    return min(max(0.82 * height * widest / (highest - lowest) + 2.0, 5.0), 11.0), height


def section_window(field: Field, coil: Sequence[Outline]) -> tuple[float, float, float]:
    """Return the greatest radius and the least and greatest height to show, metres."""
    parts = np.array([p for region in field.regions for p in region.outline])
    every = np.vstack([parts, *(np.array(shape) for shape in coil)])
    pad = 0.12 * max(np.ptp(parts[:, 0]), np.ptp(parts[:, 1]))
    return every[:, 0].max() + pad, every[:, 1].min() - pad, every[:, 1].max() + pad


def flux_levels(psi: Floats, count: int = FLUX_LINES) -> Floats:
    """Return values of the flux function with the same flux between any two neighbours."""
    return np.linspace(psi.min(), psi.max(), count + 2)[1:-1]


def flux_lines(r: Floats, z: Floats, psi: Floats, count: int = FLUX_LINES) -> list[Floats]:
    """Return flux lines over a grid as polylines (n, 2), in the unit of r and z."""
    generator = contour_generator(r, z, psi)
    return [
        line[::2] for value in flux_levels(psi, count) for line in generator.lines(float(value))
    ]


def _mark_magnet(ax: Axes, region: Region, outline: Floats) -> None:
    """Hatch a magnet lightly and show which way it is magnetised; the outline in mm."""
    look = style()
    ax.fill(*outline.T, facecolor="none", edgecolor=look.quiet, hatch="...", lw=0, alpha=0.6)
    if region.magnetisation is None:
        return
    low, high = outline.min(axis=0), outline.max(axis=0)
    along = np.array(region.magnetisation)
    half = 0.3 * float(np.abs(along) @ (high - low)) * along
    middle = (low + high) / 2
    arrow = ax.annotate(
        "",
        middle + half,
        middle - half,
        arrowprops={"arrowstyle": "-|>,head_width=0.4,head_length=0.7", "color": "black", "lw": 2},
    )
    assert arrow.arrow_patch is not None
    arrow.arrow_patch.set_path_effects([withStroke(linewidth=4, foreground="white")])


def plot_budget(budget: FluxBudget, *, ax: Axes | None = None) -> Axes:
    """Draw the flux through the magnet, through the gap, and what does not cross it."""
    look, ax = style(), axes_of(ax, (6.0, 3.0))
    names = ("through the magnet", "through the gap", "past the gap")
    values = np.array([budget.magnet.value, budget.gap.value, budget.rest.value]) * 1e3
    bars = ax.barh(range(3), values, 0.6, color=[look.magnet, look.ink, look.quiet])
    ax.bar_label(bars, fmt="%.3f", fontsize=8, padding=3)
    ax.set_yticks(range(3), names)
    ax.invert_yaxis()
    ax.margins(x=0.15)
    ax.set_axisbelow(True)
    ax.grid(alpha=0.3, axis="x")
    ax.set(xlabel="flux in mWb", title=f"leakage factor {budget.leakage_factor.value:.3g}")
    return ax
