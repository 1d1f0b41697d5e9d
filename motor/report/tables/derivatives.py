"""What each parameter does to the main figures, for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.markup import escape
from rich.table import Table

from motor.base.units import format_quantity
from motor.report.tables.remarks import known
from motor.report.tables.rows import titled
from motor.study.derivatives import Derivatives
from motor.study.parameters import TOGETHER
from motor.study.slope_records import InductanceSlopes

__all__ = ["derivatives_table", "inductance_slopes_table"]

PER = {"price per kg": "price"}
"""Units that are too long for a column."""


def derivatives_table(found: Derivatives) -> Table:
    """Return the main figures' derivatives for a terminal, one row a parameter that moves any."""
    table = titled(f"{found.name}: change of each figure per unit of each parameter")
    heads = (
        ("Bl T m", "bl_at_rest_Tm"),
        ("82 % stroke mm", "stroke_82_mm"),
        ("Bl²/Re N²/W", "motor_constant_N2_per_W"),
        ("motor g", "motor_mass_g"),
        ("motor cost", "motor_cost"),
    )
    rows = {(row.parameter, row.figure): row for row in found.rows}
    kinks = {(kink.parameter, kink.figure): kink for kink in found.kinks}
    table.add_column("parameter", min_width=26)
    table.add_column("per", no_wrap=True)
    for head, _ in heads:
        table.add_column(head, justify="right", no_wrap=True)
    given: list[tuple[str, str, list[str]]] = []
    for name in dict.fromkeys(row.parameter for row in found.rows):
        here = [rows.get((name, key)) for _, key in heads]
        both = [kinks.get((name, key)) for _, key in heads]
        if not any(row and row.derivative for row in here) and not any(both):
            continue
        per = next(row.unit for row in (*here, *both) if row).partition("/")[2]
        cells = [
            f"{kink.below:.4g} or {kink.above:.4g}"
            if kink
            else ""
            if row is None
            else _with_spread(row.derivative, row.uncertainty)
            for row, kink in zip(here, both, strict=True)
        ]
        given.append((name, per, cells))
    return _filled(table, given)


def inductance_slopes_table(found: Derivatives, held: InductanceSlopes) -> Table:
    """Return what each parameter does to a coil held at rest, one row each that does anything."""
    table = titled("coil held at rest: change of inductance and of what eddy currents add to R")
    table.add_column("parameter", min_width=26)
    table.add_column("per", no_wrap=True)
    rest = int(abs(held.position).argmin())
    for f in held.frequency:
        for what in ("L mH", "R ohm"):
            table.add_column(f"{what} at {format_quantity(float(f), 'frequency')}", justify="right")
    given, parts = [], held.by_key().values()
    for name in held.inductance:
        both = [slopes[name][:, :, rest].T for slopes in parts]
        cells = [_with_spread(*pair) for at_f in zip(*both, strict=True) for pair in at_f]
        if any(cells):
            given.append((name, found.per(name), cells))
    return _filled(table, given)


def _filled(table: Table, given: Iterable[tuple[str, str, Sequence[str]]]) -> Table:
    """Return a table with a row each of a parameter, its unit and cells, under its section."""
    section = ""
    for name, per, cells in given:
        parts = [one.rpartition(".") for one in name.split(TOGETHER)]
        if parts[0][0] != section:
            section = parts[0][0]
            table.add_row(escape(section.removeprefix("geometry.")))
        indent = "  " if section else ""
        within = (last if at == section else f"{at}.{last}" for at, _, last in parts)
        short = TOGETHER.join(one.removeprefix("geometry.") for one in within)
        table.add_row(escape(f"{indent}{short}"), PER.get(per, per) or "1", *cells)
    return table


def _with_spread(value: float, spread: float) -> str:
    """Return a value as far as it is known, and its uncertainty to one figure; nothing for 0."""
    if not value:
        return ""
    return f"{known(value, spread)} ± {spread:.1g}" if spread > 0 else known(value, spread)
