"""The command ``motor driver``.  Heavy libraries are imported inside."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

__all__ = ["driver"]


@click.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for tables and figures.")
@click.option("--voltage", default="8 V", show_default=True, help="Highest source level, r.m.s.")
@click.option("--power", help='Programme power for the coil\'s heat, e.g. "30 W".')
@click.option("--measured", type=click.Path(path_type=Path), help="CSV of measured Bl(x).")
@click.option("--wav", type=click.Path(path_type=Path), help="WAV file to play at --voltage.")
def driver(
    design: Path,
    out: Path | None,
    voltage: str,
    power: str | None,
    measured: Path | None,
    wav: Path | None,
) -> None:
    """Take a DESIGN to the driver in its box: parameters, distortion, clean level, heat, files.

    The design file needs [moving_parts] with area and mechanical_resistance; [box] and
    [amplifier] are optional.
    """
    from motor.design_file import read_design
    from motor.driver import text
    from motor.driver.heat import network_of
    from motor.driver.measured import compare_bl, read_measured_bl
    from motor.driver.programme import play, read_wav
    from motor.driver.run import run_driver, save_driver, system_of
    from motor.driver.small_signal import small_signal
    from motor.errors import InvalidInput
    from motor.result import solve
    from motor.units import parse_quantity

    volts = parse_quantity(voltage, "voltage", "--voltage")
    watts = None if power is None else parse_quantity(power, "power", "--power")
    if not volts > 0:
        raise InvalidInput("--voltage", "be greater than 0 V", voltage)
    record = read_design(design)
    table = None if measured is None else read_measured_bl(measured)
    signal = None if wav is None else read_wav(wav)
    result = solve(record)
    system = system_of(result)
    parts = small_signal(system.driver)
    run = run_driver(system, volts)
    box = system.box
    mount = "infinite baffle" if box is None else f"{box.kind} box of {box.volume * 1e3:.3g} l"
    click.echo(f"{record.name}, {mount}\n\n{text.parts_text(parts)}\n")
    click.echo(f"Boxes by the classic alignments:\n{text.alignment_text(parts)}\n")
    click.echo(f"Sines:\n{text.map_text(system, run.map)}\n")
    click.echo(f"Loudest clean sine at 1 m in half space:\n{text.clean_text(run.clean)}\n")
    network = network_of(result, output_resistance=system.amplifier.output_resistance)
    if watts is not None:
        warm = network.steady(network.nominal_voltage(watts))
        click.echo(f"Heat (default constants):\n{text.heat_text(warm)}\n")
    extra: dict[str, Any] = {}
    if table is not None:
        extra["measured"] = compare_bl(table, system.driver.bl)
        found = extra["measured"]
        click.echo(
            f"Measured Bl: {found.at_rest:+.1%} at rest, largest difference {found.largest:.1%}, "
            f"shift {found.shift * 1e3:+.2f} mm\n"
        )
    if signal is not None:
        samples, rate = signal
        extra["programme"] = play(system, samples * volts * 2**0.5, rate)
        motion = extra["programme"]
        end = "" if motion.left_range is None else f"; left the range at {motion.left_range:.4g} s"
        click.echo(
            f"Signal: inwards {motion.inward * 1e3:.3g} mm, outwards "
            f"{motion.outward * 1e3:.3g} mm{end}\n"
        )
    click.echo(text.CAUTION)
    if out is not None:
        written = save_driver(result, system, run, out, **extra)
        click.echo("written: " + "\n         ".join(map(str, written)))
