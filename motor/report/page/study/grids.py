"""The tables of a study's page: what was varied, what failed, what a target asks for."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from motor.report.page.assembling import Grid
from motor.report.page.design.result_grids import number
from motor.report.page.study.collect import Studied
from motor.report.page.study.columns import Column
from motor.report.tables.production import cause_words
from motor.study.parameters import Parameter
from motor.study.production import LOT, Production

__all__ = ["failures", "listed", "percent", "requirements", "varied"]

FEW = 8
"""Values up to this number are listed one by one."""
MANY = 12
"""Numbers of failed designs listed for one reason."""


def varied(study: Studied, columns: Sequence[Column]) -> Grid:
    """Return what was varied over which range, and the base design's value."""
    by_key = {column.key: column for column in columns}
    rows = []
    for parameter in study.parameters:
        column = by_key[parameter.column]
        values = [v for v in study.table.column(parameter.column) if v is not None]
        different = sorted(set(values), key=lambda v: (isinstance(v, str), v))
        base = study.base_value(parameter)
        ends = _range(study, parameter.name, different)
        rows.append(
            (
                column.what[:1].upper() + column.what[1:],
                parameter.name,
                ends,
                _shown(base) if base is not None else "not given",
                column.unit,
            )
        )
    heads = ("parameter", "name in files", "range", "base design", "unit")
    return Grid(heads, rows)


def _shown(value: Any) -> str:
    return value if isinstance(value, str) else f"{value:.6g}"


def _laws(production: Production, parameter: Parameter) -> Iterator[str]:
    """Yield how a parameter scatters, on its own and with its lots."""
    name, laws = parameter.name, {"uniform": "evenly spread", "normal": "normal, at three sigma"}
    for one in production.tolerances:
        if one.name == name:
            yield f"± {parameter.shown(one.width):.4g}, {laws[one.shape]}"
    for pair in production.correlations:
        if name in (pair.first, pair.second):
            other = pair.second if name == pair.first else pair.first
            yield f"correlation {pair.coefficient:g} with {other}"
    for lot in production.lots:
        if name in lot.widths:
            width = parameter.shown(lot.widths[name])
            yield f"{cause_words(LOT + lot.name)} ± {abs(width):.4g}, {laws[lot.shape]}"


def _range(study: Studied, name: str, values: list[Any]) -> str:
    if study.asked.production is not None:
        parameter = next(p for p in study.parameters if p.name == name)
        ends = f"{values[0]:.5g} to {values[-1]:.5g}"
        laws = "; ".join(_laws(study.asked.production, parameter))
        return f"{ends} ({laws})"
    problem = study.asked.problem
    if problem is not None and name in problem.free:
        parameter = next(p for p in study.parameters if p.name == name)
        low, high = (parameter.shown(end) for end in problem.free[name])
        return f"{low:.5g} to {high:.5g}, free"
    if len(values) <= FEW:
        return ", ".join(map(_shown, values))
    if isinstance(values[0], str):
        return f"{len(values)} of them, from {values[0]} to {values[-1]}"
    places = 4 - math.floor(math.log10(values[-1] - values[0]))
    low, high = (f"{round(end, places):.9g}" for end in (values[0], values[-1]))
    return f"{low} to {high}, {len(values)} values"


def failures(study: Studied) -> Grid | None:
    """Return the reasons for missing results with the designs concerned, or None."""
    reasons: dict[str, list[int]] = {}
    errors = study.table.column("error")
    for n, error in enumerate(errors):
        if error:
            reasons.setdefault(error.partition("; received ")[0], []).append(n)
    if not reasons:
        return None
    ranked = sorted(reasons.items(), key=lambda item: -len(item[1]))
    rows = [
        (reason, errors[of[0]].partition("; received ")[2], str(len(of)), listed(of))
        for reason, of in ranked[:MANY]
    ]
    if len(ranked) > MANY:
        rest = [n for _, numbers in ranked[MANY:] for n in numbers]
        rows.append((f"{len(ranked) - MANY} other reasons", "", str(len(rest)), listed(rest)))
    return Grid(("reason", "the first one has", "how many", "numbers"), rows, ("how many",))


def listed(numbers: list[int]) -> str:
    """Return the first numbers, and how many more there are."""
    some = ", ".join(map(str, numbers[:MANY]))
    return some if len(numbers) <= MANY else f"{some} and {len(numbers) - MANY} more"


def percent(share: float) -> str:
    """Return a share with its sign in per cent."""
    return f"{100 * share:+.{2 if abs(share) < 0.01 else 1}f}\N{NO-BREAK SPACE}%"


def requirements(study: Studied) -> Grid | None:
    """Return each requirement of a target with what is reached and by which margin."""
    if study.answer is None:
        return None
    rows = []
    for need in study.answer.best.requirements:
        kind = "at least" if need.least else "at most"
        value = number(need.value)
        verdict = "met" if need.slack >= 0 else "missed"
        rows.append(
            (
                need.name,
                f"{kind} {number(need.limit)}",
                "no limit" if value == "none" else value,
                need.unit,
                percent(need.slack),
                verdict,
            )
        )
    heads = ("requirement", "limit", "reached", "unit", "margin", "verdict")
    return Grid(heads, rows, ("limit", "reached", "margin"))
