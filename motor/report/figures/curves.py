"""Figures of a solved motor: Bl(x), gap profile.  Each draws into an Axes and returns it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.figure import Figure

from motor.base.media import plot_text
from motor.report.figures.field import field_size, plot_motor
from motor.report.style import axes_of, blank, style
from motor.results.usable_stroke import LIMIT_NAMES

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

    from motor.results.bl import BlCurve
    from motor.results.gap import GapProfile
    from motor.results.motor_result import MotorResult
    from motor.results.usable_stroke import UsableStroke

__all__ = ["figures", "plot_asymmetry", "plot_bl", "plot_gap", "plot_motor_bl"]

DISPLACEMENT = "coil displacement x in mm (positive outwards)"


def plot_bl(
    curve: BlCurve,
    *,
    ax: Axes | None = None,
    inward_stop: float | None = None,
    usable: UsableStroke | None = None,
    best_rest: float | None = None,
    name: str = "",
    label: str = "",
) -> Axes:
    """Draw Bl over displacement with its strokes.

    Parameters
    ----------
    curve : BlCurve
    ax : Axes or None
        Where to draw; None for a new figure.
    inward_stop : float or None
        Free travel inwards in metres, to be shaded beyond.
    usable : UsableStroke or None
        Usable linear stroke, to be shaded to both sides of rest, with what limits it.
    best_rest : float or None
        Displacement in metres from today's rest to the best rest position, shown by an arrow.
    name : str
        Of the design, for the title.
    label : str
        Legend entry of the curve.
    """
    look, ax = style(), axes_of(ax, (7.5, 5.4))
    x = curve.x * 1e3
    top = 1.42 * curve.peak.value
    if usable is not None and np.isfinite(usable.value):
        reach = usable.value * 1e3
        ax.axvspan(
            max(-reach, x[0]),
            min(reach, x[-1]),
            color=look.safe,
            lw=0,
            label=f"usable stroke ±{reach:.2f} mm, limited by {LIMIT_NAMES[usable.limited_by]}",
        )
    ax.plot(x, curve.bl, color=look.ink, lw=2, label=label or "Bl(x)")
    if np.isfinite(curve.uncertainty).all():
        ax.fill_between(
            x,
            curve.bl - curve.uncertainty,
            curve.bl + curve.uncertainty,
            color=look.ink,
            alpha=0.25,
            lw=0,
            label="numerical uncertainty",
        )
    rest = curve.at_rest
    for share, dashes in ((0.82, "--"), (0.70, "-.")):
        stroke = curve.stroke(share)
        level = share * rest.value
        left, right = -stroke.inward.value * 1e3, stroke.outward.value * 1e3
        ax.plot(
            np.clip([left, right], x[0], x[-1]),
            [level, level],
            color=look.second,
            lw=1,
            ls=dashes,
            label=f"{share:.0%} of rest: {_side(left)} / {_side(right)} mm",
        )
        ends = [end for end in (left, right) if np.isfinite(end)]
        ax.vlines(ends, 0, level, color=look.second, lw=1, ls=dashes)
    if inward_stop is not None and -inward_stop * 1e3 > x[0]:
        ax.axvspan(
            x[0],
            -inward_stop * 1e3,
            color=look.quiet,
            alpha=0.25,
            lw=0,
            label=f"past the mechanical limit, {-inward_stop * 1e3:.2f} mm",
        )
    ax.plot([0], [rest.value], "o", color=look.ink, ms=5)
    if best_rest is not None and np.isfinite(best_rest):
        _arrow_to(ax, best_rest * 1e3, 1.1 * curve.peak.value, x[-1] - x[0])
    ax.set(
        xlabel=DISPLACEMENT,
        ylabel="Bl in T m",
        xlim=(x[0], x[-1]),
        ylim=(min(0.0, 1.05 * curve.bl.min()), top),
        title=f"{name}: Bl at rest {rest.value:.3f} T m".removeprefix(": "),
    )
    ax.grid(alpha=0.3)
    ax.legend(fontsize=8, ncols=2, loc="upper center", frameon=False)
    return ax


def plot_asymmetry(curve: BlCurve, *, ax: Axes | None = None) -> Axes:
    """Draw (Bl(x) - Bl(-x)) / (Bl(x) + Bl(-x)) in per cent over displacement.

    Positive on the side on which the coil pulls harder; left out where Bl is below a tenth of its
    value at rest.
    """
    look, ax = style(), axes_of(ax, (7.5, 1.6))
    half, lean = curve.asymmetry()
    shown = curve(half) + curve(-half) > 0.2 * curve.at_rest.value
    lean = np.where(shown, 100 * lean, np.nan)
    x = np.concatenate([-half[::-1], [0.0], half])
    lean = np.concatenate([-lean[::-1], [0.0], lean])
    ax.fill_between(x * 1e3, 0, lean, color=look.second, alpha=0.3, lw=0)
    ax.plot(x * 1e3, lean, color=look.second, lw=1)
    ax.axhline(0, color=look.quiet, lw=0.8)
    largest = max(float(np.nanmax(np.abs(lean))), 0.5)
    ax.set(
        xlim=(curve.x[0] * 1e3, curve.x[-1] * 1e3),
        ylim=(-1.2 * largest, 1.2 * largest),
        ylabel="asymmetry\nin %",
        xlabel=DISPLACEMENT,
    )
    ax.grid(alpha=0.3)
    return ax


def plot_motor_bl(result: MotorResult, figure: FigureBase) -> None:
    """Fill a figure with Bl over displacement, every stroke, and below it how far it leans."""
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(4.5, 1))
    plot_bl(
        result.bl_curve,
        ax=above,
        inward_stop=result.travel.inward,
        usable=result.usable_stroke,
        best_rest=result.best_rest_position[0].value - result.design.coil.rest_position,
        name=plot_text(result.design.name),
    )
    plot_asymmetry(result.bl_curve, ax=below)
    above.set_xlabel("")


def _arrow_to(ax: Axes, where: float, height: float, width: float) -> None:
    """Point from rest to the best rest position, both in mm."""
    look = style()
    ax.plot([where, where], [0.98 * height, 1.02 * height], color=look.second, lw=1.5)
    ax.annotate(
        "",
        (where, height),
        (0, height),
        arrowprops={"arrowstyle": "->", "color": look.second, "shrinkA": 0, "shrinkB": 0},
    )
    ax.text(
        max(where, 0) + 0.015 * width,
        height,
        f"best rest position {where:+.2f} mm",
        fontsize=8,
        color=look.second,
        va="center",
    )


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
    look, ax = style(), axes_of(ax, (7.5, 4.2))
    z = profile.z * 1e3
    gap = profile.gap
    ax.axvspan(
        gap.bottom * 1e3,
        gap.top * 1e3,
        color=look.gap,
        alpha=0.6,
        lw=0,
        label=f"gap depth {gap.depth * 1e3:.3g} mm",
    )
    ax.plot(
        z,
        profile.at_coil,
        color=look.ink,
        lw=2,
        label=f"at the winding's mean radius, {profile.coil_radius * 1e3:.2f} mm",
    )
    ax.fill_between(
        z,
        profile.at_coil - profile.uncertainty,
        profile.at_coil + profile.uncertainty,
        color=look.ink,
        alpha=0.25,
        lw=0,
    )
    ax.plot(
        z,
        profile.at_middle,
        color=look.second,
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
            color=look.conductor,
            lw=5,
            solid_capstyle="butt",
            label=f"winding at rest, {(winding[1] - winding[0]) * 1e3:.3g} mm",
        )
    ax.axhline(0, color=look.quiet, lw=0.8)
    ax.set(
        xlabel="height z above the middle of the gap in mm",
        ylabel="radial flux density in T",
        xlim=(z[0], z[-1]),
        ylim=(low - 0.12 * top, 1.4 * top),
        title=f"mean over the gap depth {profile.mean.value:.3f} T, "
        f"peak {profile.peak.value:.3f} T",
    )
    ax.grid(alpha=0.3)
    ax.legend(fontsize=8, ncols=2, loc="upper center", frameon=False)
    return ax


def figures(result: MotorResult) -> dict[str, Callable[[], Figure]]:
    """Return what draws each standard figure, by file stem, without touching pyplot's state."""
    coil = result.design.coil
    middle, half = coil.rest_position, coil.winding_height / 2

    def field() -> Any:
        drawn_coil = [shape for _, shape in coil.outlines(drawn=True)]
        return plot_motor(result, ax=blank(field_size(result.field, drawn_coil))).figure

    def gap_profile() -> Any:
        ends = middle - half, middle + half
        return plot_gap(result.gap_profile, ax=blank((7.5, 4.2)), winding=ends).figure

    def bl_curve() -> Figure:
        figure = Figure(figsize=(7.5, 5.4), layout="constrained")
        plot_motor_bl(result, figure)
        return figure

    return {"field": field, "gap_profile": gap_profile, "bl_curve": bl_curve}
