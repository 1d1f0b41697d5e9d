"""Tables of several records for a terminal: temperatures, frequencies, wires."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from rich.box import SIMPLE_HEAD
from rich.table import Table

from motor.base.media import terminal_text

if TYPE_CHECKING:
    from rich.table import Table

    from motor.design.wire_choice import WireChoice
    from motor.results.coil_map import CoilMap
    from motor.results.impedance import BlockedImpedance
    from motor.results.lossy_inductance import LossyFit
    from motor.results.temperature_sweep import TemperatureSweep

__all__ = [
    "impedance_table",
    "map_table",
    "sweep_table",
    "titled",
    "wire_table",
]


def titled(title: str) -> Table:
    """Return a table with a title."""
    return Table(title=terminal_text(title), box=SIMPLE_HEAD, title_justify="left")


def sweep_table(sweep: TemperatureSweep) -> Table:
    """Return a temperature sweep for a terminal."""
    table = titled(f"{sweep.design.name}: {sweep.verdict}")
    heads = [
        ("degC", "temperature_degC", "{:.4g}"),
        ("Bl T m", "bl_at_rest_Tm", "{:.3f}"),
        ("82 % stroke mm", "stroke_82_mm", "{:.2f}"),
        ("Re ohm", "coil_resistance_ohm", "{:.3f}"),
        ("Bl²/Re N²/W", "motor_constant_N2_per_W", "{:.2f}"),
        ("margin kA/m", "demag_margin_kA_per_m", "{:.0f}"),
        ("±", "demag_margin_uncertainty_kA_per_m", "{:.0f}"),
        ("past knee %", "share_past_knee", "{:.2%}"),
        ("Bl back at 20 degC", "bl_back_at_20_degC_Tm", "{:.3f}"),
        ("Bl lost %", "irreversible_loss_percent", "{:.2g}"),
    ]
    if sweep.worst:
        heads += [
            ("worst pair: margin", "worst_pair_margin_kA_per_m", "{:.0f}"),
            ("Bl lost %", "worst_pair_irreversible_loss_percent", "{:.2g}"),
        ]
    for head, _, _ in heads:
        table.add_column(head, justify="right")
    for row in sweep.rows():
        margin = row["demag_margin_kA_per_m"]
        cells = [
            "none" if row[key] is None else form.format(row[key]).removesuffix("%")
            for _, key, form in heads
        ]
        table.add_row(*cells, style="" if margin is None or margin > 0 else "bold red")
    return table


def wire_table(choices: Sequence[WireChoice], resistance: float) -> Table:
    """Return wires near a wanted resistance (ohm) for a terminal."""
    title = f"wires nearest to {resistance:g} ohm at 20 degC"
    table = titled(title)
    for head in ("size", "overall mm", "turns", "Re ohm", "build-up mm", "mass g", "fits"):
        table.add_column(head, justify="right")
    for choice in choices:
        coil = choice.coil
        table.add_row(
            choice.size,
            f"{coil.wire.build * 1e3:.3f}",
            str(coil.turns),
            f"{coil.resistance():.3f}",
            f"{coil.build_up * 1e3:.3f}",
            f"{coil.mass * 1e3:.2f}",
            "yes" if choice.fits else "no",
        )
    return table


def fits_table(fits: Sequence[LossyFit]) -> Table:
    """Return the classical short forms of a coil's inductance at rest, one row a form."""
    table = titled("at rest, 20 Hz to 20 kHz, in the classical short forms")
    for head in ("form", "values", "misfit"):
        table.add_column(head, justify="left" if head != "misfit" else "right")
    for fit in fits:
        values = ", ".join(f"{name} {value:.4g}" for name, value in fit.values.items())
        table.add_row(fit.form, values, f"{fit.misfit:.1%}")
    return table


def impedance_table(found: BlockedImpedance) -> Table:
    """Return a coil's impedance at rest and its inductance at both ends, one row a frequency."""
    table = titled(
        f"{found.design.name}: blocked coil, {found.coil_resistance:.3f} ohm of its own; "
        "L in mH, rest in ohm"
    )
    k, ends = found.rest, {0, len(found.position) - 1}
    others = sorted(ends - {k})
    heads = ["Hz", "L at rest", "± mesh", "± steel", "eddy R at rest", "± mesh", "± steel"]
    heads += ["|Z| at rest"]
    heads += [f"L at {found.position[j] * 1e3:+.1f} mm" for j in others]
    for head in heads:
        table.add_column(head, justify="right")
    for i, f in enumerate(found.frequency):
        table.add_row(
            f"{f:g}",
            f"{found.inductance[i, k] * 1e3:.3f}",
            f"{found.inductance_uncertainty[i, k] * 1e3:.3f}",
            f"{found.inductance_material_uncertainty[i, k] * 1e3:.3f}",
            f"{found.eddy_resistance[i, k]:.3f}",
            f"{found.eddy_resistance_uncertainty[i, k]:.3f}",
            f"{found.eddy_resistance_material_uncertainty[i, k]:.3f}",
            f"{np.abs(found.impedance[i, k]):.3f}",
            *(f"{found.inductance[i, j] * 1e3:.3f}" for j in others),
        )
    return table


def map_table(found: CoilMap) -> Table:
    """Return Bl and steady force over position at the largest current of both signs."""
    amperes = found.current[-1]
    table = titled(f"{found.design.name}: Bl(x, i) in T m, force per ampere of a steady current")
    heads = ["x mm", "no current", "±", f"+{amperes:.3g} A", f"-{amperes:.3g} A", "±"]
    heads += ["asymmetry %", "steady force N", "±"]
    for head in heads:
        table.add_column(head, justify="right")
    (bl, spread), (mean, band) = found.force_factor, found.steady_force
    for i, x in enumerate(found.position):
        table.add_row(
            f"{x * 1e3:+.2f}",
            f"{found.bl[i]:.4g}",
            f"{found.bl_uncertainty[i]:.1g}",
            f"{bl[i, -1]:.4g}",
            f"{bl[i, 0]:.4g}",
            f"{spread[i, -1]:.1g}",
            f"{100 * found.asymmetry[i, -1]:.2f}",
            f"{mean[i]:.3g}",
            f"{band[i]:.1g}",
        )
    table.caption = (
        "asymmetry: (Bl(+i) - Bl(-i)) / (Bl(+i) + Bl(-i)); steady force: mean over a period of a "
        "sine of that peak"
    )
    return table
