"""The command ``motor driver``.  Heavy libraries are imported inside."""

from __future__ import annotations

import time
from pathlib import Path

import click

from motor.cli.command import command
from motor.cli.completion import complete_toml
from motor.cli.console import Console

__all__ = ["driver"]


@command(
    "The driver in its box: parameters, distortion, clean level",
    examples=(
        ("motor driver my.toml --out results", "parameters, boxes, distortion, clean level"),
        ('motor driver my.toml --voltage "12 V" --power "40 W"', "louder, and how hot it gets"),
        ("motor driver my.toml --measured bl.csv --out results", "computed against measured Bl(x)"),
    ),
    writes="With --out: tables (small_signal, response, distortion, clean_level, bl, ...) as CSV, "
    "findings.txt, driver.cir for a circuit simulator, and figures as PNG and SVG.",
    results=True,
    figures=True,
)
@click.argument("design", type=click.Path(path_type=Path), shell_complete=complete_toml)
@click.option("--out", type=click.Path(path_type=Path), help="Folder for tables and figures.")
@click.option("--voltage", default="8 V", show_default=True, help="Highest source level, r.m.s.")
@click.option("--power", help='Programme power for the coil\'s heat, e.g. "30 W".')
@click.option("--measured", type=click.Path(path_type=Path), help="CSV of measured Bl(x).")
@click.option("--wav", type=click.Path(path_type=Path), help="WAV file to play at --voltage.")
@click.option(
    "--inductance",
    type=click.Choice(["computed", "unsaturated", "lossless", "none"]),
    default="computed",
    show_default=True,
    help="Where the design gives none: from the field with eddy currents and saturation (seconds), "
    "with eddy currents only, only its L(x) at 1 kHz, or left out.",
)
def driver(
    console: Console,
    design: Path,
    out: Path | None,
    voltage: str,
    power: str | None,
    measured: Path | None,
    wav: Path | None,
    inductance: str,
) -> None:
    """Take a DESIGN to the driver in its box: parameters, distortion, clean level, heat, files.

    The design file needs [moving_parts] with area and mechanical_resistance; [box] and
    [amplifier] are optional.
    """
    from motor.base.errors import InvalidInput
    from motor.base.units import parse_quantity
    from motor.design.reading import read_design
    from motor.driver.measured import compare_bl, read_measured_bl
    from motor.driver.programme import play, read_wav
    from motor.driver.run import run_driver, system_of
    from motor.driver.small_signal import small_signal
    from motor.report.files.driver import save_driver
    from motor.report.tables import driver as text
    from motor.report.tables.driver_record import driver_record
    from motor.results.heat import heat
    from motor.results.motor_result import solve

    volts = parse_quantity(voltage, "voltage", "--voltage")
    watts = None if power is None else parse_quantity(power, "power", "--power")
    if not volts > 0:
        raise InvalidInput("--voltage", "be greater than 0 V", voltage)
    record = read_design(design)
    table = None if measured is None else read_measured_bl(measured)
    signal = None if wav is None else read_wav(wav)
    result = solve(record)
    warm = None if watts is None else heat(result, watts)  # refuses at once what burns the coil
    before = time.perf_counter()
    saturates = inductance == "computed"
    system = system_of(result, compute=inductance != "none", saturates=saturates)
    seconds = time.perf_counter() - before
    if inductance == "lossless" and system.driver.lossy is not None:
        system = system.replace(driver=system.driver.replace(inductance=system.driver.le))
    run = run_driver(system, volts, result)
    against = None if table is None else compare_bl(table, system.driver.bl)
    motion = None if signal is None else play(system, signal[0] * volts * 2**0.5, signal[1])
    written = []
    if out is not None:
        written = save_driver(result, system, run, out, measured=against, programme=motion)

    def shown() -> list[str]:
        parts = small_signal(system.driver)
        box = system.box
        mount = "infinite baffle" if box is None else f"{box.kind} box of {box.volume * 1e3:.3g} l"
        lines = [
            f"{record.name}, {mount}\n\n{text.parts_text(parts)}\n"
            f"{text.inductance_text(system.driver, seconds)}\n",
            f"Boxes by the classic alignments:\n{text.alignment_text(parts)}\n",
            f"Sines:\n{text.map_text(system, run.map)}\n",
            *([f"What the steel leaves open:\n{text.band_text(run.band)}\n"] if run.band else []),
            f"Loudest clean sine at 1 m in half space:\n{text.clean_text(run.clean)}\n",
        ]
        if warm is not None:
            lines.append(f"Heat:\n{text.heat_text(warm, system.driver.lossy)}\n")
        if against is not None:
            lines.append(f"Measured Bl: {text.measured_text(against)}\n")
        if motion is not None:
            lines.append(f"Signal: {text.motion_text(motion)}\n")
        return lines

    console.finish(
        shown,
        warnings=[*result.notes, *([] if warm is None else warm.cautions)],
        record=lambda: driver_record(
            system, run, seconds, warm=warm, measured=against, programme=motion
        ),
        caution=text.CAUTION,
        written=written,
    )
