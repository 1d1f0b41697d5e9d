"""Two or more motors side by side: where their dimensions differ, and what follows."""

from __future__ import annotations

import functools
import math
import string
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from motor.base.drawable import DrawablePage
from motor.base.errors import InvalidInput
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.base.quantity import COLUMN_UNITS, unit_at_end
from motor.results.quantities import motor_quantities
from motor.study.parameters import Draft, known_parameters

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["MOST", "MotorComparison", "compare_motors"]

MOST = 8
"""Motors that one comparison shows."""
ROUNDING = 1e-9
NOT_SHOWN = ("coil.wire.size", "materials.magnet", "materials.steel")
"""Parameters that others stand for: the wire's dimensions, the materials of each part."""


@dataclass(frozen=True)
class MotorComparison(DrawablePage):
    """Solved motors side by side; the first is what the others are compared with.

    Parameters
    ----------
    results : tuple of MotorResult
        Two to :data:`MOST`; their letters are a, b, c and so on.
    """

    results: tuple[MotorResult, ...]

    @property
    def letters(self) -> str:
        """One letter for each motor."""
        return string.ascii_lowercase[: len(self.results)]

    def dimensions(self) -> list[dict[str, Any]]:
        """Return the parameters of the designs that are not equal in all of them, as rows."""
        values = [_parameters(result) for result in self.results]
        names = dict.fromkeys(name for one in values for name in one)
        rows = [
            self._row(
                name, COLUMN_UNITS[unit_at_end(name)].words, [one.get(name) for one in values]
            )
            for name in names
        ]
        return [row for row in rows if not self._equal(row)]

    def figures(self) -> list[dict[str, Any]]:
        """Return the numbers of ``summary.json`` as rows.

        ``certain`` says whether the motors differ by more than their numerical uncertainties add
        up to; None where a figure has none.
        """
        return self._figures

    @functools.cached_property
    def _figures(self) -> list[dict[str, Any]]:
        rows = []
        for one in motor_quantities():
            read = [one.reading(result) for result in self.results]
            values = [finite(v) if isinstance(v, float) else v for v, _ in read]
            if any(isinstance(value, str) for value in values):
                continue
            row = self._row(one.key, COLUMN_UNITS[one.unit].words, values)
            row["certain"] = _certain(values, [finite(doubt) for _, doubt in read])
            rows.append(row)
        return rows

    def rows(self) -> list[dict[str, Any]]:
        """Return all rows: what differs in the drawings, then the figures.

        Each with ``figure`` (a dotted parameter or a key of ``summary.json``), ``unit``, a value
        for each motor under its letter, and ``difference``, the second less the first;
        ``difference_c`` and so on for further ones.  None stands for "no value".
        """
        return [{**row, "certain": None} for row in self.dimensions()] + self.figures()

    def summary(self) -> dict[str, Any]:
        """Return the record behind the command's JSON."""
        names = {k: r.design.name for k, r in zip(self.letters, self.results, strict=True)}
        return {**origin(), "name": " against ".join(names.values()), **names, "rows": self.rows()}

    def _row(self, name: str, unit: str, values: Sequence[Any]) -> dict[str, Any]:
        row: dict[str, Any] = {"figure": name, "unit": unit}
        row |= dict(zip(self.letters, values, strict=True))
        for letter, value in list(zip(self.letters, values, strict=True))[1:]:
            key = "difference" if letter == "b" else f"difference_{letter}"
            row[key] = _difference(values[0], value)
        return row

    def _equal(self, row: Mapping[str, Any]) -> bool:
        first, *others = values = [row[k] for k in self.letters]
        if None in values and all(value in (None, 0) or isinstance(value, str) for value in values):
            return True  # an option that is not in use, or that another kind does not have
        return all(_same(first, other) for other in others)


def compare_motors(results: Iterable[MotorResult]) -> MotorComparison:
    """Return a comparison of solved motors; InvalidInput for fewer than two or too many."""
    every = tuple(results)
    if not 2 <= len(every) <= MOST:
        raise InvalidInput("designs", f"be two to {MOST}", len(every))
    return MotorComparison(every)


def _parameters(result: MotorResult) -> dict[str, Any]:
    """Return the drawing's and the coil's parameters by column name, as a study names them."""
    design = result.design
    draft = Draft(design)
    found: dict[str, Any] = {"geometry.kind": design.geometry.kind}
    for name, parameter in known_parameters(design).items():
        if parameter.kind == "number" or name in NOT_SHOWN:
            continue
        value = draft.get(name)
        if value is None or isinstance(value, str | int | float):
            found[parameter.column] = None if value is None else parameter.shown(value)
        else:
            found[parameter.column] = str(value)
    return found


def _certain(values: Sequence[Any], spreads: Sequence[float | None]) -> bool | None:
    known = [spread for spread in spreads if spread is not None]
    if len(known) < len(values) or any(value is None for value in values):
        return None
    return any(
        abs(value - values[0]) > known[0] + spread
        for value, spread in zip(values[1:], known[1:], strict=True)
    )


def _difference(first: Any, second: Any) -> float | None:
    numbers = [v for v in (first, second) if isinstance(v, int | float) and math.isfinite(v)]
    return float(second - first) if len(numbers) == 2 else None


def _same(first: Any, second: Any) -> bool:
    if isinstance(first, float | int) and isinstance(second, float | int):
        return abs(first - second) <= ROUNDING * max(abs(first), abs(second))
    return bool(first == second)
