"""A sample inferred from measurements, as tables for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.media import terminal_text

if TYPE_CHECKING:
    from rich.table import Table

    from motor.study.inferred import Fit, Inferred

__all__ = ["fit_tables"]

KNOWN = {"yes": "yes", "partly": "in part", "no": "no"}
"""Whether an unknown can be known from these measurements."""


def _titled(title: str, *heads: str) -> Table:
    from rich.box import SIMPLE_HEAD
    from rich.table import Table

    table = Table(title=terminal_text(title), box=SIMPLE_HEAD, title_justify="left")
    for k, head in enumerate(heads):
        table.add_column(head, justify="left" if k < 1 else "right")
    return table


def fit_tables(found: Fit) -> list[Table]:
    """Return unknowns before and after, and rigs."""
    title = f"{found.name}: what was built, ± one standard deviation"
    tables = [_unknowns(title, found.unknowns)]
    if found.rigs:
        tables.append(_unknowns("Rigs: gain and zero", found.rigs))
    return tables


def _unknowns(title: str, rows: tuple[Inferred, ...]) -> Table:
    table = _titled(title, "", "unit", "expected", "±", "inferred", "±", "known from this")
    for one in rows:
        of = one.unit.of_si
        table.add_row(
            terminal_text(one.name),
            one.unit.words,
            f"{of(one.prior):.5g}",
            f"{of(one.prior_deviation):.2g}",
            f"{of(one.estimate):.5g}",
            f"{of(one.deviation):.2g}",
            KNOWN[one.verdict],
        )
    return table
