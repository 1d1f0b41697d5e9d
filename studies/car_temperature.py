"""Door woofers through a car's winter and summer: ferrite against neodymium.

Run ``python -m studies.car_temperature --out out/car_temperature``.  Both twins are taken from
20 degC to every temperature between -40 and +120 degC and back, without coil current and with
the peak of a clipping amplifier opposing the magnet.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import motor
from motor.base.constants import ZERO_CELSIUS
from motor.base.whole_files import folder_of
from motor.report.files.folder import save_figure, save_table
from motor.report.style import sheet, style
from motor.results.temperature_sweep import TemperatureSweep, temperature_sweep
from studies.options import as_command, read_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DESIGNS = ("door_woofer_ferrite", "door_woofer_neodymium")
TEMPERATURES = [ZERO_CELSIUS + t for t in range(-40, 121, 20)]
CLIPPING_PEAK = 4.0
"""Ampere: 17 V across 4.2 ohm, what a car's supply without a converter gives at most."""


def sweeps(current: float) -> list[TemperatureSweep]:
    """Return the temperature sweep of each twin."""
    folder = Path(__file__).parent / "designs"
    designs = [motor.read_design(folder / f"{name}.toml") for name in DESIGNS]
    return [temperature_sweep(d, TEMPERATURES, coil_current=current) for d in designs]


def figure(found: list[TemperatureSweep]) -> Figure:
    """Draw both twins: Bl, Bl^2/Re and margin to the knee over temperature."""
    look = style()
    drawn, grid = sheet(1, 3, width=4.0, height=4.4)
    axes = grid[0]
    for k, sweep in enumerate(found):
        rows = sweep.rows()
        t = [row["temperature_degC"] for row in rows]
        for ax, key in zip(
            axes,
            ("bl_at_rest_Tm", "motor_constant_N2_per_W", "demag_margin_kA_per_m"),
            strict=True,
        ):
            values = [row[key] for row in rows]
            state = {**look.line(k), "marker": look.marker(k), "label": sweep.design.name}
            ax.plot(t, values, ms=4, lw=1.8, **state)
    for ax, label in zip(
        axes,
        ("Bl at rest in T m", "Bl²/Re in N²/W", "margin to the knee in kA/m"),
        strict=True,
    ):
        ax.set(xlabel="temperature of magnet and coil in degC", ylabel=label)
        ax.grid(alpha=0.3)
    axes[0].set_ylim(bottom=0)
    axes[1].set_ylim(bottom=0)
    axes[2].axhline(0, color="black", lw=1)
    axes[0].legend(frameon=False, fontsize=8, loc="lower left")
    return drawn


def answer(found: list[TemperatureSweep], current: float) -> str:
    """Return the result in words."""
    lines = [f"With {current:g} A opposing the magnet:"]
    for sweep in found:
        rows = sweep.rows()
        cold, hot = rows[0], rows[-1]
        safe = sweep.safe_range
        span = (
            "nowhere"
            if safe is None
            else f"from {safe[0] - ZERO_CELSIUS:.0f} to {safe[1] - ZERO_CELSIUS:.0f} degC"
        )
        worst = min(row["bl_back_at_20_degC_Tm"] or 0.0 for row in rows)
        home = rows[[round(t) for t in sweep.temperatures].index(293)]["bl_at_rest_Tm"] or 0.0
        tight = min(rows, key=lambda row: row["demag_margin_kA_per_m"] or 0.0)
        least = (
            f"{tight['demag_margin_kA_per_m']:.0f} ± "
            f"{tight['demag_margin_uncertainty_kA_per_m']:.0f} kA/m are left to the knee at "
            f"{tight['temperature_degC']:.0f} degC;"
        )
        lines.append(
            f"- {sweep.design.name}: short of the knee {span}; Bl {cold['bl_at_rest_Tm']:.2f} T m "
            f"at {cold['temperature_degC']:.0f} degC, {hot['bl_at_rest_Tm']:.2f} T m at "
            f"{hot['temperature_degC']:.0f} degC; {least} lost for good at worst "
            f"{100 * max(0.0, 1 - worst / home):.2f} % of Bl."
        )
        lines += [f"  warning: {note}" for note in sweep.notes]
    return "\n".join(lines)


def main() -> None:
    """Write tables and figures of both twins and print the answer."""
    folder: Path = read_options("car_temperature", __doc__, workers=False).out
    texts = []
    with folder_of(folder) as (work, _):
        for current in (0.0, CLIPPING_PEAK):
            found = sweeps(current)
            texts.append(answer(found, current))
            if current == 0:
                for name, sweep in zip(DESIGNS, found, strict=True):
                    save_table(sweep, "temperature", work / name)
                save_figure(figure(found), work / "twins")
        text = "\n\n".join(texts)
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
