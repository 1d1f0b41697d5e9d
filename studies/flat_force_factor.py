"""What a Bl(x) that is flat over 8 mm to either side costs, with and without a shaped pole.

Run ``python -m studies.flat_force_factor --out out/flat_force_factor``.  A long-stroke bass motor
drawn as outlines.  For one limit of Bl(x)'s deviation after the other the lightest motor is sought
that has the force per watt of the one drawn, at the same resistance, room for the coil and most
moving mass: with winding, turns, gap, magnet and pole's length free, and with six points of the
pole's contour besides, which a workshop turns with straight cuts.  And the pole of the motor as
drawn is turned alone, for the flattest Bl(x) that leaves a share of its force per watt.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import motor
from geometries import Contour
from motor.base.whole_files import folder_of
from motor.cli.progress import engine_of, progress_bar
from motor.report.files.folder import save, save_figure, write_rows
from motor.report.style import sheet, style
from motor.results.motor_result import MotorResult, read_off_other_coil
from motor.study.contours import free_contours
from motor.study.multipliers import multipliers
from motor.study.problem import Answer, Problem
from motor.study.processes import Engine
from motor.study.reshaped import Reshaped, foretold
from motor.study.searching import search
from motor.study.target import Target
from studies.options import as_command, read_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DESIGN = Path(__file__).parent / "designs" / "bass_long_stroke_drawn.toml"
STUDY, STORE = "flat force factor", "study.sqlite"
LIMITS, SHAPED_LIMITS = (6.0, 3.0, 2.0, 1.0), (2.0, 1.0)
"""Of the deviation within the design's band, per cent."""
LEFT = 0.8
"""Share of its Bl²/Re that a motor of which only the pole is turned has to keep."""
RESISTANCE, CONSTANT, FREE_WAY, MOVING = 6.4, 15.0, 10e-3, 80e-3
"""Ohm, N^2/W, metres either way, kg at most: what every motor has to keep."""
FREE = {
    "coil.winding_height": (10e-3, 70e-3),
    "coil.rest_position": (-5e-3, 5e-3),
    "geometry.gap_depth": (5e-3, 26e-3),
    "geometry.magnet_thickness": (16e-3, 60e-3),
    "geometry.magnet_diameter": (80e-3, 150e-3),
    "geometry.pole_extension": (3e-3, 16e-3),
}
PLAIN, SHAPED, TURNED = "plain", "shaped", "only the pole turned"
Values = Mapping[str, Any]
BAND = 8e-3
CONTOUR = Contour(
    *("yoke", (6, 7, 8, 9, 10, 11), 4e-3),
    least_radius=0.5e-3,
    least_wall=5e-3,
    least_clearance=1.2e-3,
    coil_clearance=0.3e-3,
    coil_way=BAND,
)
"""What a workshop may turn, and what stays clear of plate and coil."""
UNDERCUT = {"geometry.yoke_6_r": -1.5e-3, "geometry.yoke_7_r": -1.5e-3}
"""A shape to set out from beside the plain pole: how far points stand back, metres."""
ASIDE = 0.2e-3
"""How far the coil may stand off its place in a production."""
DEVIATION, ASYMMETRY = "bl_deviation_in_band_percent", "bl_asymmetry_in_band_percent"
DOUBT, MOTOR, COIL = "bl_deviation_in_band_uncertainty_percent", "motor_mass_g", "moving_mass_g"
FORCE, AWAY = "motor_constant_N2_per_W", "deviation_with_coil_aside_percent"
TOLD = (
    *(DEVIATION, DOUBT, ASYMMETRY, "bl_at_rest_Tm", FORCE, COIL, MOTOR),
    *("steel_mass_g", "winding_height_mm", "turns", "gap_depth_mm"),
)


def problem(way: str, limit: float) -> Problem:
    """Return the search by one of the two ways for a deviation in per cent."""
    target = Target(
        resistance=RESISTANCE,
        motor_constant_least=CONSTANT,
        minimise_figure="motor_mass",
        further={
            "bl_deviation_in_band_most": limit / 100,
            "mechanical_limit_least": FREE_WAY,
            "moving_mass_most": MOVING,
        },
    )
    design = motor.read_design(DESIGN)
    if way == PLAIN:
        return Problem(design, target, FREE)
    ready, moving = free_contours(design, [CONTOUR])
    return Problem(ready, target, FREE | moving, contours=(CONTOUR,))


@dataclasses.dataclass(frozen=True)
class Found:
    """One search's end."""

    way: str
    limit: float
    answer: Answer
    result: MotorResult
    costs: tuple[str, ...]

    @property
    def row(self) -> dict[str, Any]:
        """Its figures."""
        figures = self.result.summary()
        asked = {"way": self.way, "limit_percent": self.limit, "met": self.answer.feasible}
        return asked | {key: figures[key] for key in TOLD} | aside(self.result)


def aside(result: MotorResult) -> dict[str, float]:
    """Return the deviation in per cent with the coil a little out of place, at worst."""
    coil, worst = result.design.coil, 0.0
    for way in (-ASIDE, ASIDE):
        moved = dataclasses.replace(coil, rest_position=coil.rest_position + way)
        other = read_off_other_coil(result.design.replace(coil=moved), result.field)
        worst = max(worst, other.summary()[DEVIATION])
    return {AWAY: worst}


def turned() -> Problem:
    """Return the search for the flattest Bl(x) of the motor as drawn by its pole alone."""
    design = motor.read_design(DESIGN)
    constant = LEFT * float(motor.solve(design).summary()["motor_constant_N2_per_W"])
    target = Target(motor_constant_least=constant, minimise_figure="bl_deviation_in_band")
    ready, moving = free_contours(design, [CONTOUR])
    rest = {"coil.rest_position": FREE["coil.rest_position"]}
    return Problem(ready, target, rest | moving, contours=(CONTOUR,))


def found(
    way: str, limit: float, asked: Problem, store: Path, engine: Engine, starts: Sequence[Values]
) -> Found:
    """Return the end of one search."""
    label = f"{way}, {limit:g} %" if limit else way
    with progress_bar(label) as move:
        end = search(asked, store, engine=engine, progress=move, study=STUDY, starts=starts)
    assert end.best.design is not None
    costs = multipliers(asked, end.best)
    words = tuple(costs.sentences()) if costs else ()
    return Found(way, limit, end, motor.solve(end.best.design), words)


def front(store: Path, engine: Engine) -> list[Found]:
    """Return the ends of all searches, each limit's from the one before."""
    plain: list[Found] = []
    for limit in LIMITS:
        before = [end.answer.best.values for end in plain[-1:]]
        plain.append(found(PLAIN, limit, problem(PLAIN, limit), store, engine, before))
    ends = list(plain)
    for end in plain:
        if end.limit in SHAPED_LIMITS:
            before = [e.answer.best.values for e in ends[-1:] if e.way == SHAPED]
            before += [end.answer.best.values, {**end.answer.best.values, **UNDERCUT}]
            asked = problem(SHAPED, end.limit)
            ends.append(found(SHAPED, end.limit, asked, store, engine, before))
    return [*ends, found(TURNED, 0.0, turned(), store, engine, [])]


def answer(drawn: MotorResult, ends: Sequence[Found]) -> str:
    """Return the result in words."""
    before = drawn.summary() | aside(drawn)
    lines = [f"- as drawn: {_told(before, before)}."]
    for end in ends:
        asked = f", {end.limit:g} %" if end.limit else ""
        missed = "" if end.answer.feasible else ", out of reach"
        lines.append(f"- {end.way}{asked}{missed}: {_told(end.row, before)}.")
        lines += [f"  {words}." for words in end.costs]
    rows = [end.row for end in ends if end.way == PLAIN]
    for one, other in itertools.pairwise(rows):
        less = one[DEVIATION] - other[DEVIATION]
        motor_mass, moving = ((other[k] - one[k]) / less for k in (MOTOR, COIL))
        lines.append(
            f"- from {one['limit_percent']:g} to {other['limit_percent']:g} % a point of per cent "
            f"costs {motor_mass:.0f} g of motor and {moving:.1f} g of moving mass."
        )
    head = f"Bl(x) over {1e3 * BAND:g} mm to either side, the lightest motor of {CONSTANT:g} N²/W "
    head += "for each limit:"
    return "\n".join([head, *lines])


def _told(row: Values, before: Values) -> str:
    """Return the figures of a motor; its efficiency goes as Bl²/Re over the moving mass squared."""
    efficiency = 100 * row[FORCE] / before[FORCE] * (before[COIL] / row[COIL]) ** 2
    share = f"deviation {row[DEVIATION]:.2f} ± {row[DOUBT]:.2g} %"
    share += f" ({row[AWAY]:.2f} % with the coil {1e3 * ASIDE:g} mm aside)"
    return (
        f"{share}, asymmetry {row[ASYMMETRY]:.2f} %, Bl²/Re {row[FORCE]:.1f} N²/W, motor "
        f"{row[MOTOR]:.0f} g, moving mass {row[COIL]:.1f} g, efficiency {efficiency:.0f} %, "
        f"winding {row['winding_height_mm']:.1f} mm in a gap of {row['gap_depth_mm']:.1f} mm"
    )


def figure(drawn: MotorResult, ends: Sequence[Found]) -> Figure:
    """Draw what flatness costs in mass and moving mass, and Bl(x) of the flattest of each way."""
    page, axes = sheet(1, 3, width=4.6, height=4.4)
    look = style()
    mass, moving, curves = axes[0]
    for k, way in enumerate((PLAIN, SHAPED, TURNED)):
        rows = [end.row for end in ends if end.way == way]
        label = f"{way}, {100 * LEFT:g} % of Bl²/Re" if way == TURNED else way
        how: dict[str, Any] = {"color": look.series[k], "marker": look.marker(k), "label": label}
        for ax, key in ((mass, MOTOR), (moving, COIL)):
            ax.plot([r[DEVIATION] for r in rows], [r[key] for r in rows], ms=6, **how)
    summary = drawn.summary()
    for ax, key, words in ((mass, MOTOR, "motor mass in g"), (moving, COIL, "moving mass in g")):
        ax.plot(summary[DEVIATION], summary[key], "x", color=look.ink, ms=8, label="as drawn")
        ax.set(xlabel="largest deviation of Bl(x) in %", ylabel=words, xlim=(0, None))
    x = np.linspace(-1.5 * BAND, 1.5 * BAND, 201)
    curves.axvspan(-1e3 * BAND, 1e3 * BAND, color=look.safe, lw=0, zorder=0)
    last = {end.way: end.result for end in ends}
    for k, (label, result) in enumerate([*last.items(), ("as drawn", drawn)]):
        curve = result.bl_curve
        near = x[(x >= curve.x[0]) & (x <= curve.x[-1])]
        curves.plot(1e3 * near, curve(near) / curve.at_rest.value, label=label, **look.line(k))
    curves.set(xlabel="coil displacement x in mm (positive outwards)", ylabel="Bl over Bl at rest")
    page.suptitle(f"Bl(x) flat over {1e3 * BAND:g} mm to either side, and what it costs")
    for ax in (mass, moving, curves):
        ax.grid(alpha=0.3)
        ax.legend(fontsize=8)
    return page


def main() -> None:
    """Search all, write table, figures, the flattest motors and the answer."""
    arguments = read_options("flat_force_factor", __doc__, stores=[STORE])
    folder: Path = arguments.out
    drawn = motor.solve(motor.read_design(DESIGN))
    with engine_of(arguments.workers) as engine:
        ends = front(folder / STORE, engine)
    text = answer(drawn, ends)
    last = {end.way: end for end in ends}
    before = foretold(turned(), last[TURNED].answer.best.values)
    shape = Reshaped((CONTOUR,), drawn, last[TURNED].result, before)
    text += "\nOnly the pole turned:\n" + "\n".join(f"- {words}" for words in shape.sentences())
    with folder_of(folder) as (work, _):
        write_rows([end.row for end in ends], work / "ends.csv")
        save_figure(figure(drawn, ends), work / "flat")
        save_figure(shape.plot(), work / "contour")
        for name, end in (("flattest", last[PLAIN]), ("turned", last[TURNED])):
            save(end.result, work / name)
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
