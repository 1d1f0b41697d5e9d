"""Pages of several panels: one driver, and candidates side by side."""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from motor.base.media import plot_text
from motor.report.figures.driver import (
    WHAT,
    distortion_axis,
    frequency_axis,
    mark_band,
    plot_clean,
    plot_impedance,
    plot_map,
    plot_response,
)
from motor.report.style import sheet, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from motor.driver.run import DriverRun
    from motor.driver.system_comparison import Comparison

__all__ = ["TITLES", "comparison_page", "run_page"]

TITLES = {
    "response": "linear response",
    "impedance": "impedance",
    "distortion": "harmonic distortion of a sine",
    "travel": "travel of the cone",
    "compression": "level lost or gained against the linear driver",
    "clean_level": "loudest clean sine, and what limits it",
    "measured_bl": "force factor, measured and computed",
    "programme": "travel with the programme",
}
"""What each figure of a driver shows, by the stem of its file."""


def run_page(run: DriverRun) -> Figure:
    """Draw response, impedance, distortion and clean level of one driver."""
    figure, axes = sheet(2, 2, width=6.0)
    plot_response(run.response, ax=axes[0, 0])
    plot_impedance(run.response, ax=axes[0, 1])
    mark_band(plot_map(run.map, ax=axes[1, 0]), run.band)
    plot_clean(run.clean, ax=axes[1, 1])
    for ax, name in zip(
        axes.flat, ("response", "impedance", "distortion", "clean_level"), strict=True
    ):
        ax.set_title(TITLES[name], fontsize=10, loc="left")
    figure.suptitle(plot_text(run.clean.name), fontsize=13, x=0.01, ha="left")
    return figure


def comparison_page(found: Comparison) -> Figure:
    """Draw Bl(x), response, distortion, modulation and clean level of all candidates."""
    figure, axes = sheet(3, 2, width=6.25, height=3.7)
    _bl_panel(found, axes[0, 0])
    for k, one in enumerate(found.candidates):
        same: dict[str, Any] = {**style().line(k), "label": plot_text(one.name)}
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
            label=plot_text(one.name),
            colour=style().line(k)["color"],
            line=style().line(k)["ls"],
        )
    low, high = found.frequency[[0, -1]]
    levels = np.concatenate([one.response.level for one in found.candidates])
    axes[0, 1].set_ylim(levels.max() - 36, levels.max() + 4)
    axes[0, 1].set_ylabel("level in dB at 1 m, half space")
    for ax, name in ((axes[1, 0], WHAT["thd"][0]), (axes[1, 1], WHAT["peak"][0])):
        frequency_axis(ax, low, high)
        ax.set_ylabel(name)
        ax.legend(frameon=False, fontsize=8)
    distortion_axis(axes[1, 0])
    axes[1, 1].set_ylim(bottom=0)
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
        ax.plot(x * 1e3, bl(x), **style().line(k), lw=1.8, label=plot_text(one.name))
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
            label=plot_text(one.name),
            **style().bar(k),
        )
        ax.bar_label(bars, fmt="%.1f", fontsize=8, padding=2)
    ax.set_xticks(np.arange(2), names)
    ax.set_ylabel("modulation distortion in %")
    ax.margins(y=0.25)
    ax.set_axisbelow(True)
    ax.grid(alpha=0.3, axis="y")
    ax.legend(frameon=False, fontsize=8)
