"""Winding height against gap depth: the pair with the longest linear stroke.

Run ``python -m studies.winding_against_gap --out out/winding_against_gap``.  A ferrite door woofer
in a fixed envelope: a deeper gap has thicker plates and leaves less magnet.  Wire and layers stay,
so that all windings in one gap share one field.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import motor
from motor.base.whole_files import folder_of
from motor.cli.progress import engine_of
from motor.report.figures.study import grid_of, plot_map, plot_tradeoff
from motor.report.files.folder import save_figure
from motor.report.style import sheet, style
from motor.study.plan import Plan, span
from motor.study.rules import keep_envelope, keep_plate_load, tie
from motor.study.study_table import StudyTable
from studies.options import as_command, read_options, solved

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BASE = Path(__file__).parent / "designs" / "door_woofer_ferrite.toml"
HEIGHTS = (4e-3, 24e-3, 41)
DEPTHS = (3e-3, 10e-3, 15)
LEAST_MOTOR_CONSTANT = 7.0
"""N^2/W: what the woofer needs for its level."""
HIGHEST_RESONANCE = 43.0
"""Hz, with the suspension and the moving mass of the design file."""
X, Y = "coil.winding_height_mm", "geometry.gap_depth_mm"
STROKE = "usable_stroke_mm"
MAPS = (
    "bl_at_rest_Tm",
    "motor_constant_N2_per_W",
    "moving_mass_g",
    "stroke_82_mm",
    "stroke_70_mm",
    "resonance_Hz",
)


def plan(heights: tuple[float, float, int] = HEIGHTS, depths: Any = DEPTHS) -> Plan:
    """Return the grid of designs; the usable stroke is that of Bl at 82 % and free travel."""
    design = motor.read_design(BASE)
    return Plan(
        design,
        (span("geometry.gap_depth", *depths), span("coil.winding_height", *heights)),
        (tie("geometry.top_plate_thickness", "geometry.gap_depth"), keep_plate_load, keep_envelope),
    )


def best_row(table: StudyTable) -> int | None:
    """Return the row with the longest usable stroke that meets the target; None if none does."""
    stroke = table.array(STROKE)
    with np.errstate(invalid="ignore"):
        good = (table.array("motor_constant_N2_per_W") >= LEAST_MOTOR_CONSTANT) & (
            table.array("resonance_Hz") <= HIGHEST_RESONANCE
        )
    good &= np.isfinite(stroke)
    return int(np.where(good, stroke, -np.inf).argmax()) if good.any() else None


def _mark(table: StudyTable, best: int | None, ax: Axes, lines: bool) -> None:
    """Add the boundary between overhung and underhung, lines of resonance, and the best design."""
    across, up, resonance = grid_of(table, X, Y, "resonance_Hz")
    low, high = max(across[0], up[0]), min(across[-1], up[-1])
    ax.plot([low, high], [low, high], color="black", lw=2.0, ls="--")
    middle = low + 0.45 * (high - low)
    box = {"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1.0}
    ax.text(middle + 1.6, middle - 1.9, "overhung", fontsize=8, bbox=box)
    ax.text(low + 0.2, up[-1] - 0.7, "underhung", fontsize=8, bbox=box)
    if lines:
        drawn = ax.contour(
            across, up, resonance, 5, colors=style().second, linewidths=1.3, linestyles="dashdot"
        )
        for text in ax.clabel(drawn, fontsize=7, fmt="%g Hz"):
            text.set_bbox(box)
    if best is not None:
        ax.plot(
            table.array(X)[best],
            table.array(Y)[best],
            "*",
            color=style().second,
            mec="white",
            ms=17,
            zorder=5,
        )


def maps(table: StudyTable, best: int | None) -> Figure:
    """Draw the six maps."""
    figure, axes = sheet(2, 3)
    for ax, column in zip(axes.ravel(), MAPS, strict=True):
        plot_map(table, X, Y, column, ax=ax)
        _mark(table, best, ax, lines=column not in ("moving_mass_g", "resonance_Hz"))
    figure.suptitle(
        "dashed: winding as tall as the gap is deep; dash-dotted: equal resonance; "
        f"star: longest stroke with Bl²/Re of at least {LEAST_MOTOR_CONSTANT:g} N²/W "
        f"and at most {HIGHEST_RESONANCE:g} Hz",
        fontsize=10,
    )
    return figure


def tradeoff(table: StudyTable, best: int | None) -> tuple[Figure, list[int]]:
    """Draw stroke against Bl²/Re with the Pareto front; return the front's rows too."""
    figure, axes = sheet(1, 1, width=7.5, height=5.0)
    ax, front = plot_tradeoff(table, STROKE, "motor_constant_N2_per_W", ax=axes[0, 0], colour=X)
    ax.axhline(LEAST_MOTOR_CONSTANT, color="black", lw=1, ls=":", label="target")
    if best is not None:
        ax.plot(
            table.array(STROKE)[best],
            table.array("motor_constant_N2_per_W")[best],
            "*",
            color=style().second,
            mec="black",
            ms=17,
            label="best that meets the target",
        )
    ax.legend(fontsize=8, frameon=False, loc="lower left")
    return figure, front


def answer(table: StudyTable, best: int | None, front: list[int]) -> str:
    """Return the result in words."""
    rows = table.records()
    if best is None:
        return "No design of the grid meets the target."
    found = rows[best]
    height, depth = found[X], found[Y]
    kind = "overhung" if height > depth else "underhung"
    lines = [
        f"The longest usable stroke with Bl²/Re of at least {LEAST_MOTOR_CONSTANT:g} N²/W and a "
        f"resonance of at most {HIGHEST_RESONANCE:g} Hz is {found[STROKE]:.2f} mm one-way: a "
        f"winding of {height:g} mm in a gap of {depth:g} mm ({kind} by "
        f"{abs(height - depth) / 2:.2f} mm to either side).",
        f"Bl {found['bl_at_rest_Tm']:.2f} T m, Re {found['coil_resistance_ohm']:.2f} ohm, Bl²/Re "
        f"{found['motor_constant_N2_per_W']:.2f} N²/W, moving mass {found['moving_mass_g']:.1f} g, "
        f"resonance {found['resonance_Hz']:.1f} Hz; the stroke is limited by "
        f"{found['usable_stroke_limited_by']}.",
    ]
    under = [r for r in rows if r[STROKE] is not None and r[X] < r[Y]]
    if under:
        most = max(under, key=lambda r: r[STROKE])
        lines.append(
            f"Underhung windings reach {most[STROKE]:.2f} mm at most (winding {most[X]:g} mm, gap "
            f"{most[Y]:g} mm), with {most['motor_constant_N2_per_W']:.2f} N²/W."
        )
    ends = [rows[front[0]], rows[front[-1]]]
    lines.append(
        f"The Pareto front runs from {ends[0][STROKE]:.2f} mm at "
        f"{ends[0]['motor_constant_N2_per_W']:.2f} N²/W (winding {ends[0][X]:g} mm, gap "
        f"{ends[0][Y]:g} mm) to {ends[1][STROKE]:.2f} mm at "
        f"{ends[1]['motor_constant_N2_per_W']:.2f} N²/W (winding {ends[1][X]:g} mm, gap "
        f"{ends[1][Y]:g} mm)."
    )
    share = math.fsum(rows[i][X] > rows[i][Y] for i in front) / len(front)
    lines.append(f"{100 * share:.0f} % of the front's designs are overhung.")
    return "\n".join(lines)


def main() -> None:
    """Solve the grid, write tables, figures and the answer."""
    arguments = read_options("winding_against_gap", __doc__)
    folder: Path = arguments.out
    asked, store = plan(), folder / "study.sqlite"
    with engine_of(arguments.workers) as engine:
        table = solved(asked, store, engine, study="winding against gap")
    best = best_row(table)
    pareto, front = tradeoff(table, best)
    text = answer(table, best, front)
    with folder_of(folder) as (work, _):
        table.save(work / "results")
        save_figure(maps(table, best), work / "maps")
        save_figure(pareto, work / "tradeoff")
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
