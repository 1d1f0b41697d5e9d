"""Plans: which designs a study consists of."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries import Contour
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.study.contours import as_cut
from motor.study.parameters import Draft, Parameter, parameter_named
from motor.study.rules import Rule

__all__ = ["Axis", "Plan", "Point", "hypercube", "paired", "span", "values"]


@dataclass(frozen=True)
class Axis:
    """Parameters that change together, and the rows of values they take.

    Parameters
    ----------
    names : tuple of str
        Dotted.
    rows : tuple of tuple
        One value per name in each row: text with unit, or SI.
    """

    names: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]

    def __post_init__(self) -> None:
        if not self.rows:
            raise InvalidInput(" and ".join(self.names), "take at least one value", "none")


def values(name: str, items: Sequence[Any]) -> Axis:
    """Return the axis of one parameter over a list of values."""
    return Axis((name,), tuple((item,) for item in items))


def paired(columns: Mapping[str, Sequence[Any]]) -> Axis:
    """Return the axis of several parameters that take their values in pairs."""
    lengths = {name: len(column) for name, column in columns.items()}
    if len(set(lengths.values())) > 1:
        counts = ", ".join(f"{n} for {name}" for name, n in lengths.items())
        raise InvalidInput("paired values", "be of equal number", counts)
    return Axis(tuple(columns), tuple(zip(*columns.values(), strict=True)))


def span(name: str, low: float, high: float, steps: int) -> Axis:
    """Return the axis of one parameter over evenly spaced SI values, ends included."""
    if isinstance(steps, bool) or not isinstance(steps, int) or steps < 2:
        raise InvalidInput(f"steps of {name}", "be a whole number of at least 2", repr(steps))
    _check_range(name, low, high)
    return values(name, [float(f"{v:.12g}") for v in np.linspace(low, high, steps)])


def hypercube(ranges: Mapping[str, tuple[float, float]], count: int, *, seed: int = 0) -> Axis:
    """Return a latin hypercube: ``count`` rows that fill the ranges (SI) evenly.

    The same seed gives the same rows (M. D. McKay et al., Technometrics 21, 1979; as in
    scipy.stats.qmc).
    """
    if isinstance(count, bool) or not isinstance(count, int) or count < 1:
        raise InvalidInput("hypercube", "have a whole number of designs of at least 1", repr(count))
    for name, (low, high) in ranges.items():
        _check_range(name, low, high)
    low, high = np.array(list(ranges.values())).T
    from scipy.stats import qmc

    unit = qmc.LatinHypercube(len(ranges), rng=np.random.default_rng(seed)).random(count)
    rows = low + unit * (high - low)
    return Axis(tuple(ranges), tuple(tuple(float(f"{v:.9g}") for v in row) for row in rows))


def _check_range(name: str, low: float, high: float) -> None:
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise InvalidInput(
            f"range of {name}", "end above its start", f"from {low:.6g} to {high:.6g} (SI)"
        )


@dataclass(frozen=True)
class Point:
    """One design of a plan.

    Parameters
    ----------
    number : int
        From 0, in the plan's order.
    values : mapping of dotted name to SI value
        The swept ones.
    design : Design or None
        None if it cannot be built.
    error : str
        Why not.
    """

    number: int
    values: Mapping[str, Any]
    design: Design | None
    error: str = ""


@dataclass(frozen=True)
class Plan:
    """All combinations of some axes around a base design.

    Parameters
    ----------
    base : Design
    axes : tuple of Axis
        Every row of one with every row of the others; the last one changes fastest.
    rules : tuple of callable
        Applied in order; see :mod:`motor.study.rules`.
    contours : tuple of Contour
        Whose corners get their least radius at last.
    """

    base: Design
    axes: tuple[Axis, ...]
    rules: tuple[Rule, ...] = ()
    contours: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        names = [name for axis in self.axes for name in axis.names]
        for name in names:
            if names.count(name) > 1:
                raise InvalidInput("sweep", "name each parameter once", repr(name))
        read = {name: parameter_named(self.base, name) for name in names}
        ready = tuple(
            Axis(
                axis.names,
                tuple(
                    tuple(
                        read[name].read(value, bare=True)
                        for name, value in zip(axis.names, row, strict=True)
                    )
                    for row in axis.rows
                ),
            )
            for axis in self.axes
        )
        object.__setattr__(self, "axes", ready)

    def __len__(self) -> int:
        return math.prod(len(axis.rows) for axis in self.axes)

    @property
    def parameters(self) -> tuple[Parameter, ...]:
        """The swept parameters."""
        return tuple(parameter_named(self.base, n) for axis in self.axes for n in axis.names)

    def points(self) -> Iterator[Point]:
        """Yield every design, in the plan's order."""
        names = [name for axis in self.axes for name in axis.names]
        for number, rows in enumerate(itertools.product(*(axis.rows for axis in self.axes))):
            found = dict(zip(names, itertools.chain(*rows), strict=True))
            try:
                yield Point(number, found, self.build(found))
            except InvalidInput as error:
                yield Point(number, found, None, str(error))

    def build(self, changes: Mapping[str, Any]) -> Design:
        """Return the design with some parameters (SI) changed and all rules applied.

        Raises
        ------
        InvalidInput
            If there is no such design.
        """
        draft = Draft(self.base, changes)
        for rule in self.rules:
            draft = rule(draft)
        return as_cut(draft.design(), self.contours)
