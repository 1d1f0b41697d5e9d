"""Figures of studies: maps, curves, trade-offs, distributions.  Each draws into given Axes."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import RectBivariateSpline

from motor.base.arrays import Floats
from motor.base.media import plot_text
from motor.report.labels import label_of
from motor.report.style import axes_of, sheet, style
from motor.study.parameters import TOGETHER
from motor.study.pareto import pareto_front
from motor.study.production import LOT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.cm import ScalarMappable
    from matplotlib.contour import ContourSet
    from matplotlib.figure import Figure

    from motor.study.guarding import Limits, Station
    from motor.study.produced import Produced
    from motor.study.study_table import StudyTable
    from motor.study.target import Requirement
    from motor.study.tolerance import Scatter

__all__ = [
    "grid_of",
    "plot_curves",
    "plot_histogram",
    "plot_map",
    "plot_shares",
    "plot_slack",
    "plot_tradeoff",
]

LEVELS = 12
FINER = 121
BESIDE_BINS = 40
"""Of the distribution by derivatives."""
NEAR_FRAME = 0.04
"""Share of the axes within which a line's number would be cut."""
WORST_SLACK = 100.0
"""Per cent at which bars of slack are cut off."""


def grid_of(table: StudyTable, x: str, y: str, z: str) -> tuple[Floats, Floats, Floats]:
    """Return a grid's axes (n,), (m,) and a column over them (m, n); NaN where it has no value."""
    across, up = np.unique(table.array(x)), np.unique(table.array(y))
    values = np.full((len(up), len(across)), np.nan)
    i = np.searchsorted(up, table.array(y))
    j = np.searchsorted(across, table.array(x))
    values[i, j] = table.array(z)
    return across, up, values


def plot_map(
    table: StudyTable,
    x: str,
    y: str,
    z: str,
    *,
    ax: Axes | None = None,
    lines: int = 6,
    base: Mapping[str, float] | None = None,
) -> Axes:
    """Draw a column over two swept parameters as a filled map with labelled lines.

    Between the solved designs, shown as dots, the map is a spline through all of them; with
    fewer than four values along a parameter, or with gaps, cells around the designs instead.
    ``base`` holds the base design's values by column, to mark it.
    """
    ax = axes_of(ax)
    look = style()
    across, up, values = grid_of(table, x, y, z)
    colours = look.map(look.value_map)
    filled: ScalarMappable
    if min(len(across), len(up)) >= 4 and np.isfinite(values).all():
        fine_x, fine_y, fine = _between(across, up, values)
        filled = ax.contourf(fine_x, fine_y, fine, LEVELS, cmap=colours)
        drawn = ax.contour(fine_x, fine_y, fine, lines, colors="black", linewidths=0.6)
        _label(ax, drawn)
    else:
        filled = ax.pcolormesh(across, up, values, cmap=colours, shading="nearest")
    dots = np.meshgrid(across, up)
    known = np.isfinite(values)
    ax.plot(dots[0][known], dots[1][known], ".", color="black", ms=2.5, alpha=0.6, clip_on=False)
    if base is not None and {x, y} <= base.keys():
        ax.plot(base[x], base[y], "D", color="white", mec="black", ms=6, label="base design")
        ax.legend(fontsize=8, loc="lower right")
    ax.figure.colorbar(filled, ax=ax, pad=0.02)
    ax.set(xlabel=label_of(x), ylabel=label_of(y), title=label_of(z))
    ax.title.set_fontsize(10)
    return ax


def _between(across: Floats, up: Floats, values: Floats) -> tuple[Floats, Floats, Floats]:
    """Return a finer grid and the spline through all values on it."""
    x, y = (np.linspace(v[0], v[-1], FINER) for v in (across, up))
    return x, y, RectBivariateSpline(up, across, values, kx=3, ky=3, s=0)(y, x)


def _label(ax: Axes, drawn: ContourSet) -> None:
    """Put numbers on lines, but for those that the frame would cut."""
    for text in ax.clabel(drawn, fontsize=7, fmt="%.4g"):
        place = ax.transAxes.inverted().transform(ax.transData.transform(text.get_position()))
        text.set_visible(bool(np.all((place > NEAR_FRAME) & (place < 1 - NEAR_FRAME))))


def plot_curves(
    table: StudyTable, x: str, y: str, *, ax: Axes | None = None, group: str = ""
) -> Axes:
    """Draw a column over a swept parameter, one line per value of ``group``."""
    ax = axes_of(ax)
    keys = table.column(group) if group else [""] * len(table)
    across, values = table.array(x), table.array(y)
    for k, key in enumerate(dict.fromkeys(keys)):
        here = np.array([other == key for other in keys])
        order = np.argsort(across[here])
        ax.plot(
            across[here][order],
            values[here][order],
            **style().line(k),
            marker=style().marker(k),
            ms=4,
            lw=1.6,
            label=plot_text(str(key)),
        )
    ax.set(xlabel=label_of(x), ylabel=label_of(y))
    ax.grid(alpha=0.3)
    if group:
        ax.legend(title=label_of(group), fontsize=8, title_fontsize=8, frameon=False)
    return ax


def plot_tradeoff(
    table: StudyTable, x: str, y: str, *, ax: Axes | None = None, colour: str = ""
) -> tuple[Axes, list[int]]:
    """Draw two goods of all designs against each other and their Pareto front.

    Returns
    -------
    Axes, list of int
        The axes, and the rows on the front.
    """
    ax = axes_of(ax)
    across, up = table.array(x), table.array(y)
    front = pareto_front(np.stack([across, up], axis=1))
    dots = ax.scatter(
        across,
        up,
        s=14,
        c=table.array(colour) if colour else style().quiet,
        cmap=style().map(style().order_map) if colour else None,
        lw=0,
        label="designs",
    )
    if colour:
        ax.figure.colorbar(dots, ax=ax, label=label_of(colour), pad=0.02)
    ax.plot(
        across[front], up[front], "o-", color=style().second, ms=4, lw=1.4, label="Pareto front"
    )
    ax.set(xlabel=label_of(x), ylabel=label_of(y))
    ax.grid(alpha=0.3)
    ax.legend(fontsize=8, frameon=False)
    return ax, [int(i) for i in front]


def plot_histogram(
    table: StudyTable,
    name: str,
    *,
    ax: Axes | None = None,
    limits: tuple[float | None, float | None] = (None, None),
    station: Station | None = None,
    beside: Floats | None = None,
    apart: str = "",
) -> Axes:
    """Draw the distribution of a column with the limits it is to keep.

    Parameters
    ----------
    table : StudyTable
    name : str
    ax : Axes or None
    limits : tuple of float or None
        Least and most.
    station : Station or None
        That tests them; its test limits are drawn too.
    beside : (n,) array or None
        The same figure by derivatives, drawn as a line.
    apart : str
        In what the two disagree.
    """
    ax = axes_of(ax)
    values = table.array(name)
    values = values[np.isfinite(values)]
    same = len(values) > 0 and np.ptp(values) <= 1e-9 * abs(values[0])
    bins = max(8, round(1.5 * len(values) ** 0.5))
    _, edges, _ = ax.hist(values, bins=bins, color=style().ink, alpha=0.85, label="sampled")
    if beside is not None and not same:
        density, ends = np.histogram(beside, bins=BESIDE_BINS, density=True)
        scale = len(values) * (edges[1] - edges[0])
        ax.stairs(scale * density, ends, color=style().second, lw=1.4, label="by derivatives")
        ax.legend(fontsize=8, frameon=False)
    shown = [limit for limit in limits if limit is not None]
    for limit in shown:
        ax.axvline(limit, color=style().second, lw=1.8, ls="--")
    ax.set(xlabel=label_of(name), ylabel="number of motors")
    if shown:
        words = " and ".join(f"{limit:.4g}" for limit in shown)
        words = f"dashed: limit {words}"
        if station is not None:
            tested = [limit for limit in station.limits(*limits) if limit is not None]
            for limit in tested:
                ax.axvline(limit, color=style().second, lw=1.4, ls=":")
            words += ", dotted: test limit " + " and ".join(f"{limit:.4g}" for limit in tested)
        ax.set_title(words, fontsize=9)
    elif same:
        ax.set_title("no tolerance of the study changes it", fontsize=9)
    if apart:
        ax.set_xlabel(f"{label_of(name)}\nby derivatives otherwise: {_wrapped(apart)}", fontsize=8)
    return ax


def _wrapped(text: str) -> str:
    return "\n".join(textwrap.wrap(plot_text(text), 70))


def plot_shares(
    scatters: Sequence[Scatter],
    *,
    ax: Axes | None = None,
    beside: Mapping[str, Scatter] | None = None,
) -> Axes:
    """Draw which cause has which share of each figure's variance; ``beside`` by derivatives."""
    ax = axes_of(ax)
    scatters = [s for s in scatters if any(s.shares.values())] or list(scatters)
    names = list(scatters[0].shares)
    thickness = 0.8 / len(scatters)
    for k, scatter in enumerate(scatters):
        places = np.arange(len(names)) + (k - (len(scatters) - 1) / 2) * thickness
        shares = [100 * scatter.shares[name] for name in names]
        ax.barh(
            places,
            shares,
            thickness,
            **style().bar(k),
            label=label_of(scatter.name).partition(" in ")[0],
        )
        other = (beside or {}).get(scatter.name)
        if other is not None:
            marks = [100 * other.shares[name] for name in names]
            first = not ax.lines
            label = "by derivatives" if first else None
            ax.plot(marks, places, "D", color="white", mec="black", ms=5, lw=0, label=label)
    ax.set_yticks(range(len(names)), [_short(name) for name in names], fontsize=9)
    ax.invert_yaxis()
    ax.set(xlabel="share of the variance in %")
    ax.set_xlim(0, 100)
    ax.grid(axis="x", alpha=0.3)
    ax.legend(fontsize=8, frameon=False, ncols=3, loc="lower center", bbox_to_anchor=(0.4, 1.0))
    return ax


def _short(cause: str) -> str:
    """Return a cause without its sections, correlated tolerances on a line each."""
    names = [name.rpartition(".")[2].replace("_", " ") for name in cause.split(TOGETHER)]
    lot = "lot " if cause.startswith(LOT) else ""
    return lot + "\nand ".join(plot_text(name) for name in names)


def plot_slack(requirements: Sequence[Requirement], *, ax: Axes | None = None) -> Axes:
    """Draw how far each requirement is met (right of 0) or missed, relative to its limit."""
    look, ax = style(), axes_of(ax, (7.5, 0.9 + 0.45 * len(requirements)))
    slack = np.array([100 * r.slack for r in requirements])
    shown = np.clip(slack, -WORST_SLACK, WORST_SLACK)
    fills = [look.ink if s >= 0 else look.second for s in slack]
    bars = ax.barh(range(len(shown)), shown, 0.6, color=fills)
    words = [f"{s:+.3g} %" if abs(s) < 1e4 else "far off" for s in slack]
    ax.bar_label(bars, words, fontsize=8, padding=3)
    ax.set_yticks(range(len(shown)), [r.name for r in requirements], fontsize=9)
    ax.invert_yaxis()
    ax.axvline(0, color="black", lw=1)
    ax.margins(x=0.2)
    ax.set(xlabel="slack in % of the limit; left of 0: missed")
    ax.set_axisbelow(True)
    ax.grid(alpha=0.3, axis="x")
    return ax


def overview(
    table: StudyTable, swept: Sequence[str], base: Mapping[str, float] | None = None
) -> Figure:
    """Draw a sweep: curves of one parameter, maps of two, the trade-off of more.

    ``base`` holds the base design's values by column, to mark it on maps.
    """
    outputs = [
        c
        for c in ("bl_at_rest_Tm", "motor_constant_N2_per_W", "stroke_82_mm", "usable_stroke_mm")
        if np.isfinite(table.array(c)).any()
    ]
    numeric = [c for c in swept if all(isinstance(v, int | float) for v in table.column(c))]
    words = [c for c in swept if c not in numeric]
    if len(numeric) == 2 and not words and _is_grid(table, numeric[0], numeric[1]):
        figure, axes = sheet(2, 2)
        for ax, column in zip(axes.ravel(), outputs, strict=False):
            plot_map(table, numeric[0], numeric[1], column, ax=ax, base=base)
    elif len(numeric) == 1 and len(words) <= 1:
        figure, axes = sheet(2, 2)
        for ax, column in zip(axes.ravel(), outputs, strict=False):
            plot_curves(table, numeric[0], column, ax=ax, group="".join(words))
    else:
        figure, axes = sheet(1, 1, width=7.0, height=4.8)
        plot_tradeoff(table, "usable_stroke_mm", "motor_constant_N2_per_W", ax=axes[0, 0])
    for ax in axes.ravel():
        if not ax.has_data():
            ax.set_axis_off()
    return figure


def _is_grid(table: StudyTable, x: str, y: str) -> bool:
    across, up = np.unique(table.array(x)), np.unique(table.array(y))
    return min(len(across), len(up)) > 1 and len(across) * len(up) == len(table)


def production_sheet(
    table: StudyTable,
    scatters: Sequence[Scatter],
    limits: Limits,
    found: Produced | None = None,
    stations: Mapping[str, Station] | None = None,
) -> Figure:
    """Draw a tolerance study: a distribution per figure, and the variance shares.

    With what derivatives say of it beside, and the test limits of stations, where these are given.
    """
    figure, axes = sheet(2, 2, width=5.6)
    beside = found.beside if found is not None else None
    for ax, scatter in zip(axes.ravel(), scatters, strict=False):
        plot_histogram(
            table,
            scatter.name,
            ax=ax,
            limits=limits.get(scatter.name, (None, None)),
            station=(stations or {}).get(scatter.name),
            beside=beside.drawn.get(scatter.name) if beside is not None else None,
            apart=found.apart.get(scatter.name, "") if found is not None else "",
        )
    plot_shares(scatters, ax=axes[1, 1], beside=beside.scatters if beside is not None else None)
    for ax in axes.ravel():
        if not ax.has_data():
            ax.set_axis_off()
    return figure
