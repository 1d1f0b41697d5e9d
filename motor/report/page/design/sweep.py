"""The page's section on temperature: from -40 to 120 degC and back, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput, SolveError
from motor.materials import REFERENCE_TEMPERATURE
from motor.report.page.assembling import Grid
from motor.report.page.design.plots import sweep_plots
from motor.results.demagnetisation import thermal_cycle
from motor.results.motor_result import solve
from motor.results.temperature_sweep import TemperatureSweep

if TYPE_CHECKING:
    from motor.report.page.theme import Plot
    from motor.results.motor_result import MotorResult

__all__ = ["SweepSection", "sweep_section"]

TEMPERATURES = tuple(range(-40, 121, 20))
COLUMNS = (
    ("degC", "temperature_degC", "{:.0f}"),
    ("Bl at rest in T m", "bl_at_rest_Tm", "{:.3f}"),
    ("82 % stroke in mm", "stroke_82_mm", "{:.2f}"),
    ("Re in ohm", "coil_resistance_ohm", "{:.3f}"),
    ("Bl²/Re in N²/W", "motor_constant_N2_per_W", "{:.2f}"),
    ("margin to the knee in kA/m", "demag_margin_kA_per_m", "{:+.0f}"),
    ("± numerical", "demag_margin_uncertainty_kA_per_m", "{:.0f}"),
    ("volume past the knee", "share_past_knee", "{:.2%}"),
    ("remanence lost", "remanence_lost", "{:.2%}"),
    ("Bl back at 20 degC in T m", "bl_back_at_20_degC_Tm", "{:.3f}"),
    ("Bl lost for good in %", "irreversible_loss_percent", "{:.2g}"),
)


@dataclass(frozen=True)
class SweepSection:
    """What the section shows.

    Parameters
    ----------
    words : str
    notes : list of str
        Warnings.
    table : Grid or None
    plots : mapping of name to Plot
    """

    words: str
    notes: list[str] = field(default_factory=list)
    table: Grid | None = None
    plots: dict[str, Plot] = field(default_factory=dict)


def sweep_section(result: MotorResult) -> SweepSection:
    """Take the motor to each temperature and back; a cycle that fails ends the section in words."""
    home = result
    try:
        cold = result.design.at(REFERENCE_TEMPERATURE)
        if cold != result.design:
            home = solve(cold)
        cycles = tuple(thermal_cycle(home, t + ZERO_CELSIUS) for t in TEMPERATURES)
    except (InvalidInput, SolveError) as problem:
        return SweepSection(f"There is no sweep over temperature for this design: {problem}.")
    sweep = TemperatureSweep(home.design, cycles)
    safe, lost = sweep.safe_range, 100 * max(cycle.lost for cycle in cycles)
    if not any(cycle.magnets for cycle in cycles):
        words = "No coercivity is known of this magnet, so its margin to the knee is not known."
    elif safe is None:
        words = f"Even at 20 degC a magnet is past its knee: up to {lost:.2g} % of Bl is lost."
    elif safe[0] <= TEMPERATURES[0] + ZERO_CELSIUS and safe[1] >= TEMPERATURES[-1] + ZERO_CELSIUS:
        words = (
            f"From {safe[0] - ZERO_CELSIUS:.0f} to {safe[1] - ZERO_CELSIUS:.0f} degC every "
            "magnet stays short "
            "of its knee" + (f"; at most {lost:.2g} % of Bl is lost." if lost else ".")
        )
    else:
        words = (
            f"Every magnet stays short of its knee from {safe[0] - ZERO_CELSIUS:.0f} to "
            f"{safe[1] - ZERO_CELSIUS:.0f} degC; beyond that up to {lost:.2g} % of Bl is lost "
            "for good."
        )
    words += (
        " Each point is a thermal cycle from 20 degC to that temperature, magnet and coil alike,"
        " and back."
        " The margin is that of the worst place of the magnet to the field that would cost it 1 %"
        " of its remanence."
    )
    open_ends = [
        f"{t:.0f}"
        for t, cycle in zip(TEMPERATURES, cycles, strict=True)
        if abs(cycle.margin) < cycle.margin_uncertainty
    ]
    if open_ends:
        words += f" At {', '.join(open_ends)} degC it is smaller than its numerical uncertainty."
    rows = sweep.rows()
    cells = [
        tuple("none" if row[key] is None else form.format(row[key]) for _, key, form in COLUMNS)
        for row in rows
    ]
    heads = tuple(head for head, _, _ in COLUMNS)
    return SweepSection(words, sweep.notes, Grid(heads, cells, heads[1:]), sweep_plots(sweep))
