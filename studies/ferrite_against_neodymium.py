"""Ferrite against neodymium: two motors for one target, both optimised, side by side.

Run ``python -m studies.ferrite_against_neodymium --out out/ferrite_against_neodymium``.  The
magnet sits outside the coil where it is ferrite and inside where it is neodymium.  Prices are the
tables' invented defaults.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.patches import Polygon

import motor
from geometries import Role, outer_size
from motor.base.constants import ZERO_CELSIUS
from motor.base.whole_files import folder_of
from motor.cli.progress import engine_of, progress_bar
from motor.report.files.folder import save, save_figure
from motor.report.style import sheet, style
from motor.results.demagnetisation import ThermalCycle, thermal_cycle
from motor.study.multipliers import multipliers
from motor.study.problem import Answer, Problem
from motor.study.rules import Rule, keep_clearance, keep_shape, tie
from motor.study.searching import search
from motor.study.study_table import StudyTable
from motor.study.target import Target
from studies.options import as_command, read_options

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FOLDER = Path(__file__).parent / "designs"
NAMES = ("ferrite", "neodymium")
TARGET = Target(
    motor_constant_least=8.0,
    resistance=4.2,
    stroke_least=4.5e-3,
    coil_diameter_least=24e-3,
    coil_diameter_most=40e-3,
    outer_diameter_most=110e-3,
    height_most=45e-3,
    coldest=ZERO_CELSIUS - 30,
    hottest=ZERO_CELSIUS + 100,
    margin_least=20e3,
    minimise={"cost": 1.0, "mass": 1.0},
)
"""A car door's woofer: one unit of money weighs as much as one kilogram."""
Ranges = dict[str, tuple[float, float]]
FREE: dict[str, Ranges] = {
    "ferrite": {
        "coil.inner_diameter": (24e-3, 40e-3),
        "coil.winding_height": (9e-3, 20e-3),
        "geometry.gap_depth": (3.5e-3, 9e-3),
        "geometry.magnet_thickness": (8e-3, 25e-3),
        "geometry.magnet_outer_diameter": (65e-3, 110e-3),
        "geometry.back_plate_thickness": (3e-3, 9e-3),
    },
    "neodymium": {
        "coil.inner_diameter": (24e-3, 40e-3),
        "coil.winding_height": (9e-3, 20e-3),
        "geometry.pole_plate_thickness": (3.5e-3, 9e-3),
        "geometry.magnet_thickness": (4e-3, 16e-3),
        "geometry.cup_outer_diameter": (38e-3, 60e-3),
        "geometry.floor_thickness": (3e-3, 10e-3),
    },
}
RULES: dict[str, tuple[Rule, ...]] = {
    "ferrite": (
        keep_clearance,
        keep_shape,
        tie("geometry.top_plate_thickness", "geometry.gap_depth"),
        tie("geometry.top_plate_outer_diameter", "geometry.magnet_outer_diameter", -6e-3),
        tie("geometry.back_plate_diameter", "geometry.magnet_outer_diameter", -6e-3),
    ),
    "neodymium": (
        keep_clearance,
        keep_shape,
        tie("geometry.lip_height", "geometry.pole_plate_thickness"),
    ),
}
NEAR = 50.0
"""kA/m of margin to the knee below which the temperature is what decides the magnet."""
GAP = {"ferrite": ("gap_width", 0.1e-3), "neodymium": ("cup_inner_diameter", 0.2e-3)}
"""Dimension and change that widen the gap by 0.1 mm, for the sensitivity."""


def problem(name: str) -> Problem:
    """Return target and free dimensions of one motor; stroke by Bl at 82 % and free travel."""
    base = motor.read_design(FOLDER / f"door_woofer_{name}.toml")
    return Problem(base, TARGET, FREE[name], RULES[name])


def sensitivity(result: motor.MotorResult, name: str) -> float:
    """Return the relative change of Bl for a gap that is 0.1 mm wider."""
    design = result.design
    key, change = GAP[name]
    wider = {key: getattr(design.geometry, key) + change}
    other = motor.solve(design.replace(geometry=dataclasses.replace(design.geometry, **wider)))
    return other.bl_curve.at_rest.value / result.bl_curve.at_rest.value - 1


def side(
    result: motor.MotorResult, name: str, cold: ThermalCycle, hot: ThermalCycle
) -> dict[str, Any]:
    """Return all figures of one motor, units in the names."""
    summary, design = result.summary(), result.design
    outer, height = outer_size(design.regions)
    dimensions = {
        f"{f.name}_mm": round(getattr(design.geometry, f.name) * 1e3, 3)
        for f in dataclasses.fields(design.geometry)
        if f.metadata.get("quantity") == "length" and getattr(design.geometry, f.name)
    }
    keys = (
        "bl_at_rest_Tm",
        "bl_at_rest_uncertainty_Tm",
        "coil_resistance_ohm",
        "motor_constant_N2_per_W",
        "stroke_82_mm",
        "stroke_70_mm",
        "mechanical_limit_mm",
        "usable_stroke_mm",
        "winding_height_mm",
        "turns",
        "gap_width_mm",
        "gap_depth_mm",
        "mean_gap_flux_density_T",
        "magnet_mass_g",
        "steel_mass_g",
        "motor_mass_g",
        "coil_mass_with_enamel_g",
        "moving_mass_g",
        "resonance_Hz",
        "stray_field_at_100_mm_uT",
    )
    return {
        "magnet": design.materials.magnet,
        **{key: summary[key] for key in keys},
        "cost_invented_prices": sum(result.costs.values()),
        "outer_diameter_mm": outer * 1e3,
        "height_mm": height * 1e3,
        "coil_diameter_mm": design.coil.inner_diameter * 1e3,
        "bare_wire_mm": getattr(design.coil.wire, "bare_diameter", 0.0) * 1e3,
        "demag_margin_cold_kA_per_m": cold.margin / 1e3,
        "demag_margin_hot_kA_per_m": hot.margin / 1e3,
        "bl_cold_Tm": cold.there.at_rest.value,
        "bl_hot_Tm": hot.there.at_rest.value,
        "bl_change_per_tenth_mm_of_gap_percent": 100 * sensitivity(result, name),
        **{f"geometry.{key}": value for key, value in dimensions.items()},
    }


def table_of(sides: dict[str, dict[str, Any]]) -> StudyTable:
    """Return the two motors side by side, one row per figure."""
    keys = dict.fromkeys(key for record in sides.values() for key in record)
    rows = [{"figure": key, **{n: r.get(key) for n, r in sides.items()}} for key in keys]
    return StudyTable.of_records(rows)


def _section(result: motor.MotorResult, ax: Axes, title: str) -> None:
    """Draw a half section to scale."""
    look = style()
    fills = {Role.MAGNET: look.magnet, Role.STEEL: look.steel, Role.CONDUCTOR: look.conductor}
    for region in result.design.regions:
        points = [(1e3 * r, 1e3 * z) for r, z in region.outline]
        ax.add_patch(Polygon(points, fc=fills[region.role], ec="black", lw=0.6))
    for _, outline in result.design.coil.outlines()[:1]:
        points = [(1e3 * r, 1e3 * z) for r, z in outline]
        ax.add_patch(Polygon(points, fc=look.conductor, ec="none"))
    ax.set(title=title, xlabel="r in mm", ylabel="z in mm", xlim=(0, 56), ylim=(-36, 14))
    ax.set_aspect("equal")
    ax.grid(alpha=0.2)


def figure(results: dict[str, motor.MotorResult], sides: dict[str, dict[str, Any]]) -> Figure:
    """Draw Bl(x) on one axis, masses, and both half sections at the same scale."""
    drawn, axes = sheet(2, 2, width=5.4, height=4.2)
    look = style()
    for k, (name, result) in enumerate(results.items()):
        curve, line = result.bl_curve, look.line(k)
        axes[0, 0].plot(curve.x * 1e3, curve.bl, lw=2, label=name, **line)
        edge = result.usable_stroke.value
        axes[0, 0].plot(
            [-edge * 1e3, edge * 1e3],
            curve([-edge, edge]),
            look.marker(k),
            color=line["color"],
            ms=5,
        )
    axes[0, 0].set(
        xlabel="coil displacement x in mm (positive outwards)",
        ylabel="Bl in T m",
        title="marks: ends of the usable stroke",
    )
    axes[0, 0].set_ylim(bottom=0)
    axes[0, 0].grid(alpha=0.3)
    axes[0, 0].legend(frameon=False)
    parts = ("magnet_mass_g", "steel_mass_g")
    for k, record in enumerate(sides.values()):
        bottom = 0.0
        for part, colour in zip(parts, (look.magnet, look.steel), strict=True):
            label = part.partition("_")[0] if k == 0 else None
            axes[0, 1].bar(k, record[part], 0.55, bottom=bottom, color=colour, label=label)
            bottom += record[part]
        cost = record["cost_invented_prices"]
        axes[0, 1].text(k, bottom, f"cost {cost:.2f}\n{bottom:.0f} g", ha="center", va="bottom")
    axes[0, 1].set_xticks(range(len(sides)), list(sides))
    axes[0, 1].set(ylabel="motor mass in g", title="cost at invented prices")
    axes[0, 1].margins(y=0.25)
    axes[0, 1].legend(frameon=False)
    for ax, (name, result) in zip(axes[1], results.items(), strict=True):
        _section(result, ax, name)
    return drawn


def conclusion(answers: dict[str, Answer], sides: dict[str, dict[str, Any]]) -> str:
    """Return what the figures say, and what each requirement that binds costs."""
    lines = []
    for name, found in answers.items():
        costs = multipliers(problem(name), found.best)
        lines += [f"{name}: {found.sentence()}", *(costs.sentences() if costs else ())]
    a, b = (sides[name] for name in NAMES)

    def compare(key: str, words: str, unit: str) -> str:
        low, high = sorted(NAMES, key=lambda n: float(sides[n][key]))
        less, more = float(sides[low][key]), float(sides[high][key])
        ratio = f", {more / less:.1f} times as much" if less > 0 else ""
        return f"- {words}: {low} {less:.3g} {unit}, {high} {more:.3g} {unit}{ratio}."

    lines += [
        "",
        f"For Bl²/Re of {TARGET.motor_constant_least:g} N²/W at {TARGET.resistance:g} ohm and "
        f"{1e3 * (TARGET.stroke_least or 0):g} mm of stroke:",
        compare("motor_mass_g", "motor mass", "g"),
        compare("cost_invented_prices", "cost at the invented prices", "units"),
        compare("outer_diameter_mm", "outer diameter", "mm"),
        compare("height_mm", "height", "mm"),
        compare("coil_diameter_mm", "coil diameter", "mm"),
        compare("usable_stroke_mm", "usable stroke", "mm"),
        compare("stray_field_at_100_mm_uT", "stray field 100 mm away", "microtesla"),
        compare("resonance_Hz", "resonance", "Hz"),
    ]
    for name, record in sides.items():
        cold, hot = (record[f"demag_margin_{s}_kA_per_m"] for s in ("cold", "hot"))
        end = "cold" if cold < hot else "hot"
        state = "comes nearest to the knee" if min(cold, hot) > NEAR else "decides the magnet"
        lines.append(
            f"- {name}: the {end} end {state} (margin to the knee {cold:.0f} kA/m at "
            f"-30 degC, {hot:.0f} kA/m at 100 degC); from cold to hot Bl goes from "
            f"{record['bl_cold_Tm']:.2f} to {record['bl_hot_Tm']:.2f} T m; a gap 0.1 mm wider "
            f"costs {-record['bl_change_per_tenth_mm_of_gap_percent']:.1f} % of Bl."
        )
    lighter = min(NAMES, key=lambda n: float(sides[n]["motor_mass_g"]))
    cheaper = min(NAMES, key=lambda n: float(sides[n]["cost_invented_prices"]))
    if lighter == cheaper:
        lines.append(f"{lighter.capitalize()} is lighter and cheaper for this target.")
    else:
        mass = abs(a["motor_mass_g"] - b["motor_mass_g"]) / 1e3
        money = abs(a["cost_invented_prices"] - b["cost_invented_prices"])
        lines.append(
            f"{lighter.capitalize()} is lighter, {cheaper} cheaper: the {mass:.2f} kg saved cost "
            f"{money:.2f}, which pays if a kilogram less is worth more than {money / mass:.1f}."
        )
    return "\n".join(lines)


def main() -> None:
    """Optimise both motors, write tables, figures and the conclusion."""
    arguments = read_options("ferrite_against_neodymium", __doc__)
    folder: Path = arguments.out
    answers: dict[str, Answer] = {}
    results: dict[str, motor.MotorResult] = {}
    sides: dict[str, dict[str, Any]] = {}
    with engine_of(arguments.workers) as engine:
        for name in NAMES:
            with progress_bar(name) as move:
                answers[name] = search(
                    problem(name),
                    folder / "study.sqlite",
                    engine=engine,
                    progress=move,
                    study="ferrite against neodymium",
                )
            best = answers[name].best.design
            assert best is not None
            results[name] = motor.solve(best)
            assert TARGET.coldest is not None
            assert TARGET.hottest is not None
            cycles = [thermal_cycle(results[name], t) for t in (TARGET.coldest, TARGET.hottest)]
            sides[name] = side(results[name], name, *cycles)
    text = conclusion(answers, sides)
    with folder_of(folder) as (work, _):
        for name in NAMES:
            save(results[name], work / name)
        table_of(sides).save(work / "side_by_side")
        save_figure(figure(results, sides), work / "side_by_side")
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
