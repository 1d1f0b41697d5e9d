"""Figures: field over the section, gap profile, Bl(x).  Each draws into an Axes and returns it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from geometries import Role
from geometries.drawing import COIL_COLOUR
from motor.materials import Magnet, Steel, TabulatedSteel

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from motor.curves.bl import BlCurve
    from motor.curves.demagnetisation import TemperatureSweep
    from motor.curves.gap import GapProfile
    from motor.result import MotorResult

__all__ = [
    "figures",
    "plot_bl",
    "plot_field",
    "plot_gap",
    "plot_magnet",
    "plot_steel",
    "plot_sweep",
]

INK = "#1b3a57"
SECOND = "#c2571a"
QUIET = "#8a8a8a"
FLUX_LINES = 28
PIXELS = 420
STRONGEST = 2.2
"""Upper end of the colour scale in tesla: the saturation of mild steel."""


def _axes(ax: Axes | None, size: tuple[float, float]) -> Axes:
    if ax is not None:
        return ax
    import matplotlib.pyplot as plt

    return plt.subplots(figsize=size, layout="constrained")[1]


def plot_bl(
    curve: BlCurve, *, ax: Axes | None = None, inward_stop: float | None = None, label: str = ""
) -> Axes:
    """Draw Bl over displacement with its 82 % and 70 % strokes.

    Parameters
    ----------
    curve : BlCurve
    ax : Axes or None
        Where to draw; None for a new figure.
    inward_stop : float or None
        Free travel inwards in metres, to be shaded beyond.
    label : str
        Legend entry of the curve.
    """
    ax = _axes(ax, (7.5, 4.6))
    x = curve.x * 1e3
    ax.plot(x, curve.bl, color=INK, lw=2, label=label or "Bl(x)")
    ax.plot(-x, curve.bl, color=QUIET, lw=1, ls=":", label="mirrored about rest", zorder=1)
    ax.fill_between(
        x,
        curve.bl - curve.uncertainty,
        curve.bl + curve.uncertainty,
        color=INK,
        alpha=0.25,
        lw=0,
        label="numerical uncertainty",
    )
    rest = curve.at_rest
    for share, style in ((0.82, "--"), (0.70, "-.")):
        stroke = curve.stroke(share)
        level = share * rest.value
        left, right = -stroke.inward.value * 1e3, stroke.outward.value * 1e3
        shown = np.clip([left, right], x[0], x[-1])
        ax.plot(
            np.repeat(shown, 2),
            [0, level, level, 0],
            color=SECOND,
            lw=1,
            ls=style,
            label=f"{share:.0%} of rest: {_side(left)} / {_side(right)} mm",
        )
    if inward_stop is not None and -inward_stop * 1e3 > x[0]:
        ax.axvspan(
            x[0],
            -inward_stop * 1e3,
            color=QUIET,
            alpha=0.25,
            lw=0,
            label=f"past the mechanical limit, {-inward_stop * 1e3:.2f} mm",
        )
    ax.plot([0], [rest.value], "o", color=INK, ms=5)
    ax.set(
        xlabel="coil displacement x in mm (positive outwards)",
        ylabel="Bl in T m",
        xlim=(x[0], x[-1]),
        ylim=(min(0.0, 1.05 * curve.bl.min()), 1.4 * curve.peak.value),
        title=f"Bl at rest {rest.value:.3f} T m",
    )
    ax.grid(alpha=0.3)
    ax.legend(fontsize=8, ncols=2, loc="upper center", frameon=False)
    return ax


def _side(x: float) -> str:
    return f"{x:+.2f}" if np.isfinite(x) else "not reached"


def plot_gap(
    profile: GapProfile, *, ax: Axes | None = None, winding: tuple[float, float] | None = None
) -> Axes:
    """Draw B_r along the gap.

    Parameters
    ----------
    profile : GapProfile
    ax : Axes or None
    winding : (bottom, top) or None
        Heights of the winding's ends at rest in metres, to be marked.
    """
    ax = _axes(ax, (7.5, 4.2))
    z = profile.z * 1e3
    gap = profile.gap
    ax.axvspan(
        gap.bottom * 1e3,
        gap.top * 1e3,
        color="#d9d2bd",
        alpha=0.6,
        lw=0,
        label=f"gap depth {gap.depth * 1e3:.3g} mm",
    )
    ax.plot(
        z,
        profile.at_coil,
        color=INK,
        lw=2,
        label=f"at the winding's mean radius, {profile.coil_radius * 1e3:.2f} mm",
    )
    ax.fill_between(
        z,
        profile.at_coil - profile.uncertainty,
        profile.at_coil + profile.uncertainty,
        color=INK,
        alpha=0.25,
        lw=0,
    )
    ax.plot(
        z,
        profile.at_middle,
        color=SECOND,
        lw=1.2,
        ls="--",
        label=f"in the middle of the gap, {profile.middle_radius * 1e3:.2f} mm",
    )
    top = max(profile.at_coil.max(), profile.at_middle.max())
    low = min(0.0, float(profile.at_coil.min()))
    if winding is not None:
        ax.plot(
            [winding[0] * 1e3, winding[1] * 1e3],
            [low - 0.06 * top] * 2,
            color=COIL_COLOUR,
            lw=5,
            solid_capstyle="butt",
            label=f"winding at rest, {(winding[1] - winding[0]) * 1e3:.3g} mm",
        )
    ax.axhline(0, color=QUIET, lw=0.8)
    ax.set(
        xlabel="height z above the middle of the gap in mm",
        ylabel="radial flux density in T",
        xlim=(z[0], z[-1]),
        ylim=(low - 0.12 * top, 1.4 * top),
        title=f"mean over the gap depth {profile.mean.value:.3f} T, peak {profile.peak:.3f} T",
    )
    ax.grid(alpha=0.3)
    ax.legend(fontsize=8, ncols=2, loc="upper center", frameon=False)
    return ax


def plot_field(result: MotorResult, *, ax: Axes | None = None) -> Axes:
    """Draw |B| and flux lines over the half section, with parts and coil outlined."""
    ax = _axes(ax, (8.0, 6.0))
    parts = np.array([p for region in result.design.regions for p in region.outline])
    coil = np.array([p for _, outline in result.design.coil.outlines(drawn=True) for p in outline])
    every = np.vstack([parts, coil])
    pad = 0.12 * max(np.ptp(parts[:, 0]), np.ptp(parts[:, 1]))
    r = np.linspace(0.0, parts[:, 0].max() + pad, PIXELS)
    z = np.linspace(every[:, 1].min() - pad, every[:, 1].max() + pad, PIXELS)
    points = np.meshgrid(r, z)
    level = result.field.fine
    size = np.hypot(*np.moveaxis(level.flux_density(*points), -1, 0))
    psi = level.flux_function(*points)
    extent = (r[0] * 1e3, r[-1] * 1e3, z[0] * 1e3, z[-1] * 1e3)
    colours = ax.imshow(
        size,
        origin="lower",
        extent=extent,
        cmap="YlGnBu",
        vmin=0,
        vmax=STRONGEST,
        interpolation="bilinear",
    )
    levels = np.linspace(psi.min(), psi.max(), FLUX_LINES + 2)[1:-1]
    ax.contour(
        r * 1e3, z * 1e3, psi, levels=levels, colors="#7a2d12", linewidths=0.7, linestyles="solid"
    )
    for region in result.design.regions:
        outline = np.array([*region.outline, region.outline[0]]) * 1e3
        style = "--" if region.role is Role.CONDUCTOR else "-"
        ax.plot(*outline.T, color="black", lw=1.1, ls=style)
    for _, shape in result.design.coil.outlines(drawn=True):
        ax.fill(*(np.array(shape) * 1e3).T, facecolor=COIL_COLOUR, edgecolor="black", lw=0.5)
    ax.set(
        aspect="equal",
        xlim=extent[:2],
        ylim=extent[2:],
        xlabel="r in mm",
        ylabel="z above the middle of the gap in mm",
        title=f"{result.design.name}: flux density and flux lines",
    )
    bar = ax.figure.colorbar(colours, ax=ax, extend="max", shrink=0.85)
    bar.set_label("flux density |B| in T")
    return ax


def plot_sweep(sweep: TemperatureSweep) -> Figure:
    """Draw Bl, stroke, resistance and demagnetisation margin over temperature."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.5, 6.6), layout="constrained")
    axes = figure.subplots(2, 2, sharex=True)
    rows = sweep.rows()
    t = np.array([row["temperature_degC"] for row in rows], float)
    column = {key: np.array([row[key] for row in rows], float) for key in rows[0]}
    bl, stroke, resistance, margin = axes.flat
    bl.plot(t, column["bl_at_rest_Tm"], color=INK, lw=2, marker="o", ms=3, label="there")
    bl.plot(
        t,
        column["bl_back_at_20_degC_Tm"],
        color=SECOND,
        lw=1.5,
        ls="--",
        marker="s",
        ms=3,
        label="back at 20 degC",
    )
    bl.set_ylabel("Bl at rest in T m")
    stroke.plot(t, column["stroke_82_mm"], color=INK, lw=2, marker="o", ms=3)
    stroke.set_ylabel("82 % stroke in mm")
    resistance.plot(t, column["coil_resistance_ohm"], color=INK, lw=2, marker="o", ms=3)
    resistance.set_ylabel("coil resistance in ohm")
    margin.plot(t, column["demag_margin_kA_per_m"], color=INK, lw=2, marker="o", ms=3)
    margin.axhline(0, color=SECOND, lw=1.2)
    margin.set_ylabel("margin to the knee in kA/m")
    for ax, low in ((bl, 0.0), (resistance, 0.0), (stroke, 0.0)):
        ax.set_ylim(low, 1.25 * max(float(line.get_ydata().max()) for line in ax.get_lines()))
    safe = sweep.safe_range
    for ax in axes.flat:
        ax.grid(alpha=0.3)
        if safe is not None:
            ax.axvspan(
                safe[0] - 273.15,
                safe[1] - 273.15,
                color="#cfe3d4",
                alpha=0.6,
                lw=0,
                label="short of the knee",
            )
    for ax in (resistance, margin):
        ax.set_xlabel("temperature of magnet and coil in degC")
    bl.legend(fontsize=8, frameon=False, loc="lower left")
    figure.suptitle(sweep.design.name)
    return figure


def plot_steel(steel: Steel) -> Figure:
    """Draw a steel's curve and the rows of its table, B over H on a logarithmic scale."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.0, 4.4), layout="constrained")
    ax = figure.subplots()
    b = np.linspace(0.002, 2.6, 1500)
    h, _ = steel.curve().field_and_slope(b)
    ax.semilogx(h, b, color=INK, lw=1.8, label="curve used")
    if isinstance(steel, TabulatedSteel):
        ax.semilogx(steel.field, steel.flux_density, "o", color=SECOND, ms=3.5, label="table")
    ax.set(
        xlabel="field strength H in A/m",
        ylabel="flux density B in T",
        title=steel.name,
        xlim=(max(h[0], 1.0), h[-1]),
        ylim=(0, 2.6),
    )
    ax.grid(alpha=0.3, which="both")
    ax.legend(frameon=False)
    return figure


def plot_magnet(magnet: Magnet, temperatures: tuple[float, ...]) -> Figure:
    """Draw the second quadrant of a grade, J and B over H, at temperatures in kelvin."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.0, 4.8), layout="constrained")
    ax = figure.subplots()
    shades = ("#1b3a57", "#2f7f79", "#c2571a", "#8a8a8a")
    for shade, temperature in zip(shades, temperatures, strict=False):
        curve = magnet.curve_at(temperature)
        if curve is None:
            continue
        h = np.linspace(-curve.intrinsic_coercivity, 0.0, 600)
        label = f"{temperature - 273.15:.0f} degC"
        ax.plot(h / 1e3, curve.polarisation(h), color=shade, lw=1.8, label=f"J, {label}")
        b = curve.flux_density(h)
        ax.plot(h[b >= 0] / 1e3, b[b >= 0], color=shade, lw=1.2, ls="--", label=f"B, {label}")
        ax.plot(curve.knee / 1e3, curve.polarisation(np.array(curve.knee)), "o", color=shade, ms=5)
    ax.set(
        xlabel="field strength H in kA/m",
        ylabel="J, B in T",
        title=f"{magnet.name} ({magnet.family}); dots: knee",
        ylim=(0, None),
    )
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8)
    return figure


def figures(result: MotorResult) -> dict[str, Any]:
    """Return the standard figures by file stem, without touching pyplot's state."""
    from matplotlib.figure import Figure

    coil = result.design.coil
    ends = (
        coil.rest_position - coil.winding_height / 2,
        coil.rest_position + coil.winding_height / 2,
    )
    made: dict[str, Any] = {}
    for stem, size in (
        ("field", (8.0, 6.0)),
        ("gap_profile", (7.5, 4.2)),
        ("bl_curve", (7.5, 4.6)),
    ):
        made[stem] = Figure(figsize=size, layout="constrained")
    plot_field(result, ax=made["field"].subplots())
    plot_gap(result.gap_profile, ax=made["gap_profile"].subplots(), winding=ends)
    plot_bl(result.bl_curve, ax=made["bl_curve"].subplots(), inward_stop=result.travel.inward)
    return made
