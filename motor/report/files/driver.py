"""The tests of one driver as files: tables, figures, and what is handed over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from motor.base.csv_table import CsvTable
from motor.base.media import plot_text
from motor.base.whole_files import folder_of
from motor.design.characteristic import Table
from motor.driver.distortion import DistortionMap
from motor.driver.hand_over import fit_polynomial, modes_table, sampled_table, spline_table
from motor.driver.parts import DriverSystem
from motor.driver.run import DriverRun
from motor.driver.small_signal import small_signal
from motor.driver.spice import spice_subcircuit
from motor.report.figures.driver import mark_band
from motor.report.figures.driver_panels import TITLES
from motor.report.files.folder import save_figure
from motor.report.style import blank
from motor.results.motor_result import MotorResult

if TYPE_CHECKING:
    from motor.driver.measured import BlComparison
    from motor.driver.transient import Motion

__all__ = ["map_table", "save_driver"]

FIT_STROKES = 1.25
"""Range of the polynomial over the usable stroke."""


def map_table(found: DistortionMap) -> CsvTable:
    """Return the map: one row for each frequency and level with a steady motion.

    Of a box whose port is known it tells the largest speed of the port's air, too.
    """
    header: tuple[str, ...] = (
        "frequency_Hz",
        "voltage_V",
        "level_dB",
        "compression_dB",
        "thd",
        "second",
        "third",
        "inward_mm",
        "outward_mm",
        "mean_mm",
        "coil_power_W",
    )
    states = [s for row in found.states for s in row if s is not None]
    port = any(s.port_speed is not None for s in states)
    if port:
        header += ("port_speed_m_per_s",)
    rows = (
        (
            float(s.frequency[1]),
            s.voltage,
            s.level,
            s.compression,
            s.thd,
            s.harmonic(2),
            s.harmonic(3),
            s.inward * 1e3,
            s.outward * 1e3,
            s.shift * 1e3,
            s.coil_power,
            *((s.port_speed,) if port else ()),
        )
        for s in states
    )
    return CsvTable(header, rows)


def save_driver(
    result: MotorResult,
    system: DriverSystem,
    run: DriverRun,
    folder: str | Path,
    *,
    measured: BlComparison | None = None,
    programme: Motion | None = None,
) -> list[Path]:
    """Write tables, figures and the hand-over files into a folder, in one step.

    Returns
    -------
    list of Path

    Raises
    ------
    OutputError
    """
    driver = system.driver
    rest = result.design.coil.rest_position
    tables = {
        "small_signal.csv": CsvTable(("what", "value", "unit"), small_signal(driver).rows()),
        "response.csv": CsvTable(
            ("frequency_Hz", "level_dB", "impedance_ohm", "impedance_phase_deg", "travel_mm"),
            zip(
                run.response.frequency,
                run.response.level,
                np.abs(run.response.impedance),
                np.degrees(np.angle(run.response.impedance)),
                np.abs(run.response.displacement) * 1e3,
                strict=True,
            ),
        ),
        "distortion.csv": map_table(run.map),
        "clean_level.csv": CsvTable(
            ("frequency_Hz", "level_dB", "voltage_V", "peak_mm", "limited_by"),
            (
                (x.frequency, x.level, x.voltage, x.peak * 1e3, x.limited_by)
                for x in run.clean.limits
            ),
        ),
        "bl.csv": sampled_table(driver.bl, "bl", rest_position=rest, name=driver.name),
    }
    texts = {
        "driver.cir": spice_subcircuit(system),
        "findings.txt": "".join(f"{f.kind}: {f.text}\n" for f in run.map.findings) or "none\n",
    }
    reach = min(FIT_STROKES * result.usable_stroke.value, -driver.bl.low, driver.bl.high)
    fit = fit_polynomial(driver.bl, low=-reach, high=reach)
    tables["bl_polynomial.csv"] = fit.table("bl")
    for name, curve in (("bl", driver.bl), ("stiffness", driver.k), ("inductance", driver.le)):
        if isinstance(curve, Table):
            tables[f"{name}_spline.csv"] = spline_table(curve, name)
            if name != "bl":
                tables[f"{name}.csv"] = sampled_table(curve, name, name=driver.name)
    if driver.lossy is not None:
        tables["inductance_modes.csv"] = modes_table(driver.lossy)
    if programme is not None:
        tables["programme.csv"] = CsvTable(
            ("time_s", "displacement_mm", "current_A", "pressure_Pa"),
            zip(
                programme.time,
                programme.displacement * 1e3,
                programme.current,
                programme.pressure,
                strict=True,
            ),
        )
    figures = {
        "response": run.response.plot(blank()),
        "impedance": run.response.plot_impedance(blank()),
        "distortion": mark_band(run.map.plot(blank()), run.band),
        "travel": run.map.plot(blank(), what="peak"),
        "compression": run.map.plot(blank(), what="compression"),
        "clean_level": run.clean.plot(blank()),
    }
    if measured is not None:
        figures["measured_bl"] = measured.plot(blank())
    if programme is not None:
        figures["programme"] = programme.plot(blank())
    remarks = {name: table.remark for name, table in tables.items()}
    with folder_of(folder, remarks=remarks) as (work, written):
        for name, table in tables.items():
            table.write(work / name)
        for name, text in texts.items():
            (work / name).write_text(text, encoding="utf-8")
        for name, ax in figures.items():
            known = f"\n{ax.get_title()}" if ax.get_title() else ""
            ax.set_title(f"{plot_text(driver.name)}: {TITLES[name]}{known}", fontsize=10)
            save_figure(ax.figure, work / name)  # type: ignore[arg-type]
    return written
