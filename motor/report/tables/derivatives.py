"""What each parameter does to the main figures, for a terminal."""

from __future__ import annotations

from rich.markup import escape
from rich.table import Table

from motor.report.tables.remarks import known
from motor.report.tables.rows import titled
from motor.study.derivatives import Derivatives
from motor.study.parameters import TOGETHER

__all__ = ["derivatives_table"]

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
    section = ""
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
        parts = [one.rpartition(".") for one in name.split(TOGETHER)]
        if parts[0][0] != section:
            section = parts[0][0]
            table.add_row(escape(section))
        indent = "  " if section else ""
        short = TOGETHER.join(last for _, _, last in parts)
        table.add_row(escape(f"{indent}{short}"), PER.get(per, per) or "1", *cells)
    return table


def _with_spread(value: float, spread: float) -> str:
    """Return a value as far as it is known, and its uncertainty to one figure; nothing for 0."""
    if not value:
        return ""
    return f"{known(value, spread)} ± {spread:.1g}" if spread > 0 else known(value, spread)
