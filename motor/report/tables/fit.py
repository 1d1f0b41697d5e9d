"""A sample inferred from measurements, as tables for a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.box import SIMPLE_HEAD
from rich.table import Table

from motor.base.media import terminal_text
from motor.report.labels import named
from motor.report.tables.remarks import known
from motor.study.end_of_line import INDUCTANCE
from motor.study.inferred import STEEL

if TYPE_CHECKING:
    from motor.report.tables.fit_record import Consequences
    from motor.study.end_of_line import Guarded
    from motor.study.inferred import Inferred
    from motor.study.predicted import Predicted

__all__ = ["fit_groups", "fit_tables"]

KNOWN = {"yes": "yes", "partly": "in part", "no": "no"}
"""Whether an unknown can be known from these measurements."""
HIDDEN = ": another steel would hardly show"
SHOWN = frozenset(
    {
        *("bl_at_rest_Tm", "motor_constant_N2_per_W", "mean_gap_flux_density_T", "stroke_82_mm"),
        *("usable_stroke_mm", "coil_resistance_ohm", "resonance_Hz", "moving_mass_g"),
        INDUCTANCE,
        *("clearance_inner_mm", "clearance_outer_mm", "leakage_factor", "magnet_flux_mWb"),
    }
)
"""Figures in the table; all of them stand in figures.csv."""
FURTHER = 5
"""Measurements that are offered next."""
NAMED, SHRUNK = 3, 0.9
"""Unknowns that are named beside each, and what is left of their deviation at most."""


Group = tuple[str, tuple[str, ...], list[tuple[str, ...]]]
"""A title, heads of columns, and rows."""


def fit_tables(found: Consequences) -> list[Table]:
    """Return all groups as tables for a terminal."""
    tables = []
    for title, heads, rows in fit_groups(found):
        table = Table(title=terminal_text(title), box=SIMPLE_HEAD, title_justify="left")
        for k, head in enumerate(heads):
            table.add_column(terminal_text(head), justify="left" if k < 1 else "right")
        for row in rows:
            table.add_row(*map(terminal_text, row))
        tables.append(table)
    return tables


def fit_groups(found: Consequences) -> list[Group]:
    """Return unknowns and rigs, what follows, what to measure next, tests, the other grade."""
    fit = found.fit
    groups = [_unknowns(f"{fit.name}: what was built, ± one standard deviation", fit.unknowns)]
    if fit.rigs:
        groups.append(_unknowns("Rigs: gain and zero; factor on a held coil", fit.rigs))
    groups.append(_figures("What follows", "as drawn", "inferred", found.figures))
    groups.append(_further(found))
    groups += [_tests(tests) for tests in found.tests]
    if found.other:
        grade = fit.measured.exchange
        title = f"The same sample with {grade} magnets"
        groups.append(_figures(title, "inferred", grade, found.other))
    return groups


def _unknowns(title: str, rows: Sequence[Inferred]) -> Group:
    heads = ("", "unit", "expected", "±", "inferred", "±", "known from this")
    cells: list[tuple[str, ...]] = []
    for one in rows:
        of = one.unit.of_si
        cells.append(
            (
                one.name,
                one.unit.words,
                known(of(one.prior), of(one.prior_deviation), 2),
                f"{of(one.prior_deviation):.2g}",
                known(of(one.estimate), of(one.deviation), 2),
                f"{of(one.deviation):.2g}",
                KNOWN[one.verdict] + (HIDDEN if one.name == STEEL and not one.identifiable else ""),
            )
        )
    return title, heads, cells


def _figures(title: str, first: str, second: str, rows: Sequence[Predicted]) -> Group:
    cells: list[tuple[str, ...]] = []
    for one in rows:
        if one.figure in SHOWN:
            what, unit = named(one.figure)
            before = (known(one.before, one.before_deviation, 2), f"{one.before_deviation:.2g}")
            after = (known(one.after, one.after_deviation, 2), f"{one.after_deviation:.2g}")
            cells.append((what, unit, *before, *after))
    return title, ("", "unit", first, "±", second, "±"), cells


def _further(found: Consequences) -> Group:
    cells: list[tuple[str, ...]] = []
    unknowns = found.fit.unknowns
    for one in found.further[:FURTHER]:
        shares = [left / u.deviation for u, left in zip(unknowns, one.deviations, strict=True)]
        most = sorted(range(len(shares)), key=lambda k: shares[k])[:NAMED]
        words = [_shrunk(unknowns[k], one.deviations[k]) for k in most if shares[k] < SHRUNK]
        cells.append((one.words, f"{one.gain:.1f}", "; ".join(words) or "none by a tenth"))
    return "What to measure next", ("measurement", "gain in bits", "± that shrinks most"), cells


def _shrunk(one: Inferred, left: float) -> str:
    of, unit = one.unit.of_si, one.unit.words
    name = one.name.rpartition(".")[2]
    return f"{name} {of(one.deviation):.2g} to {of(left):.2g} {unit}".rstrip()


def _tests(tests: Sequence[Guarded]) -> Group:
    what, unit = named(tests[0].figure)
    title = f"Test of {what} at the end of the line, recommended guard band last"
    heads = ("guard band, of the station's ±", f"least {unit}", f"most {unit}")
    cells = []
    for one in tests:
        ends = (f"{v:.4g}" if math.isfinite(v) else "open" for v in (one.low, one.high))
        shares = (one.passing, one.escapes, one.rejected)
        cells.append((f"{one.guard:.2f}", *ends, *(_share(v) for v in shares)))
    return title, (*heads, "passing", "bad ones passing", "good ones rejected"), cells


def _share(value: float) -> str:
    return f"{100 * value:.2f} %" if value >= 1e-3 else f"{1e6 * value:.0f} ppm"
