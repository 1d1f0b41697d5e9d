"""Figures of the driver.  Each draws into an Axes and returns it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator, ScalarFormatter

from motor.base.constants import ZERO_CELSIUS
from motor.report.style import axes_of, style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from motor.driver.distortion import CleanLimits, DistortionMap
    from motor.driver.measured import BlComparison
    from motor.driver.run import SteelBand
    from motor.driver.small_signal import Response
    from motor.driver.steady import SteadyState
    from motor.driver.thermal_network import Heating
    from motor.driver.transient import Motion

__all__ = [
    "WHAT",
    "distortion_axis",
    "frequency_axis",
    "mark_band",
    "plot_clean",
    "plot_heating",
    "plot_impedance",
    "plot_map",
    "plot_measured",
    "plot_motion",
    "plot_response",
    "plot_spectrum",
]

MARKS = {
    "Bl": "o",
    "suspension": "s",
    "inductance": "D",
    "mechanical limit": "^",
    "amplifier": "x",
    "coil heat": "*",
    "range": "v",
    "stability": "P",
}
WHAT = {
    "thd": ("total harmonic distortion in %", 100.0),
    "compression": ("level against the linear driver in dB", 1.0),
    "shift": ("mean displacement in mm", 1e3),
    "peak": ("peak travel in mm", 1e3),
}
TICKS = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
PISTON = 1000.0
"""Hertz, above which a cone no longer moves as a whole (common practice, no source)."""
SMALLEST = 1e-4
"""Share of the largest line below which a line of the spectrum is left out."""
FINE_TICKS = (20, 30, 40, 60, 80, 100, 150, 200, 300)


def frequency_axis(ax: Axes, low: float, high: float) -> None:
    """Make x a logarithmic frequency axis with round figures."""
    ax.set_xscale("log")
    ticks = [
        t
        for t in (TICKS if high > 12 * low else FINE_TICKS)
        if low <= t * 1.001 and t * 0.999 <= high
    ]
    ax.xaxis.set_major_locator(FixedLocator(ticks))
    ax.xaxis.set_major_formatter(ScalarFormatter())
    ax.xaxis.set_minor_locator(NullLocator())
    ax.set(xlabel="frequency in Hz", xlim=(low, high) if low < high else (low / 2, high * 2))
    ax.grid(alpha=0.3)


def distortion_axis(ax: Axes) -> None:
    """Make y a logarithmic axis of distortion in per cent, with lines at 3 % and 10 %."""
    look = style()
    ax.set_yscale("log")
    low, high = ax.get_ylim()
    low, high = max(low, 0.03), max(high, 15.0)
    ax.set_ylim(low, high)
    ticks = [t for t in (0.1, 0.3, 1, 3, 10, 30, 100, 300) if low <= t <= high]
    ax.yaxis.set_major_locator(FixedLocator(ticks))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.yaxis.set_minor_locator(NullLocator())
    for mark in (3.0, 10.0):
        ax.axhline(mark, color=look.quiet, lw=1.1, zorder=1)


def plot_response(
    response: Response, *, ax: Axes | None = None, label: str = "", **options: Any
) -> Axes:
    """Draw the sound pressure level over frequency, up to where cones move as pistons."""
    ax = axes_of(ax)
    options = {"color": style().ink, "lw": 1.8, **options}
    shown = response.frequency <= max(PISTON, response.frequency[0])
    ax.plot(response.frequency[shown], response.level[shown], label=label or None, **options)
    frequency_axis(ax, response.frequency[0], response.frequency[shown][-1])
    ax.set_ylabel(f"level in dB, {response.voltage:.3g} V, 1 m, half space")
    if label:
        ax.legend(frameon=False, fontsize=8)
    return ax


def plot_impedance(
    response: Response, *, ax: Axes | None = None, label: str = "", **options: Any
) -> Axes:
    """Draw the magnitude of the impedance over frequency, a single one with its phase."""
    look, ax = style(), axes_of(ax)
    options = {"color": look.ink, "lw": 1.8, **options}
    size = np.abs(response.impedance)
    ax.plot(response.frequency, size, label=label or "magnitude", **options)
    frequency_axis(ax, response.frequency[0], response.frequency[-1])
    ax.set_ylabel("impedance in ohm")
    ax.set_ylim(0, 1.15 * size.max())
    handles, names = ax.get_legend_handles_labels()
    if not label:
        beside = ax.twinx()
        beside.plot(
            response.frequency,
            np.degrees(np.angle(response.impedance)),
            color=look.second,
            lw=1.2,
            ls="--",
            label="phase",
        )
        beside.set(ylabel="phase in degrees", ylim=(-90, 90), yticks=range(-90, 91, 30))
        handles, names = [*handles, *beside.get_lines()], [*names, "phase"]
    ax.legend(handles, names, frameon=False, fontsize=8)
    return ax


def plot_map(found: DistortionMap, *, ax: Axes | None = None, what: str = "thd") -> Axes:
    """Draw a figure of every steady state over frequency, one line a level."""
    ax = axes_of(ax)
    name, factor = WHAT[what]
    values = found.table(lambda state: float(getattr(state, what)) * factor)
    look = style()
    shades = look.shades(len(found.voltage))
    for k, (column, voltage) in enumerate(zip(values.T, found.voltage, strict=True)):
        state = {**look.line(k), "color": shades[k], "lw": 1.8}
        ax.plot(found.frequency, column, label=f"{voltage:.3g} V", **state)
    frequency_axis(ax, found.frequency[0], found.frequency[-1])
    ax.set_ylabel(name)
    if what == "thd":
        distortion_axis(ax)
    elif what == "peak":
        ax.set_ylim(bottom=0)
    ax.legend(frameon=False, fontsize=8, title="source, r.m.s.")
    return ax


def mark_band(ax: Axes, band: Sequence[SteelBand]) -> Axes:
    """Mark on a distortion map what steel does within the period, up to what it may be at most."""
    if not band:
        return ax
    frequency = [one.frequency for one in band]
    best, most = (np.array([getattr(one, part) for one in band]) for part in ("best", "most"))
    ax.errorbar(
        frequency,
        100 * best,
        [np.zeros(len(band)), 100 * (most - best)],
        fmt="o",
        color=style().second,
        mfc="white",
        ms=5,
        capsize=3,
        clip_on=False,
        lw=1.2,
        zorder=3,
        label=f"{band[0].voltage:.3g} V, steel within a period; to what it may be at most",
    )
    ax.legend(frameon=False, fontsize=8, title="source, r.m.s.")
    return ax


def plot_clean(
    limits: CleanLimits,
    *,
    ax: Axes | None = None,
    label: str = "",
    colour: str | None = None,
    line: str = "-",
) -> Axes:
    """Draw the loudest clean level over frequency, each point marked by what limits it."""
    ax = axes_of(ax)
    colour = colour or style().ink
    level = np.where(np.isfinite(limits.level), limits.level, np.nan)
    ax.plot(limits.frequency, level, color=colour, lw=1.5, ls=line, label=label or None)
    for reason, mark in MARKS.items():
        here = [x.limited_by == reason for x in limits.limits]
        if any(here):
            inside = colour if mark == "x" else "white"
            points = limits.frequency[here], level[here]
            ax.plot(*points, mark, color=colour, ms=6, mfc=inside, clip_on=False, zorder=3)
    known = {h.get_label() for h in ax.get_lines()}
    for reason, mark in MARKS.items():
        name = f"limited by {reason}"
        if name not in known and any(x.limited_by == reason for x in limits.limits):
            ax.plot([], [], mark, color=style().quiet, ms=6, mfc="white", label=name)
    frequency_axis(ax, limits.frequency[0], limits.frequency[-1])
    ax.set_ylabel(f"clean level in dB, 1 m ({100 * limits.distortion:.3g} % distortion)")
    handles, labels = ax.get_legend_handles_labels()
    order = sorted(range(len(labels)), key=lambda k: labels[k].startswith("limited by"))
    ax.legend([handles[k] for k in order], [labels[k] for k in order], frameon=False, fontsize=8)
    return ax


def plot_measured(found: BlComparison, *, ax: Axes | None = None) -> Axes:
    """Draw measured and computed Bl, and their difference on an axis of its own."""
    ax = axes_of(ax)
    x = found.x * 1e3
    ax.plot(x, found.computed, color=style().ink, lw=2, label="computed")
    ax.plot(x, found.measured, color=style().second, lw=1.6, ls="--", label="measured")
    ax.plot(
        x, found.difference, color=style().quiet, lw=1.2, ls="-.", label="measured less computed"
    )
    ax.axhline(0, color="black", lw=0.8)
    low = min(0.0, 1.15 * float(found.difference.min()))
    ax.set(
        xlabel="coil displacement x in mm (positive outwards)",
        ylabel="Bl in T m",
        xlim=(x[0], x[-1]),
        ylim=(low, 1.35 * max(found.computed.max(), found.measured.max())),
        title=f"at rest {found.at_rest:+.1%}, largest difference {found.largest:.1%} of rest",
    )
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8, ncols=3, loc="upper center")
    return ax


def plot_heating(heating: Heating, *, ax: Axes | None = None) -> Axes:
    """Draw the temperatures of coil and motor over time."""
    look, ax = style(), axes_of(ax)
    for k, (name, values) in enumerate((("coil", heating.coil), ("motor", heating.motor))):
        ax.plot(heating.time / 60, values - ZERO_CELSIUS, lw=1.8, label=name, **look.line(k))
    ax.set(xlabel="time in min", ylabel="temperature in degC", xlim=heating.time[[0, -1]] / 60)
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8)
    return ax


def plot_motion(motion: Motion, *, ax: Axes | None = None) -> Axes:
    """Draw the displacement over time with the mechanical limits."""
    look, ax = style(), axes_of(ax)
    driver = motion.system.driver
    ax.plot(motion.time, motion.displacement * 1e3, lw=0.9, color=look.ink, label="displacement")
    for k, limit in enumerate((-driver.inward, driver.outward)):
        if np.isfinite(limit):
            label = "mechanical limit" if k == 0 or not np.isfinite(driver.inward) else None
            ax.axhline(limit * 1e3, color=look.second, ls="--", lw=1.2, label=label)
    ax.set(
        xlabel="time in s",
        ylabel="displacement in mm (positive outwards)",
        xlim=motion.time[[0, -1]],
    )
    ax.margins(y=0.2)
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8, ncols=2, loc="upper right")
    return ax


def plot_spectrum(state: SteadyState, *, ax: Axes | None = None) -> Axes:
    """Draw the spectrum of the sound pressure at 1 m, the tones that drive it marked."""
    look, ax = style(), axes_of(ax)
    size = np.abs(state.pressure) / np.sqrt(2)
    shown = np.flatnonzero(size > SMALLEST * size.max())
    level = 20 * np.log10(size[shown] / 20e-6)
    tones = np.isin(shown, [multiple for multiple, *_ in state.drive.tones])
    foot = level.min() - 6
    ax.vlines(state.frequency[shown], foot, level, color=look.quiet, lw=1.2)
    for place, k, name in ((tones, 0, "tones of the source"), (~tones, 1, "made by the driver")):
        if place.any():
            dots = {"color": look.line(k)["color"], "marker": look.marker(k), "ls": ""}
            ax.plot(state.frequency[shown][place], level[place], ms=5, label=name, **dots)
    ax.set(
        xlabel="frequency in Hz",
        ylabel="level in dB at 1 m, half space",
        ylim=(foot, level.max() + 8),
        title=f"{state.voltage:.3g} V: distortion {state.thd:.2%}",
    )
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8)
    return ax
