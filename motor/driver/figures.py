"""Figures of the driver.  Each draws into an Axes (or makes a Figure) and returns it."""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from motor.report.style import axes_of, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from motor.driver.compare import Comparison
    from motor.driver.distortion import CleanLimits, DistortionMap
    from motor.driver.measured import BlComparison
    from motor.driver.small_signal import Response

__all__ = [
    "comparison_page",
    "plot_clean",
    "plot_impedance",
    "plot_map",
    "plot_measured",
    "plot_response",
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
TICKS = (10, 20, 50, 100, 200, 500, 1000)
FINE_TICKS = (20, 30, 40, 60, 80, 100, 150, 200, 300)


def _frequency_axis(ax: Axes, low: float, high: float) -> None:
    from matplotlib.ticker import FixedLocator, NullLocator, ScalarFormatter

    ax.set_xscale("log")
    ticks = [
        t
        for t in (TICKS if high > 12 * low else FINE_TICKS)
        if low <= t * 1.001 and t * 0.999 <= high
    ]
    ax.xaxis.set_major_locator(FixedLocator(ticks))
    ax.xaxis.set_major_formatter(ScalarFormatter())
    ax.xaxis.set_minor_locator(NullLocator())
    ax.set(xlabel="frequency in Hz", xlim=(low, high))
    ax.grid(alpha=0.3)


def plot_response(
    response: Response, *, ax: Axes | None = None, label: str = "", **options: Any
) -> Axes:
    """Draw the sound pressure level over frequency."""
    ax = axes_of(ax)
    options = {"color": style().ink, "lw": 1.8, **options}
    ax.plot(response.frequency, response.level, label=label or None, **options)
    _frequency_axis(ax, response.frequency[0], response.frequency[-1])
    ax.set_ylabel(f"level in dB, {response.voltage:.3g} V, 1 m, half space")
    if label:
        ax.legend(frameon=False, fontsize=8)
    return ax


def plot_impedance(
    response: Response, *, ax: Axes | None = None, label: str = "", **options: Any
) -> Axes:
    """Draw the magnitude of the impedance over frequency."""
    ax = axes_of(ax)
    options = {"color": style().ink, "lw": 1.8, **options}
    ax.plot(response.frequency, np.abs(response.impedance), label=label or None, **options)
    _frequency_axis(ax, response.frequency[0], response.frequency[-1])
    ax.set_ylabel("impedance in ohm")
    ax.set_ylim(bottom=0)
    if label:
        ax.legend(frameon=False, fontsize=8)
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
    _frequency_axis(ax, found.frequency[0], found.frequency[-1])
    ax.set_ylabel(name)
    if what in ("thd", "peak"):
        ax.set_ylim(bottom=0)
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
            ax.plot(limits.frequency[here], level[here], mark, color=colour, ms=6, mfc=inside)
    known = {h.get_label() for h in ax.get_lines()}
    for reason, mark in MARKS.items():
        name = f"limited by {reason}"
        if name not in known and any(x.limited_by == reason for x in limits.limits):
            ax.plot([], [], mark, color=style().quiet, ms=6, mfc="white", label=name)
    _frequency_axis(ax, limits.frequency[0], limits.frequency[-1])
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


def comparison_page(found: Comparison) -> Figure:
    """Draw Bl(x), response, distortion, modulation and clean level of all candidates."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(12.5, 11.0), layout="constrained")
    axes = figure.subplots(3, 2)
    _bl_panel(found, axes[0, 0])
    for k, one in enumerate(found.candidates):
        same: dict[str, Any] = {**style().line(k), "label": one.name}
        plot_response(one.response, ax=axes[0, 1], **same)
        state: dict[str, Any] = {"lw": 1.8, **same}
        for ax, what, factor in (
            (axes[1, 0], "thd", 100.0),
            (axes[1, 1], "peak", 1e3),
        ):
            values = one.map.table(attrgetter(what))[:, 0] * factor
            ax.plot(one.map.frequency, values, **state)
        plot_clean(
            one.clean,
            ax=axes[2, 0],
            label=one.name,
            colour=style().line(k)["color"],
            line=style().line(k)["ls"],
        )
    low, high = found.frequency[[0, -1]]
    levels = np.concatenate([one.response.level for one in found.candidates])
    axes[0, 1].set_ylim(levels.max() - 36, levels.max() + 4)
    axes[0, 1].set_ylabel("level in dB at 1 m, half space")
    for ax, name in ((axes[1, 0], WHAT["thd"][0]), (axes[1, 1], WHAT["peak"][0])):
        _frequency_axis(ax, low, high)
        ax.set_ylabel(name)
        ax.set_ylim(bottom=0)
        ax.legend(frameon=False, fontsize=8)
    _modulation_panel(found, axes[2, 1])
    volts = " / ".join(dict.fromkeys(f"{one.voltage:.3g}" for one in found.candidates))
    titles = (
        "force factor",
        f"linear response at {volts} V",
        f"harmonic distortion at {volts} V",
        f"travel at {volts} V",
        "loudest clean sine",
        f"modulation of a tone by {found.bass:.3g} Hz at {volts} V",
    )
    for ax, title in zip(axes.flat, titles, strict=True):
        ax.set_title(title, fontsize=10, loc="left")
    figure.suptitle(found.title or "drivers compared", fontsize=13, x=0.01, ha="left")
    return figure


def _bl_panel(found: Comparison, ax: Axes) -> None:
    reach = 0.0
    for k, one in enumerate(found.candidates):
        bl = one.system.driver.bl
        low, high = max(bl.low, -0.02), min(bl.high, 0.02)
        reach = max(reach, -low, high)
        x = np.linspace(low, high, 301)
        ax.plot(x * 1e3, bl(x), **style().line(k), lw=1.8, label=one.name)
        inward = one.system.driver.inward
        if -inward > low:
            place = float(bl.value(-inward))
            ax.plot([-inward * 1e3], [place], "|", color=style().line(k)["color"], ms=14, mew=2)
    ax.plot([], [], "|", color=style().quiet, ms=10, mew=2, label="mechanical limit inwards")
    ax.set(
        xlabel="coil displacement x in mm (positive outwards)",
        ylabel="Bl in T m",
        xlim=(-reach * 1e3, reach * 1e3),
    )
    ax.set_ylim(bottom=0)
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8)


def _modulation_panel(found: Comparison, ax: Axes) -> None:
    names = ("second order", "third order")
    count = len(found.candidates)
    width = 0.8 / count
    for k, one in enumerate(found.candidates):
        if one.tones is None:
            continue
        values = [100 * one.tones.modulation(order) for order in (2, 3)]
        places = np.arange(2) + (k - (count - 1) / 2) * width
        bars = ax.bar(
            places,
            values,
            0.9 * width,
            label=one.name,
            **style().bar(k),
        )
        ax.bar_label(bars, fmt="%.1f", fontsize=8, padding=2)
    ax.set_xticks(np.arange(2), names)
    ax.set_ylabel("modulation distortion in %")
    ax.margins(y=0.25)
    ax.set_axisbelow(True)
    ax.grid(alpha=0.3, axis="y")
    ax.legend(frameon=False, fontsize=8)
