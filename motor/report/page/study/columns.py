"""Columns of a study's table in words: name, unit, which way is better, what can be chosen."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.quantity import COLUMN_UNITS, unit_at_end
from motor.base.units import UNITS
from motor.report.labels import named
from motor.report.page.study.collect import MARGIN, OBJECTIVE, Studied
from motor.results.quantities import all_quantities, quantity_of
from motor.study.parameters import FACTORS, Parameter

__all__ = [
    "Column",
    "columns_of",
    "hovered",
    "objective_words",
    "offered",
    "parameter_words",
    "spread_of",
]

OF_TARGET = {MARGIN: "margin to the target", OBJECTIVE: "what the target minimises"}
"""Columns that only a target search has."""
FIRST = 3
"""Figures offered up to this place stand before those of a target, all others behind."""
HIDDEN = {
    "number",
    "error",
    "geometry",
    "converged",
    "newton_iterations",
    "newton_residual",
    "unknowns",
    "triangles",
}
OBJECTIVES = {
    "mass": ("mass of motor and coil", "kg"),
    "cost": ("cost of motor and coil", ""),
    "volume": ("volume of the envelope", "litre"),
}
OF_FORCES = re.compile("force_on_|pull_at_|radial_stiffness_|assembly_")
"""What stands among the forces and not among all the rest."""
STILL = 1e-9
"""A relative spread below this is rounding."""


@dataclass(frozen=True)
class Column:
    """A column of the table as the page shows it.

    Parameters
    ----------
    key : str
        Its name in the table.
    what, unit : str
    group : str
        "varied", "result", "force" for each part and joint, "other", or "spread" for a numerical
        uncertainty.
    text : bool
        Whether it holds words instead of numbers.
    varies : bool
    less : bool
        Whether less is usually better.
    spread : str
        Column of its numerical uncertainty, or "".
    """

    key: str
    what: str
    unit: str
    group: str
    text: bool
    varies: bool
    less: bool
    spread: str

    @property
    def label(self) -> str:
        """Name with unit, for axes and lists."""
        return f"{self.what} in {self.unit}" if self.unit else self.what


def offered() -> list[str]:
    """Return the results that can be chosen for a figure, in the order in which they stand."""
    chosen = sorted((q for q in all_quantities() if q.offered), key=lambda q: q.offered)
    first = [q.key for q in chosen if q.offered <= FIRST]
    return [*first, *OF_TARGET, *(q.key for q in chosen if q.offered > FIRST)]


def hovered() -> list[str]:
    """Return the results that are shown beside the pointer."""
    keys = {q.key for q in all_quantities() if q.hover}
    return [key for key in offered() if key in keys or key == MARGIN]


def _varied(parameter: Parameter) -> tuple[str, str]:
    """Return name and unit of a varied parameter."""
    what, unit = named(parameter.column)
    if parameter.name in FACTORS:
        return f"factor on {what}", ""
    if not unit and parameter.kind in UNITS:
        unit = UNITS[parameter.kind][0]
    return what, unit


def parameter_words(study: Studied) -> dict[str, str]:
    """Return the varied parameters in words by dotted name."""
    return {p.name: _varied(p)[0] for p in study.parameters}


def objective_words(study: Studied) -> tuple[str, str]:
    """Return name and unit of what a target search minimises."""
    assert study.asked.problem is not None
    target = study.asked.problem.target
    if target.extreme is not None:
        figure, sign = target.extreme
        less = "less the " if sign < 0 else ""
        return f"{less}{figure.words}", COLUMN_UNITS[figure.unit].words
    weights = {k: w for k, w in target.minimise.items() if w}
    if len(weights) == 1 and next(iter(weights.values())) == 1:
        return OBJECTIVES[next(iter(weights))]
    return "weighted sum of " + " and ".join(f"{w:g} {k}" for k, w in weights.items()), ""


def spread_of(key: str, known: Sequence[str]) -> str:
    """Return the column of a column's numerical uncertainty, "" where there is none."""
    end = unit_at_end(key)
    plain = key.removesuffix(f"_{end}") if end else key
    name = "_".join(filter(None, (plain, "uncertainty", end)))
    return name if name in known else ""


def columns_of(study: Studied) -> list[Column]:
    """Return the columns that the page holds: varied ones, results to choose, all others."""
    table = study.table
    varied = {p.column: _varied(p) for p in study.parameters}
    results = [key for key in offered() if key in table.columns and key not in varied]
    others = [
        key
        for key in table.columns
        if key not in varied and key not in results and key not in HIDDEN
    ]
    found = []
    for group, keys in (("varied", list(varied)), ("result", results), ("other", others)):
        for key in keys:
            values = [v for v in table.column(key) if v is not None]
            text = any(isinstance(v, str) for v in values)
            varies = len(set(values)) > 1
            if varies and not text:
                numbers = np.array(values, float)
                varies = bool(np.ptp(numbers) > STILL * np.abs(numbers).max())
            what, unit = varied[key] if group == "varied" else named(key)
            if key == OBJECTIVE:
                what, unit = objective_words(study)
            spread = spread_of(key, table.columns)
            quantity = quantity_of(key)
            kind = "force" if group == "other" and OF_FORCES.match(key) else group
            kind = "spread" if "_uncertainty" in key else kind
            less = key == OBJECTIVE or (quantity is not None and quantity.better == "less")
            found.append(Column(key, what, unit, kind, text, varies, less, spread))
    return found
