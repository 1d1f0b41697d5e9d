"""The page of a sample inferred from measurements: curves, residuals, prior and posterior."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from motor.base.arrays import Floats, Ints
from motor.base.media import plot_text
from motor.report.style import sheet, style
from motor.study.inferred import OUTLIER

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from motor.study.inferred import Fit, Residuals

__all__ = ["plot_fit"]

MOST = 4
"""Tables that are drawn."""
LABELS = {
    "bl": ("displacement x in mm", 1e3, "Bl in T m", 1.0),
    "force": ("displacement x in mm", 1e3, "force in N", 1.0),
    "gap_scan": ("height z in mm", 1e3, "radial flux density in T", 1.0),
    "flux": ("height z in mm", 1e3, "flux linkage in mWb", 1e3),
    "impedance": ("frequency in Hz", 1.0, "impedance in ohm", 1.0),
}
"""Of each kind of table: what lies along and what was measured, with factors from SI."""


def plot_fit(found: Fit) -> Figure:
    """Draw each table beside what the design and the inferred sample would read, and residuals."""
    tables = [r for r in found.residuals if r.measurement.kind in LABELS][:MOST]
    figure, axes = sheet(len(tables) + 1, 2, width=5.2, height=3.4)
    for row, one in zip(axes, tables, strict=False):
        _curves(row[0], one)
        _residuals(row[1], one)
    _unknowns(axes[-1, 0], found)
    _correlation(axes[-1, 1], found)
    return figure


def _pieces(one: Residuals) -> list[tuple[Floats, Ints]]:
    """Return places in the figure's unit and points in their order, of each part by itself."""
    along, (_, per, *_) = one.measurement.along, LABELS[one.measurement.kind]
    x = next(values for role, values in along.items() if role != "part") * per
    part = along.get("part", np.zeros(len(x)))
    pieces = []
    for kind in np.unique(part):
        here = np.flatnonzero(part == kind)
        here = here[np.argsort(x[here], kind="stable")]
        pieces.append((x[here], here))
    return pieces


def _curves(ax: Axes, one: Residuals) -> None:
    look = style()
    across, _, up, per = LABELS[one.measurement.kind]
    for k, (x, here) in enumerate(_pieces(one)):
        before, after, band, points = (
            per * y[here] for y in (one.before, one.after, one.band, one.measurement.values)
        )
        names = ("± 2 bands", "as drawn", "inferred, by this rig", "measured")
        names = names if k == 0 else ("",) * 4
        low, high = after - 2 * band, after + 2 * band
        ax.fill_between(x, low, high, color=look.ink, alpha=0.25, lw=0, label=names[0])
        ax.plot(x, before, lw=1.4, label=names[1], **look.line(1))
        ax.plot(x, after, lw=1.8, label=names[2], **look.line(0))
        ax.plot(x, points, ".", color=look.quiet, ms=5, label=names[3], zorder=3)
    _scale(ax, one)
    ax.set(xlabel=across, ylabel=up, title=plot_text(one.measurement.name))
    ax.grid(alpha=0.3)
    ax.legend(frameon=False, fontsize=8)


def _scale(ax: Axes, one: Residuals) -> None:
    if one.measurement.kind == "impedance":
        ax.set_xscale("log")


def _residuals(ax: Axes, one: Residuals) -> None:
    look = style()
    across, *_ = LABELS[one.measurement.kind]
    ax.axhspan(-2, 2, color=look.gap, alpha=0.5, lw=0)
    ax.axhline(0, color=look.ink, lw=0.8)
    far = one.outliers
    for x, here in _pieces(one):
        ax.plot(x, one.scaled[here], ".", color=look.ink, ms=5)
        out = far[here]
        ax.plot(x[out], one.scaled[here][out], "o", color=look.second, mfc="none", ms=9)
    _scale(ax, one)
    reach = max(3.0, 1.1 * float(np.abs(one.scaled).max(initial=0.0)))
    words = f"structure: probability {one.probability:.2g}, scatter {one.scatter:.2g} of stated"
    if far.any():
        words += f"\nrings: beyond {OUTLIER:g} deviations"
    ax.set(xlabel=across, ylabel="residual in standard deviations", ylim=(-reach, reach))
    ax.set_title(words, fontsize=9)
    ax.grid(alpha=0.3)


def _unknowns(ax: Axes, found: Fit) -> None:
    """Draw prior and posterior of each unknown in units of the prior's deviation."""
    look = style()
    rows = [*found.unknowns, *found.rigs]
    y = np.arange(len(rows))[::-1]
    ax.barh(y, 4, left=-2, height=0.62, color=look.gap, label="expected ± 2 deviations")
    middle = np.array([one.surprise for one in rows])
    half = np.array([2 * one.left for one in rows])
    ax.barh(y, 2 * half, left=middle - half, height=0.3, color=look.ink, label="inferred ± 2")
    ax.plot(middle, y, "|", color=look.second, ms=10, mew=2)
    ax.set(
        yticks=y,
        yticklabels=[plot_text(one.name) for one in rows],
        xlabel="departure from what was expected, in its standard deviations",
        ylim=(-0.6, len(rows) + 0.4),
    )
    ax.tick_params(axis="y", labelsize=8)
    ax.grid(alpha=0.3, axis="x")
    ax.legend(frameon=False, fontsize=8, ncols=2, loc="upper center")


def _correlation(ax: Axes, found: Fit) -> None:
    look = style()
    names = [plot_text(one.name.rpartition(".")[2]) for one in found.unknowns]
    size, values = range(len(names)), found.correlation
    ax.imshow(np.abs(values), cmap=look.map(look.value_map), vmin=0, vmax=1)
    for i in size:
        for k in size:
            shade = "black" if abs(values[i, k]) > 0.5 or look.ink == "#000000" else "white"
            text = f"{round(values[i, k], 2) + 0.0:.2f}"
            ax.text(k, i, text, ha="center", va="center", fontsize=8, color=shade)
    ax.set(xticks=size, yticks=size, xticklabels=names, yticklabels=names)
    ax.set_title("correlations", fontsize=9)
    ax.tick_params(labelsize=8)
    for label in ax.get_xticklabels():
        label.set(rotation=45, ha="right", rotation_mode="anchor")
