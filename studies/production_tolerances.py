"""Production: what the tolerances of magnet, gap, plates, coil and steel cost.

Run ``python -m studies.production_tolerances --out out/production_tolerances``.  Both door woofers
are drawn 256 times within the same tolerances.
"""

from __future__ import annotations

from pathlib import Path

import motor
from motor.base.whole_files import folder_of
from motor.cli.progress import engine_of
from motor.report.figures.study import production_sheet
from motor.report.files.folder import save_figure
from motor.report.labels import label_of
from motor.study.plan import Plan
from motor.study.production import Production, Tolerance
from motor.study.rules import Rule, tie
from motor.study.study_table import StudyTable
from motor.study.tolerance import Scatter, read_scatter, share_inside, tolerance_plan
from studies.options import as_command, read_options, solved

FOLDER = Path(__file__).parent / "designs"
COMMON = (
    Tolerance("factors.remanence", 0.03),
    Tolerance("factors.steel", 0.03),
    Tolerance("coil.rest_position", 0.3e-3, "normal"),
    Tolerance("coil.winding_height", 0.2e-3),
    Tolerance("coil.wire.bare_diameter", 2e-6),
    Tolerance("factors.stiffness", 0.13, "normal"),
)
"""Three per cent of remanence is what grade tables leave; the rest is invented demo data."""
OWN: dict[str, tuple[tuple[Tolerance, ...], tuple[Rule, ...]]] = {
    "door_woofer_ferrite": (
        (
            Tolerance("geometry.gap_width", 0.05e-3),
            Tolerance("geometry.top_plate_thickness", 0.1e-3),
        ),
        (tie("geometry.gap_depth", "geometry.top_plate_thickness"),),
    ),
    "door_woofer_neodymium": (
        (
            Tolerance("geometry.cup_inner_diameter", 0.1e-3),
            Tolerance("geometry.pole_plate_thickness", 0.1e-3),
        ),
        (),
    ),
}
"""What limits the gap in each: its width to the top plate, or the cup's diameter."""
FIGURES = ("bl_at_rest_Tm", "stroke_82_mm", "resonance_Hz")
BAND = 0.03
"""Bl may leave its nominal value by this share."""
STROKE_BAND = 0.04
RESONANCE_BAND = 0.05

Limits = dict[str, tuple[float | None, float | None]]


def plan(name: str, power: int = 8) -> tuple[Plan, Production]:
    """Return the drawn motors of a design, and what scatters."""
    own, rules = OWN[name]
    production = Production((*own, *COMMON), power=power)
    design = motor.read_design(FOLDER / f"{name}.toml")
    return tolerance_plan(design, production, rules=rules), production


def limits_of(design: motor.Design) -> Limits:
    """Return the limits around the nominal design's figures."""
    nominal = motor.solve(design).summary()
    bl, stroke, resonance = (nominal[name] for name in FIGURES)
    return {
        "bl_at_rest_Tm": (bl * (1 - BAND), bl * (1 + BAND)),
        "stroke_82_mm": (stroke * (1 - STROKE_BAND), None),
        "resonance_Hz": (resonance * (1 - RESONANCE_BAND), resonance * (1 + RESONANCE_BAND)),
    }


def answer(name: str, table: StudyTable, scatters: list[Scatter], limits: Limits) -> str:
    """Return the result of one design in words."""
    lines = [
        f"{name}: {100 * share_inside(table, limits):.1f} % of {len(table)} drawn motors are "
        f"inside all limits (Bl ±{100 * BAND:.0f} %, stroke no more than "
        f"{100 * STROKE_BAND:.0f} % short, resonance ±{100 * RESONANCE_BAND:.0f} %)."
    ]
    for scatter in scatters:
        ranked = sorted(scatter.shares.items(), key=lambda item: -item[1])[:3]
        causes = ", ".join(f"{key} {100 * share:.0f} %" for key, share in ranked)
        alone = 100 * share_inside(table, {scatter.name: limits[scatter.name]})
        lines.append(
            f"- {label_of(scatter.name)}: mean {scatter.mean:.4g}, 95 % between {scatter.low:.4g} "
            f"and {scatter.high:.4g}, {alone:.1f} % inside its limit; variance from {causes}."
        )
    return "\n".join(lines)


def main() -> None:
    """Draw and solve both designs, write tables, figures and the answer."""
    stores = {name: f"{name}.sqlite" for name in OWN}
    arguments = read_options("production_tolerances", __doc__, stores=list(stores.values()))
    folder: Path = arguments.out
    texts = []
    with engine_of(arguments.workers) as engine, folder_of(folder) as (work, _):
        for name in OWN:
            asked, production = plan(name)
            table = solved(asked, folder / stores[name], engine, study=f"production of {name}")
            limits = limits_of(asked.base)
            scatters = [read_scatter(table, production, key) for key in FIGURES]
            texts.append(answer(name, table, scatters, limits))
            rows = [
                {
                    "figure": s.name,
                    "mean": s.mean,
                    "standard_deviation": s.deviation,
                    "low_95": s.low,
                    "high_95": s.high,
                    **{f"variance_share_{key}": share for key, share in s.shares.items()},
                }
                for s in scatters
            ]
            table.save(work / f"{name}_motors")
            StudyTable.of_records(rows).save(work / f"{name}_scatter")
            save_figure(production_sheet(table, scatters, limits), work / name)
        text = "\n\n".join(texts)
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
