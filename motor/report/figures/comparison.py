"""Motors side by side: sections on one scale, Bl(x) over one another, relative differences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from motor.base.media import plot_text
from motor.report.figures.curves import DISPLACEMENT
from motor.report.figures.field import plot_motor
from motor.report.style import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from motor.study.motor_comparison import MotorComparison

__all__ = ["plot_comparison"]

WIDTH, HEIGHT = 5.2, 4.6
"""Inches of one section."""


def plot_comparison(found: MotorComparison) -> Figure:
    """Draw the sections on one scale above Bl(x) of all motors."""
    count = len(found.results)
    figure = Figure(figsize=(max(WIDTH * count, 8.0), 2 * HEIGHT), layout="constrained")
    above, below = figure.subfigures(2, 1, squeeze=False)[:, 0]
    sections = above.subplots(1, count, squeeze=False)[0]
    for letter, result, ax in zip(found.letters, found.results, sections, strict=True):
        plot_motor(result, ax=ax)
        ax.set_title(f"{letter}: {plot_text(result.design.name)}", fontsize=10)
    right = max(ax.get_xlim()[1] for ax in sections)
    low, high = (pick(ax.get_ylim()[k] for ax in sections) for k, pick in ((0, min), (1, max)))
    for ax in sections:
        ax.set(xlim=(0, right), ylim=(low, high), facecolor=style().map(style().field_map)(0.0))
    _bl(found, below.subplots())
    return figure


def _bl(found: MotorComparison, ax: Axes) -> None:
    look, top = style(), 0.0
    for k, (letter, result) in enumerate(zip(found.letters, found.results, strict=True)):
        curve, reach = result.bl_curve, result.usable_stroke.value
        name = f"{letter}: {plot_text(result.design.name)}, usable stroke ±{reach * 1e3:.2f} mm"
        ax.plot(curve.x * 1e3, curve.bl, lw=2, label=name, **look.line(k))
        ends = np.clip([-reach, reach], curve.x[0], curve.x[-1])
        ax.plot(ends * 1e3, curve(ends), "|", color=look.line(k)["color"], ms=16, mew=2)
        top = max(top, curve.peak.value)
    ax.set(xlabel=DISPLACEMENT, ylabel="Bl in T m", ylim=(0, 1.12 * top + 0.09 * top * k))
    ax.grid(alpha=0.3)
    ax.legend(fontsize=9, frameon=False, loc="upper center")
    ax.set_title("bars: ends of the usable stroke", fontsize=9)
