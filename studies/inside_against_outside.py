"""Inside against outside magnet: the coil diameter with the most linear bass.

Run ``python -m studies.inside_against_outside --out out/inside_against_outside``.  Resistance,
resonance, least Bl²/Re and envelope are the same for all.  For each coil diameter every other
dimension is optimised for the longest usable stroke, for three motors: neodymium inside the coil,
neodymium outside, ferrite outside.  Each kind's best motor is made as light as its stroke allows.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any

import motor
from motor.base.whole_files import folder_of
from motor.cli.progress import engine_of, progress_bar
from motor.report.files.folder import save_figure
from motor.report.style import sheet, style
from motor.results.usable_stroke import LIMIT_NAMES
from motor.study.multipliers import multipliers
from motor.study.parameters import Draft
from motor.study.problem import Answer, Problem
from motor.study.processes import Engine
from motor.study.rules import Rule, keep_clearance, keep_resonance, keep_shape, tie
from motor.study.searching import search
from motor.study.study_table import StudyTable
from motor.study.target import Target
from studies.options import as_command, read_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FOLDER = Path(__file__).parent / "designs"
STUDY = "inside against outside"
TARGET = Target(
    motor_constant_least=5.0,
    resistance=3.6,
    outer_diameter_most=80e-3,
    height_most=34e-3,
    maximise="stroke",
)
DIAMETERS = (20e-3, 27e-3, 34e-3, 41e-3, 48e-3, 55e-3)
KEPT = 0.99
"""Share of the longest stroke that the lightest motor of a kind keeps."""
CLIFF = 0.85
"""Share of a neighbour's stroke below which its motor is a start as well."""
STROKE, COIL = "usable_stroke_mm", "coil.inner_diameter"

OUTSIDE: tuple[Rule, ...] = (
    keep_clearance,
    keep_resonance,
    tie("geometry.top_plate_thickness", "geometry.gap_depth"),
    tie("geometry.top_plate_outer_diameter", "geometry.magnet_outer_diameter", -4e-3),
    tie("geometry.back_plate_diameter", "geometry.magnet_outer_diameter", -4e-3),
)
INSIDE: tuple[Rule, ...] = (
    keep_clearance,
    keep_shape,
    keep_resonance,
    tie("geometry.lip_height", "geometry.pole_plate_thickness"),
)
FAMILIES: dict[str, tuple[str, str, tuple[Rule, ...]]] = {
    "neodymium inside": ("door_woofer_neodymium", "N42SH", INSIDE),
    "neodymium outside": ("door_woofer_ferrite", "N42SH", OUTSIDE),
    "ferrite outside": ("door_woofer_ferrite", "Y30H-1", OUTSIDE),
}
"""Base design, magnet and rules."""
Record = dict[str, Any]


def free(rules: tuple[Rule, ...], diameter: float) -> dict[str, tuple[float, float]]:
    """Return what may change for a coil diameter, and how far, metres."""
    outer = TARGET.outer_diameter_most or 0.0
    coil = {"coil.winding_height": (6e-3, 45e-3), "coil.rest_position": (-8e-3, 8e-3)}
    if rules is INSIDE:
        return coil | {
            "geometry.pole_plate_thickness": (2e-3, 12e-3),
            "geometry.magnet_thickness": (3e-3, 32e-3),
            "geometry.cup_outer_diameter": (diameter + 10e-3, outer),
            "geometry.floor_thickness": (2e-3, 14e-3),
            "geometry.lip_step": (0.5e-3, 24e-3),
        }
    return coil | {
        "geometry.gap_depth": (2e-3, 12e-3),
        "geometry.magnet_thickness": (4e-3, 32e-3),
        "geometry.magnet_inner_diameter": (diameter + 5e-3, diameter + 18e-3),
        "geometry.magnet_outer_diameter": (diameter + 20e-3, outer),
        "geometry.back_plate_thickness": (2e-3, 12e-3),
        "geometry.pole_extension": (0e-3, 8e-3),
    }


def problem(
    family: str, diameter: float, target: Target = TARGET, like: motor.Design | None = None
) -> Problem:
    """Return the search of one kind of motor for one coil diameter (metres).

    ``like`` is a design of that kind that it starts from as well.
    """
    name, magnet, rules = FAMILIES[family]
    base = Draft(motor.read_design(FOLDER / f"{name}.toml"), {"materials.magnet": magnet}).design()
    return Problem(like or base, target, free(rules, diameter), rules, {COIL: [diameter]})


def record(asked: Problem, found: Answer) -> Record:
    """Return the figures of an answer, what binds, and what it costs."""
    costs = multipliers(asked, found.best)
    return {
        "met": found.feasible,
        "coil_mm": 1e3 * found.best.values[COIL],
        **(found.best.results or {}),
        "binding": "; ".join(found.binding),
        "costs": "; ".join(costs.sentences() if costs else ()),
        "designs": found.trials,
    }


def best_of(rows: list[Record]) -> Record | None:
    """Return the row with the longest stroke among those that meet the target."""
    met = [row for row in rows if row["met"]]
    return max(met, key=lambda row: float(row[STROKE]), default=None)


def figure(tables: dict[str, list[Record]]) -> Figure:
    """Draw stroke, winding height and masses over the coil diameter."""
    drawn, axes = sheet(2, 2, width=5.4)
    panels = (
        (STROKE, "longest usable stroke in mm"),
        ("winding_height_mm", "its winding height in mm"),
        ("motor_mass_g", "its motor mass in g"),
        ("moving_mass_g", "its moving mass in g"),
    )
    look = style()
    for ax, (key, label) in zip(axes.ravel(), panels, strict=True):
        for k, (family, rows) in enumerate(tables.items()):
            met = [row for row in rows if row["met"]]
            ax.plot(
                [r["coil_mm"] for r in met],
                [r[key] for r in met],
                **look.line(k),
                marker=look.marker(k),
                ms=5,
                lw=1.8,
                label=family,
            )
        ax.set(xlabel="coil diameter in mm", ylabel=label)
        ax.set_ylim(0, 1.06 * ax.get_ylim()[1])
        ax.grid(alpha=0.3)
    axes[0, 0].set_title(f"Bl²/Re of at least {TARGET.motor_constant_least:g} N²/W", fontsize=10)
    axes[0, 0].legend(fontsize=8, frameon=False, loc="lower right")
    return drawn


def _reached(row: Record) -> str:
    stroke = f"{row[STROKE]:.2f} mm" if row["met"] else "none"
    return f"{row['coil_mm']:g} mm {stroke}"


def answer(tables: dict[str, list[Record]], lightest: dict[str, Record]) -> str:
    """Return the result in words."""
    outer, height = TARGET.outer_diameter_most or 0.0, TARGET.height_most or 0.0
    lines = [
        f"At {TARGET.resistance:g} ohm, equal resonance, and within {outer * 1e3:g} mm by "
        f"{height * 1e3:g} mm, with Bl²/Re of at least {TARGET.motor_constant_least:g} N²/W, every "
        "dimension optimised for each coil diameter:"
    ]
    for family, rows in tables.items():
        best = best_of(rows)
        if best is None:
            lines.append(f"- {family}: no motor reaches it.")
            continue
        light = lightest.get(family, best)
        limit = LIMIT_NAMES[best["usable_stroke_limited_by"]]
        lines += [
            f"- {family}: {best[STROKE]:.2f} mm of stroke (limited by {limit}) with a coil of "
            f"{best['coil_mm']:g} mm, a winding of {best['winding_height_mm']:.1f} mm in a gap of "
            f"{best['gap_depth_mm']:.1f} mm; moving mass {best['moving_mass_g']:.1f} g; "
            f"motor {best['motor_mass_g']:.0f} g, for {100 * (1 - KEPT):.0f} % less stroke "
            f"{light['motor_mass_g']:.0f} g.",
            f"  What binds: {best['binding'] or 'nothing'}.",
            f"  {best['costs'] or 'No requirement costs stroke'}.",
            f"  By coil diameter: {'; '.join(map(_reached, rows))}.",
        ]
    for k, diameter in enumerate(DIAMETERS):
        here = {f: rows[k] for f, rows in tables.items() if rows[k]["met"]}
        if here:
            first = max(here, key=lambda name: float(here[name][STROKE]))
            lines.append(
                f"A coil of {1e3 * diameter:g} mm goes farthest with {first}: "
                f"{here[first][STROKE]:.2f} mm, winding {here[first]['winding_height_mm']:.1f} mm."
            )
    return "\n".join(lines)


def _searched(
    asked: Problem, store: Path, engine: Engine, label: str
) -> tuple[Record, motor.Design | None]:
    with progress_bar(label) as move:
        found = search(asked, store, engine=engine, progress=move, study=STUDY)
    return record(asked, found), found.best.design


def _reach(row: Record) -> float:
    return float(row[STROKE]) if row["met"] else 0.0


def _family(family: str, store: Path, engine: Engine) -> list[Record]:
    """Return the best motor for each diameter.

    Where a neighbour goes much farther, or no motor was found, the neighbour is a start as well.
    """
    found = [
        _searched(problem(family, d), store, engine, f"{family}, {1e3 * d:g} mm") for d in DIAMETERS
    ]
    for k in reversed(range(len(DIAMETERS))):
        here, near = found[k][0], found[max(k - 1, 0) : k + 2]
        beside, like = max(near, key=lambda one: _reach(one[0]))
        if _reach(here) < CLIFF * _reach(beside):
            asked = problem(family, DIAMETERS[k], like=like)
            words = f"{family}, {1e3 * DIAMETERS[k]:g} mm, from {beside['coil_mm']:g} mm"
            again = _searched(asked, store, engine, words)
            found[k] = max(found[k], again, key=lambda one: _reach(one[0]))
    return [row for row, _ in found]


def main() -> None:
    """Optimise all motors, write tables, figure and the answer."""
    arguments = read_options("inside_against_outside", __doc__)
    folder: Path = arguments.out
    store = folder / "study.sqlite"
    tables: dict[str, list[Record]] = {}
    lightest: dict[str, Record] = {}
    with engine_of(arguments.workers) as engine:
        for family in FAMILIES:
            tables[family] = _family(family, store, engine)
            best = best_of(tables[family])
            if best is not None:
                kept = dataclasses.replace(
                    TARGET, maximise="", stroke_least=KEPT * 1e-3 * float(best[STROKE])
                )
                light = problem(family, 1e-3 * float(best["coil_mm"]), kept)
                lightest[family], _ = _searched(light, store, engine, f"{family}, lightest")
    text = answer(tables, lightest)
    with folder_of(folder) as (work, _):
        rows = [{"motor": f, **r} for f, records in tables.items() for r in records]
        StudyTable.of_records(rows).save(work / "best_per_diameter")
        light_rows = [{"motor": f, **r} for f, r in lightest.items()]
        StudyTable.of_records(light_rows).save(work / "lightest")
        save_figure(figure(tables), work / "coil_diameter")
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
