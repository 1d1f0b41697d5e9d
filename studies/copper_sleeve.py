"""What a copper sleeve on the pole buys, and what it costs.

Run ``python -m studies.copper_sleeve --out out/copper_sleeve``.  The long-stroke bass driver for
the home gets sleeves of several thicknesses.  The coil and its clearance stay: a thicker sleeve
takes its room from the pole, so the gap between steel and steel grows with it.  L(x), and the
distortion of a tone with eddy currents and the steel's saturation, come from the field.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import motor
from motor.base.whole_files import folder_of
from motor.design.design import Design
from motor.driver.run import SteelBand, steel_band, system_of
from motor.report.files.folder import save_figure, write_rows
from motor.report.style import sheet, style
from motor.results.impedance import BlockedImpedance, blocked_impedance
from motor.results.motor_result import MotorResult
from studies.options import as_command, read_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DESIGN = Path(__file__).parent / "designs" / "home_bass_long_stroke.toml"
SLEEVE = "copper_sleeve"
THICKNESSES = (0.0, 0.2e-3, 0.4e-3, 0.8e-3, 1.2e-3)
FREQUENCIES = (20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0)
SHOWN = 200.0
"""Hertz, at which L(x) is drawn: the upper end of what the driver plays with large strokes."""
TONE, VOLTAGE = 100.0, 12.0
"""Hertz and V r.m.s. of the tone whose distortion is told."""
STROKE = 10e-3
"""Over plus and minus this many metres the swing of L(x) is taken."""


@dataclass(frozen=True)
class Variant:
    """One sleeve: its thickness (0 for none), the motor, the coil's impedance, distortion."""

    thickness: float
    result: MotorResult
    impedance: BlockedImpedance
    band: SteelBand

    def inductance(self, frequency: float) -> tuple[Any, Any]:
        """Return displacements in metres and L in henry at a frequency."""
        curve = self.impedance.characteristic(frequency)
        return np.array(curve.x), np.array(curve.values)

    def swing(self, frequency: float) -> float:
        """Return the largest less the smallest L within STROKE, in henry."""
        x, values = self.inductance(frequency)
        return float(np.ptp(np.interp(np.linspace(-STROKE, STROKE, 81), x, values)))

    def row(self) -> dict[str, float]:
        """Return the figures, units in the names."""
        one = self.result
        at = {f: float(np.interp(0.0, *self.inductance(f))) for f in (SHOWN, 1000.0)}
        return {
            "sleeve_mm": self.thickness * 1e3,
            "gap_width_mm": one.design.geometry.gap.width * 1e3,
            "bl_at_rest_Tm": one.bl_curve.at_rest.value,
            "motor_constant_N2_per_W": one.motor_constant.value,
            "inductance_at_200_Hz_mH": at[SHOWN] * 1e3,
            "inductance_at_1000_Hz_mH": at[1000.0] * 1e3,
            "swing_at_200_Hz_mH": self.swing(SHOWN) * 1e3,
            "thd_percent": self.band.best * 100,
            "thd_at_most_percent": self.band.most * 100,
            "thd_with_one_permeability_percent": self.band.thd * 100,
            "thd_on_minor_loops_percent": self.band.loops * 100,
            "thd_along_curve_percent": self.band.curve * 100,
        }


def with_sleeve(design: Design, thickness: float) -> Design:
    """Return the design with a sleeve of a thickness in metres, its outside where it was."""
    geometry: Any = design.geometry
    (sleeve,) = (ring for ring in geometry.rings if ring.name == SLEEVE)
    others = tuple(ring for ring in geometry.rings if ring.name != SLEEVE)
    pole = sleeve.outer_diameter - 2 * thickness
    fitted = dataclasses.replace(sleeve, inner_diameter=pole) if thickness else None
    return design.replace(
        name=f"{thickness * 1e3:g} mm of copper" if thickness else "no sleeve",
        geometry=dataclasses.replace(
            geometry,
            pole_diameter=pole,
            gap_width=geometry.gap_width + (geometry.pole_diameter - pole) / 2,
            rings=others if fitted is None else (fitted, *others),
        ),
    )


def variants() -> list[Variant]:
    """Return the motor with each sleeve, solved."""
    design, found = motor.read_design(DESIGN), []
    for thickness in THICKNESSES:
        result = motor.solve(with_sleeve(design, thickness))
        system = system_of(result, compute=True)
        (band,) = steel_band(system, VOLTAGE, [TONE], result=result)
        impedance = blocked_impedance(result, None, FREQUENCIES)
        found.append(Variant(thickness, result, impedance, band))
    return found


def figure(found: list[Variant]) -> Figure:
    """Draw L over displacement and over frequency, and gain and cost over the thickness."""
    look = style()
    drawn, axes = sheet(2, 2, width=4.75, height=3.5)
    over_x, over_f, gain, cost = axes.flat
    for k, (one, shade) in enumerate(zip(found, look.shades(len(found)), strict=True)):
        how = {"color": shade, "marker": look.marker(k), "ms": 3.5, "lw": 1.8}
        x, values = one.inductance(SHOWN)
        over_x.plot(x * 1e3, values * 1e3, label=one.result.design.name, **how)
        coil = one.impedance
        over_f.semilogx(coil.frequency, coil.inductance[:, coil.rest] * 1e3, **how)
    over_x.axvspan(-STROKE * 1e3, STROKE * 1e3, color=look.gap, alpha=0.5, lw=0)
    over_x.set(xlabel="displacement in mm, outwards positive", ylabel=f"L at {SHOWN:g} Hz in mH")
    over_x.legend(fontsize=8, frameon=False)
    over_f.set(xlabel="frequency in Hz", ylabel="L at rest in mH")
    rows = [one.row() for one in found]
    t = [row["sleeve_mm"] for row in rows]
    gain.plot(t, [row["swing_at_200_Hz_mH"] for row in rows], color=look.ink, marker="o", ms=4)
    gain.set_ylabel(f"swing of L within ±{STROKE * 1e3:g} mm\nat {SHOWN:g} Hz in mH")
    cost.plot(t, [row["motor_constant_N2_per_W"] for row in rows], color=look.ink, marker="o", ms=4)
    cost.set_ylabel("Bl²/Re in N²/W")
    for ax in (gain, cost):
        ax.set_xlabel("thickness of the sleeve in mm")
    for ax in axes.flat:
        ax.set_ylim(0, 1.08 * ax.get_ylim()[1])
        ax.grid(alpha=0.3)
    drawn.suptitle("Home bass driver: copper on the pole")
    return drawn


def answer(found: list[Variant]) -> str:
    """Return the result in words."""
    rows = [one.row() for one in found]
    return "\n".join(
        f"- {row['sleeve_mm']:g} mm: L {row['inductance_at_200_Hz_mH']:.2f} mH at {SHOWN:g} Hz "
        f"and {row['inductance_at_1000_Hz_mH']:.2f} mH at 1 kHz; swing within "
        f"±{STROKE * 1e3:g} mm {row['swing_at_200_Hz_mH']:.2f} mH at {SHOWN:g} Hz; "
        f"Bl²/Re {row['motor_constant_N2_per_W']:.1f} N²/W; distortion of {TONE:g} Hz at "
        f"{VOLTAGE:g} V {row['thd_percent']:.2f} %, at most {row['thd_at_most_percent']:.2f} % "
        f"({row['thd_with_one_permeability_percent']:.2f} % with steel of one permeability over "
        f"the period, {row['thd_on_minor_loops_percent']:.2f} % on small minor loops, "
        f"{row['thd_along_curve_percent']:.2f} % along its curve)"
        for row in rows
    )


def main() -> None:
    """Write table, figure and answer."""
    folder: Path = read_options("copper_sleeve", __doc__, workers=False).out
    found = variants()
    text = answer(found)
    with folder_of(folder) as (work, _):
        write_rows([one.row() for one in found], work / "sleeves.csv")
        save_figure(figure(found), work / "sleeve")
        (work / "answer.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    print(f"written: {folder}")


if __name__ == "__main__":
    as_command(main)
