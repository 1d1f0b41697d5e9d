"""Door woofers in a slammed door, from a cold morning to a hot noon.

Run ``python -m studies.door_slam --out out/door_slam``.  Both twins get a slam of 50 g at every
temperature between -40 and 105 degC: what of it the magnets' own pull holds, and what is left to
the glue.  Then the ferrite motor's plates are turned smaller, and pull, glue and Bl are weighed
against mass.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any

import motor
from motor.base.constants import ZERO_CELSIUS
from motor.base.whole_files import folder_of
from motor.report.files.folder import save_figure, write_rows
from motor.report.style import sheet, style
from motor.results.endurance import SN_LINE, Slam, endurance
from motor.results.loads import MotorLoads, motor_loads
from studies.options import as_command, read_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from motor.design.design import Design

DESIGNS = {"ferrite": "door_woofer_ferrite", "neodymium": "door_woofer_neodymium"}
DEGREES = (-40, -20, 0, 20, 40, 60, 85, 105)
GRAVITY = 9.80665
SLAM = 50 * GRAVITY
SMALLER = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0)
"""Millimetres off the diameters of back plate and top plate."""
Row = dict[str, Any]


def worst(loads: MotorLoads) -> Row:
    """Return the joint that a slam asks most of."""
    pair, load = max(
        ((pair, load) for pair, load in loads.joint_loads.items() if load is not None),
        key=lambda item: item[1].stress,
    )
    life = endurance(loads, slam=Slam(SLAM, 6e-3, 1e5), line=SN_LINE).lives[pair]
    assert load.joint.pull is not None
    assert life is not None
    return {
        "joint": " and ".join(pair).replace("_", " "),
        "pull_N": load.joint.pull.value,
        "pull_uncertainty_N": load.joint.pull.uncertainty,
        "inertia_N": load.inertial,
        "left_to_glue_N": load.tension,
        "glue_stress_MPa": load.stress / 1e6,
        "held_g": load.joint.pull.value / load.mass / GRAVITY,
        "miner_sum": life.damage,
    }


def slammed(design: Design) -> Row:
    """Solve a design and return its worst joint in a slam, with mass and Bl."""
    result = motor.solve(design)
    mass = 1e3 * result.mass_of()
    found = worst(motor_loads(result, acceleration=SLAM))
    return {"mass_g": mass, "bl_at_rest_Tm": result.bl_curve.at_rest.value, **found}


def over_temperature(design: Design) -> list[Row]:
    """Return the worst joint at every temperature."""
    return [
        {
            "temperature_degC": t,
            **slammed(dataclasses.replace(design, temperature=t + ZERO_CELSIUS)),
        }
        for t in DEGREES
    ]


def over_mass(design: Design) -> list[Row]:
    """Return the worst joint of the ferrite motor as its plates are turned smaller."""
    rows = []
    for off in SMALLER:
        plates = {
            name: getattr(design.geometry, name) - off * 1e-3
            for name in ("back_plate_diameter", "top_plate_outer_diameter")
        }
        lighter = design.replace(geometry=dataclasses.replace(design.geometry, **plates))
        rows.append({"plates_smaller_mm": off, **slammed(lighter)})
    return rows


def figure(found: dict[str, list[Row]], lighter: list[Row]) -> Figure:
    """Draw what is left to the glue over temperature, and over the ferrite motor's mass."""
    look = style()
    drawn, axes = sheet(1, 2, width=5.0, height=4.0)
    warm, light = axes[0]
    for k, (name, rows) in enumerate(found.items()):
        how = {**look.line(k), "marker": look.marker(k), "ms": 4, "lw": 1.8}
        t = [row["temperature_degC"] for row in rows]
        warm.plot(
            t, [row["left_to_glue_N"] for row in rows], label=f"{name}, left to the glue", **how
        )
        warm.plot(
            t,
            [row["pull_N"] for row in rows],
            label=f"{name}, held by the magnet",
            **how | {"lw": 0.8},
        )
    warm.set(xlabel="temperature in degC", ylabel="force at the worst joint in N")
    mass = [row["mass_g"] for row in lighter]
    light.plot(mass, [row["left_to_glue_N"] for row in lighter], color=look.ink, marker="o", ms=4)
    light.set(xlabel="mass of the ferrite motor in g", ylabel="left to the glue in N")
    right = light.twinx()
    right.plot(mass, [row["bl_at_rest_Tm"] for row in lighter], color=look.second, marker="s", ms=4)
    right.set_ylabel("Bl at rest in T m (squares)")
    warm.legend(frameon=False, fontsize=8)
    for ax in (warm, light):
        ax.set_ylim(bottom=0)
        ax.grid(alpha=0.3)
    return drawn


def answer(found: dict[str, list[Row]], lighter: list[Row]) -> str:
    """Return the result in words."""
    lines = ["A slam of 50 g along the axis, at the worst joint:"]
    for name, rows in found.items():
        cold, hot = rows[0], rows[-1]
        held, left = ([row[key] for row in (cold, hot)] for key in ("pull_N", "left_to_glue_N"))
        lines.append(
            f"- {name}, {cold['mass_g']:.0f} g, {hot['joint']}: {hot['inertia_N']:.0f} N of "
            f"inertia; the magnet holds {held[0]:.0f} N at -40 degC and {held[1]:.0f} N at "
            f"105 degC, so {left[0]:.0f} to {left[1]:.0f} N are left to the glue, "
            f"{hot['glue_stress_MPa']:.3f} MPa."
        )
    first, four = lighter[0], lighter[2]
    best = min(lighter, key=lambda row: float(row["left_to_glue_N"]))
    saved = first["mass_g"] - four["mass_g"]
    cost = 100 * (1 - four["bl_at_rest_Tm"] / first["bl_at_rest_Tm"])
    lines.append(
        f"Plates {four['plates_smaller_mm']:.0f} mm smaller take {saved:.0f} g off the ferrite "
        f"motor, leave {four['left_to_glue_N']:.0f} N instead of {first['left_to_glue_N']:.0f} N "
        f"to the glue at 20 degC, and cost {cost:.1f} % of Bl; least are "
        f"{best['left_to_glue_N']:.0f} N with plates {best['plates_smaller_mm']:.0f} mm smaller."
    )
    lines.append(
        "Strength and fatigue of glue are to be tested, hot, cold and aged; peel at a joint's edge "
        "is more than the mean stress given here."
    )
    return "\n".join(lines)


def main() -> None:
    """Write tables and figure of both twins and print the answer."""
    folder: Path = read_options("door_slam", __doc__, workers=False).out
    designs = {
        name: motor.read_design(Path(__file__).parent / "designs" / f"{file}.toml")
        for name, file in DESIGNS.items()
    }
    with folder_of(folder) as (work, _):
        found = {name: over_temperature(design) for name, design in designs.items()}
        lighter = over_mass(designs["ferrite"])
        for name, rows in found.items():
            write_rows(rows, work / f"{name}.csv")
        write_rows(lighter, work / "lighter.csv")
        save_figure(figure(found, lighter), work / "slam")
        text = answer(found, lighter)
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
