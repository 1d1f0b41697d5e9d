"""Inside against outside magnet: the coil diameter with the most linear bass.

Run ``python -m studies.inside_against_outside --out out/inside_against_outside``.  Resistance,
resonance and envelope are the same for all; coil diameter, winding height and gap depth are swept.
Three motors are compared: neodymium inside the coil, neodymium outside, ferrite outside.
"""

from __future__ import annotations

import functools
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import motor
from motor.base.whole_files import folder_of
from motor.cli.progress import engine_of
from motor.report.files.folder import save_figure
from motor.report.style import sheet, style
from motor.study.parameters import Draft
from motor.study.pareto import pareto_front
from motor.study.plan import Plan, span
from motor.study.rules import (
    Rule,
    keep_clearance,
    keep_resistance,
    keep_resonance,
    keep_shape,
)
from motor.study.study_table import StudyTable
from studies.options import as_command, read_options, solved

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FOLDER = Path(__file__).parent / "designs"
OUTER, HEIGHT = 80e-3, 34e-3
"""Envelope: largest outer diameter and height, metres."""
RESISTANCE = 3.6
DIAMETERS = (20e-3, 55e-3, 8)
HEIGHTS = (8e-3, 36e-3, 8)
DEPTHS = (3e-3, 7e-3, 3)
LEAST_MOTOR_CONSTANT = 5.0
"""N^2/W that each motor has to keep."""
STROKE, CONSTANT = "usable_stroke_mm", "motor_constant_N2_per_W"
COIL = "coil.inner_diameter_mm"


def _outside(draft: Draft) -> Draft:
    """Fill the envelope: plates as thick as the gap is deep, the magnet takes the rest."""
    depth = draft.get("geometry.gap_depth")
    magnet = HEIGHT - draft.get("geometry.pole_extension") - 2 * depth
    return draft.having(
        {
            "geometry.top_plate_thickness": depth,
            "geometry.back_plate_thickness": depth,
            "geometry.magnet_thickness": magnet,
            "geometry.magnet_outer_diameter": OUTER,
            "geometry.top_plate_outer_diameter": OUTER - 4e-3,
            "geometry.back_plate_diameter": OUTER - 4e-3,
        }
    )


def _inside(draft: Draft) -> Draft:
    """Let cup and floor carry the magnet's flux, within the envelope; the magnet takes the rest.

    A disc of radius r drives about pi r^2 Br into a floor of 2 pi r t and a wall of the same
    section: t = 0.28 r keeps both near 1.7 T for neodymium.
    """
    depth = draft.get("geometry.pole_plate_thickness")
    radius = draft.get("geometry.magnet_outer_diameter") / 2
    bore = draft.get("geometry.cup_inner_diameter") / 2
    carrying = 0.28 * radius
    wall = np.hypot(bore, np.sqrt(2 * radius * carrying)) - bore
    magnet = HEIGHT - depth - carrying
    return draft.having(
        {
            "geometry.lip_height": depth,
            "geometry.floor_thickness": round(carrying, 9),
            "geometry.cup_outer_diameter": round(2 * (bore + float(wall)), 9),
            "geometry.magnet_thickness": round(min(magnet, 1.2 * radius), 9),
        }
    )


FAMILIES: dict[str, tuple[str, str, str, Rule]] = {
    "neodymium inside": (
        "door_woofer_neodymium",
        "N42SH",
        "geometry.pole_plate_thickness",
        _inside,
    ),
    "neodymium outside": ("door_woofer_ferrite", "N42SH", "geometry.gap_depth", _outside),
    "ferrite outside": ("door_woofer_ferrite", "Y30H-1", "geometry.gap_depth", _outside),
}
"""Base design, magnet, what sets the gap's depth, and the rule that fills the envelope."""


def plan(family: str, steps: tuple[int, int, int] | None = None) -> Plan:
    """Return the designs of a family; stroke by Bl at 82 % and free travel."""
    name, magnet, depth, fill = FAMILIES[family]
    base = motor.read_design(FOLDER / f"{name}.toml")
    base = Draft(base, {"materials.magnet": magnet}).design()
    counts = steps or (DIAMETERS[2], HEIGHTS[2], DEPTHS[2])
    ranges = (DIAMETERS, HEIGHTS, DEPTHS)
    names = ("coil.inner_diameter", "coil.winding_height", depth)
    axes = tuple(
        span(n, low, high, count)
        for n, (low, high, _), count in zip(names, ranges, counts, strict=True)
    )
    wire = functools.partial(keep_resistance, resistance=RESISTANCE)
    return Plan(base, axes, (wire, keep_clearance, keep_shape, fill, keep_resonance))


def within_envelope(table: StudyTable) -> StudyTable:
    """Return the solved rows that fit into the envelope."""
    rows = [
        r
        for r in table.records()
        if not r["error"]
        and r["outer_diameter_mm"] <= OUTER * 1e3 + 1e-6
        and r["height_mm"] <= HEIGHT * 1e3 + 1e-6
    ]
    return StudyTable.of_records(rows)


def best_per_diameter(table: StudyTable) -> list[dict[str, Any]]:
    """Return for each coil diameter the longest stroke that keeps Bl^2/Re."""
    found: dict[float, dict[str, Any]] = {}
    for row in table.records():
        if row[CONSTANT] >= LEAST_MOTOR_CONSTANT and row[STROKE] is not None:
            best = found.get(row[COIL])
            if best is None or row[STROKE] > best[STROKE]:
                found[row[COIL]] = row
    return [found[key] for key in sorted(found)]


def figure(tables: dict[str, StudyTable]) -> Figure:
    """Draw stroke, winding height and mass over the coil diameter, and the Pareto fronts."""
    drawn, axes = sheet(2, 2, width=5.4)
    panels = (
        (STROKE, "longest usable stroke in mm"),
        ("winding_height_mm", "its winding height in mm"),
        ("motor_mass_g", "its motor mass in g"),
    )
    look = style()
    for k, (family, table) in enumerate(tables.items()):
        rows = best_per_diameter(table)
        for ax, (key, _) in zip(axes.ravel(), panels, strict=False):
            ax.plot(
                [r[COIL] for r in rows],
                [r[key] for r in rows],
                **look.line(k),
                marker=look.marker(k),
                ms=5,
                lw=1.8,
                label=family,
            )
        goods = np.stack([table.array(STROKE), table.array(CONSTANT)], axis=1)
        front = goods[pareto_front(goods)]
        axes[1, 1].plot(
            front[:, 0], front[:, 1], marker=look.marker(k), ms=4, label=family, **look.line(k)
        )
    for ax, (_, label) in zip(axes.ravel(), panels, strict=False):
        ax.set(xlabel="coil diameter in mm", ylabel=label)
    axes[0, 0].set_title(f"Bl²/Re of at least {LEAST_MOTOR_CONSTANT:g} N²/W", fontsize=10)
    axes[1, 1].axhline(LEAST_MOTOR_CONSTANT, color="black", lw=1, ls=":")
    axes[1, 1].set(
        xlabel="usable stroke in mm", ylabel="Bl²/Re in N²/W", title="Pareto fronts, all diameters"
    )
    for ax in axes.ravel():
        ax.set_ylim(0, 1.06 * ax.get_ylim()[1])
        ax.grid(alpha=0.3)
    axes[0, 0].legend(fontsize=8, frameon=False, loc="lower right")
    return drawn


def answer(tables: dict[str, StudyTable]) -> str:
    """Return the result in words."""
    lines = [
        f"At {RESISTANCE:g} ohm, equal resonance, and within {OUTER * 1e3:g} mm by "
        f"{HEIGHT * 1e3:g} mm, with Bl²/Re of at least {LEAST_MOTOR_CONSTANT:g} N²/W:"
    ]
    winners: dict[str, dict[str, Any]] = {}
    for family, table in tables.items():
        rows = best_per_diameter(table)
        if not rows:
            lines.append(f"- {family}: no motor reaches it.")
            continue
        best = winners[family] = max(rows, key=lambda r: float(r[STROKE]))
        lines.append(
            f"- {family}: {best[STROKE]:.2f} mm of stroke (limited by "
            f"{best['usable_stroke_limited_by']}) with a coil of {best[COIL]:g} mm and a winding "
            f"of {best['winding_height_mm']:g} mm in a gap of {best['gap_depth_mm']:.3g} mm; "
            f"{best['motor_mass_g']:.0f} g, moving mass {best['moving_mass_g']:.1f} g. Diameters "
            f"that reach it: {rows[0][COIL]:g} to {rows[-1][COIL]:g} mm."
        )
    if winners:
        first = max(winners, key=lambda name: float(winners[name][STROKE]))
        lines.append(f"The longest linear stroke has {first}.")
        for family, best in winners.items():
            wider = [r for r in best_per_diameter(tables[family]) if r[COIL] > best[COIL]]
            if wider and best["winding_height_mm"] > wider[-1]["winding_height_mm"]:
                last = wider[-1]
                lines.append(
                    f"For {family} a smaller coil with a taller winding wins: {best[COIL]:g} mm "
                    f"and {best['winding_height_mm']:g} mm against {last[COIL]:g} mm and "
                    f"{last['winding_height_mm']:g} mm gain "
                    f"{best[STROKE] - last[STROKE]:.2f} mm of stroke."
                )
            elif wider:
                lines.append(f"For {family} a still wider coil has a shorter stroke.")
            else:
                lines.append(f"For {family} the widest coil that reaches it is the best.")
    return "\n".join(lines)


def main() -> None:
    """Solve all families, write tables, figure and the answer."""
    arguments = read_options("inside_against_outside", __doc__)
    folder: Path = arguments.out
    store = folder / "study.sqlite"
    tables: dict[str, StudyTable] = {}
    with engine_of(arguments.workers) as engine:
        for family in FAMILIES:
            found = solved(
                plan(family), store, engine, study="inside against outside", label=family
            )
            tables[family] = within_envelope(found)
    text = answer(tables)
    with folder_of(folder) as (work, _):
        for family, table in tables.items():
            table.save(work / family.replace(" ", "_"))
        best = [{"motor": f, **r} for f, t in tables.items() for r in best_per_diameter(t)]
        StudyTable.of_records(best).save(work / "best_per_diameter")
        save_figure(figure(tables), work / "coil_diameter")
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
