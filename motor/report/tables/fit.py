"""A sample inferred from measurements, as tables for a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.box import SIMPLE_HEAD
from rich.table import Table

from motor.base.media import terminal_text
from motor.report.labels import named

if TYPE_CHECKING:
    from rich.table import Table

    from motor.report.tables.fit_record import Consequences
    from motor.study.end_of_line import Guarded
    from motor.study.inferred import Inferred
    from motor.study.predicted import Predicted

__all__ = ["fit_tables"]

KNOWN = {"yes": "yes", "partly": "in part", "no": "no"}
"""Whether an unknown can be known from these measurements."""
SHOWN = frozenset(
    {
        *("bl_at_rest_Tm", "motor_constant_N2_per_W", "mean_gap_flux_density_T", "stroke_82_mm"),
        *("usable_stroke_mm", "coil_resistance_ohm", "resonance_Hz", "moving_mass_g"),
        *("clearance_inner_mm", "clearance_outer_mm", "leakage_factor", "magnet_flux_mWb"),
    }
)
"""Figures in the table; all of them stand in figures.csv."""
FURTHER = 5
"""Measurements that are offered next."""


def _titled(title: str, *heads: str) -> Table:
    table = Table(title=terminal_text(title), box=SIMPLE_HEAD, title_justify="left")
    for k, head in enumerate(heads):
        table.add_column(terminal_text(head), justify="left" if k < 1 else "right")
    return table


def fit_tables(found: Consequences) -> list[Table]:
    """Return unknowns and rigs, what follows, what to measure next, tests, the other grade."""
    fit = found.fit
    tables = [_unknowns(f"{fit.name}: what was built, ± one standard deviation", fit.unknowns)]
    if fit.rigs:
        tables.append(_unknowns("Rigs: gain and zero", fit.rigs))
    tables.append(_figures("What follows", "as drawn", "inferred", found.figures))
    tables.append(_further(found))
    tables += [_tests(tests) for tests in found.tests]
    if found.other:
        grade = fit.measured.exchange
        title = f"The same sample with {grade} magnets"
        tables.append(_figures(title, "inferred", grade, found.other))
    return tables


def _unknowns(title: str, rows: Sequence[Inferred]) -> Table:
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


def _figures(title: str, first: str, second: str, rows: Sequence[Predicted]) -> Table:
    table = _titled(title, "", "unit", first, "±", second, "±")
    for one in rows:
        if one.figure in SHOWN:
            what, unit = named(one.figure)
            table.add_row(
                what,
                unit,
                f"{one.before:.4g}",
                f"{one.before_deviation:.2g}",
                f"{one.after:.4g}",
                f"{one.after_deviation:.2g}",
            )
    return table


def _further(found: Consequences) -> Table:
    heads = [f"{one.name.rpartition('.')[2]} ±" for one in found.fit.unknowns]
    table = _titled("What to measure next", "measurement", "gain in bits", *heads)
    for one in found.further[:FURTHER]:
        pairs = zip(found.fit.unknowns, one.deviations, strict=True)
        open_ = (f"{u.unit.of_si(v):.2g}" for u, v in pairs)
        table.add_row(terminal_text(one.words), f"{one.gain:.1f}", *open_)
    return table


def _tests(tests: Sequence[Guarded]) -> Table:
    what, unit = named(tests[0].figure)
    title = f"Test of {what} at the end of the line, recommended guard band last"
    table = _titled(
        title,
        "guard band, of the station's ±",
        f"least {unit}",
        f"most {unit}",
        "passing",
        "bad ones passing",
        "good ones rejected",
    )
    for one in tests:
        ends = (f"{v:.4g}" if math.isfinite(v) else "open" for v in (one.low, one.high))
        shares = (one.passing, one.escapes, one.rejected)
        table.add_row(f"{one.guard:.2f}", *ends, *(_share(v) for v in shares))
    return table


def _share(value: float) -> str:
    return f"{100 * value:.2f} %" if value >= 1e-3 else f"{1e6 * value:.0f} ppm"
