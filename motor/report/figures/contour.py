"""Contours before and after they were moved, and what that did to Bl(x)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.arrays import Floats
from motor.base.media import plot_text
from motor.report.style import sheet, style
from motor.results.quantities.band import BAND, mean_in_band

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from motor.results.motor_result import MotorResult
    from motor.study.reshaped import Reshaped

__all__ = ["plot_reshaped"]

AROUND = 0.35
"""Room around the contours, over their size."""
LEAST_ROOM, SLIMMEST = 4.0, 0.8
"""The same in mm, and the width that is shown, over the height."""
WIDER = 1.6
"""How far Bl(x) is shown, over the band."""
LEGEND, ROOF = 0.45, 1.05
"""Room below Bl(x), over its range, and its top, over the largest Bl."""


def plot_reshaped(found: Reshaped) -> Figure:
    """Draw the section near the contours, as drawn and moved, and Bl(x) of both."""
    figure, axes = sheet(1, 2, width=5.6, height=5.2)
    _section(axes[0, 0], found)
    _curves(axes[0, 1], found)
    figure.suptitle(plot_text(found.drawn.design.name))
    return figure


def _outlines(result: MotorResult) -> list[tuple[str, str, Floats]]:
    return [
        (region.name, region.role, 1e3 * np.array([*region.outline, region.outline[0]]))
        for region in result.design.regions
    ]


def _section(ax: Axes, found: Reshaped) -> None:
    look = style()
    moving = {contour.part for contour in found.contours}
    for name, role, outline in _outlines(found.moved):
        ax.fill(*outline.T, facecolor=look.fills[role], edgecolor="black", lw=1.1)
        if name in moving:
            ax.plot(*outline.T, color=look.ink, lw=2, label=plot_text(f"{name}, moved"))
    for name, _, outline in _outlines(found.drawn):
        if name in moving:
            ax.plot(*outline.T, color=look.second, lw=1.3, ls="--", label="as drawn")
    for _, shape in found.moved.design.coil.outlines(drawn=True):
        ax.fill(*(1e3 * np.array(shape)).T, facecolor=look.conductor, edgecolor="black", lw=0.5)
    low, high = _window(found)
    ax.set(
        aspect="equal",
        xlim=(low[0], high[0]),
        ylim=(low[1], high[1]),
        xlabel="r in mm",
        ylabel="z above the middle of the gap in mm",
        title="section",
    )
    ax.legend(fontsize=8, loc="best")


def _window(found: Reshaped) -> tuple[Floats, Floats]:
    """Return the corners of what is shown, mm: all that moved, the gap and the coil."""
    coil = [shape for _, shape in found.moved.design.coil.outlines(drawn=False)]
    gap = found.moved.design.geometry.gap
    points = [*(1e3 * np.array(shape) for shape in coil)]
    points.append(1e3 * np.array([[gap.inner_radius, gap.bottom], [gap.outer_radius, gap.top]]))
    before = {name: outline for name, _, outline in _outlines(found.drawn)}
    for name, _, outline in _outlines(found.moved):
        old = {tuple(p) for p in np.round(before[name], 6)}
        new = np.array([p for p in outline if tuple(np.round(p, 6)) not in old])
        kept = {tuple(p) for p in np.round(outline, 6)}
        gone = np.array([p for p in before[name] if tuple(np.round(p, 6)) not in kept])
        points += [p for p in (new, gone) if len(p)]
    every = np.vstack(points)
    low, high = every.min(axis=0), every.max(axis=0)
    room = max(AROUND * float(np.ptp(every[:, 0])), LEAST_ROOM)
    low, high = low - room, high + room
    more = max(0.0, SLIMMEST * (high[1] - low[1]) - (high[0] - low[0])) / 2
    low[0], high[0] = low[0] - more, high[0] + more
    return low - [min(low[0], 0.0), 0.0], high - [min(low[0], 0.0), 0.0]


def _curves(ax: Axes, found: Reshaped) -> None:
    look = style()
    band, ends = found.moved.design.stroke.band, list[float]()
    for k, (result, label) in enumerate(((found.moved, "moved"), (found.drawn, "as drawn"))):
        curve = result.bl_curve
        reach = min(-curve.x[0], curve.x[-1]) if band is None else WIDER * band
        x = np.linspace(max(curve.x[0], -reach), min(curve.x[-1], reach), 201)
        ends += [float(curve(x).min()), ROOF * float(curve.peak.value)]
        ax.plot(1e3 * x, curve(x), label=label, lw=2 - 0.4 * k, **look.line(k))
    ax.set_ylim(min(ends) - LEGEND * (max(ends) - min(ends)), max(ends) + 0.05 * np.ptp(ends))
    if band is not None:
        ax.axvspan(-1e3 * band, 1e3 * band, color=look.safe, lw=0, zorder=0)
        for k, result in enumerate((found.moved, found.drawn)):
            _level(ax, result, band, k, "as drawn" if k else "moved")
    ax.set(xlabel="coil displacement x in mm (positive outwards)", ylabel="Bl in T m")
    ax.set_title("Bl(x), the band shaded" if band is not None else "Bl(x)", fontsize=10)
    ax.grid(alpha=0.3)
    ax.legend(fontsize=8, loc="lower center")


def _level(ax: Axes, result: MotorResult, band: float, k: int, what: str) -> None:
    """Mark mean and deviation over the band, beside it."""
    mean, deviation = mean_in_band(result.bl_curve, band), BAND[0].read(result)
    if mean is None or deviation is None:
        return
    share = deviation.value
    ax.errorbar(
        [1e3 * band * (1.08 + 0.1 * k)],
        [mean],
        yerr=mean * share,
        fmt="o",
        ms=4,
        capsize=5,
        color=style().series[k],
        label=f"{what}: {mean:.3g} T m ± {share:.2%}".replace("%", " %"),
    )
