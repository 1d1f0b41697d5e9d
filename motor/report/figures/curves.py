"""Figures of a solved motor: Bl(x), gap profile.  Each draws into an Axes and returns it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from motor.report.figures.field import plot_motor
from motor.report.style import axes_of, blank, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from motor.results.bl import BlCurve
    from motor.results.gap import GapProfile
    from motor.results.motor_result import MotorResult

__all__ = ["figures", "plot_bl", "plot_gap"]


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
    look, ax = style(), axes_of(ax, (7.5, 4.6))
    x = curve.x * 1e3
    ax.plot(x, curve.bl, color=look.ink, lw=2, label=label or "Bl(x)")
    ax.plot(-x, curve.bl, color=look.quiet, lw=1, ls=":", label="mirrored about rest", zorder=1)
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
        shown = np.clip([left, right], x[0], x[-1])
        ax.plot(
            np.repeat(shown, 2),
            [0, level, level, 0],
            color=look.second,
            lw=1,
            ls=dashes,
            label=f"{share:.0%} of rest: {_side(left)} / {_side(right)} mm",
        )
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


def figures(result: MotorResult) -> dict[str, Any]:
    """Return the standard figures by file stem, without touching pyplot's state."""
    coil = result.design.coil
    ends = (
        coil.rest_position - coil.winding_height / 2,
        coil.rest_position + coil.winding_height / 2,
    )
    drawn = {
        "field": plot_motor(result, ax=blank((8.0, 6.0))),
        "gap_profile": plot_gap(result.gap_profile, ax=blank((7.5, 4.2)), winding=ends),
        "bl_curve": plot_bl(
            result.bl_curve, ax=blank((7.5, 4.6)), inward_stop=result.travel.inward
        ),
    }
    return {stem: ax.figure for stem, ax in drawn.items()}
