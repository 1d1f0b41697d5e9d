"""What a target search is asked and what it answers: problem, trial, answer."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from geometries import Contour
from motor.base.drawable import Drawable
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.study.contours import machining
from motor.study.parameters import parameter_named
from motor.study.plan import Plan
from motor.study.rules import Rule, keep_resistance
from motor.study.target import Requirement, Target

__all__ = ["Answer", "Problem", "Trial"]


@dataclass(frozen=True)
class Problem:
    """A target and what may be changed to reach it.

    Parameters
    ----------
    base : Design
    target : Target
    free : mapping of dotted name to (low, high)
        SI.
    rules : tuple of callable
        Applied after the free values, the wire for the target's resistance last.
    choices : mapping of dotted name to sequence
        Tried one after the other in all combinations, e.g. magnet grades.
    contours : tuple of Contour
        Whose coordinates are among the free parameters; machining adds to what is required.
    """

    base: Design
    target: Target
    free: Mapping[str, tuple[float, float]]
    rules: tuple[Rule, ...] = ()
    choices: Mapping[str, Sequence[Any]] = field(default_factory=dict)
    contours: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        if not self.free:
            raise InvalidInput("free", "name at least one parameter", "none")
        powered = self.base.heat.power is not None or "heat.power" in {*self.free, *self.choices}
        for name in () if powered else self.target.warm:
            limit = "be asked of a design whose section [heat] gives a power"
            raise InvalidInput(name, limit, "none", "target")
        for name, (low, high) in self.free.items():
            parameter = parameter_named(self.base, name)
            if parameter.kind in ("text", "count"):
                raise InvalidInput("free", "name parameters that vary smoothly", name)
            if not (math.isfinite(low) and math.isfinite(high) and low < high):
                raise InvalidInput(
                    f"range of {name}",
                    "end above its start",
                    f"{parameter.text(low)} to {parameter.text(high)}",
                )

    def requirements(self, results: Mapping[str, Any], design: Design) -> tuple[Requirement, ...]:
        """Return every requirement with what a design and its results make of it."""
        asked = self.target.requirements(results)
        return (*asked, *machining(design, self.contours))

    @functools.cached_property
    def plan(self) -> Plan:
        """The base with all rules."""
        rules = self.rules
        if self.target.resistance is not None:
            first = functools.partial(keep_resistance, resistance=self.target.resistance)
            rules = (first, *rules)
        return Plan(self.base, (), rules, self.contours)


@dataclass(frozen=True)
class Trial:
    """One design that was tried.

    Parameters
    ----------
    values : mapping of dotted name to SI value
    design : Design or None
        None if it cannot be built.
    results : mapping or None
    requirements : tuple of Requirement
    objective : float
        Infinite if it could not be solved.
    """

    values: Mapping[str, Any]
    design: Design | None
    results: Mapping[str, Any] | None
    requirements: tuple[Requirement, ...]
    objective: float

    @property
    def worst(self) -> float:
        """Least slack of all requirements."""
        return min((r.slack for r in self.requirements), default=-math.inf)


@dataclass(frozen=True)
class Answer(Drawable):
    """What a search found.

    Parameters
    ----------
    feasible : bool
        Whether the best trial meets the target.
    best : Trial
        The least objective of all that meet it; if none does, the smallest worst miss.
    binding : tuple of str
        What holds it there: requirements just met or missed, and ends of the free ranges.
    trials : int
        Designs looked at.
    tried : tuple of Trial
        They themselves, in the order in which they were looked at, but for those with turns
        between whole numbers.
    without : str
        Why it was searched without derivatives; "" if with them.
    """

    feasible: bool
    best: Trial
    binding: tuple[str, ...]
    trials: int
    tried: tuple[Trial, ...] = ()
    without: str = ""

    def sentence(self) -> str:
        """Return the answer in words."""
        binds = "".join(f"\n- {text}" for text in self.binding) or "\n- nothing"
        if self.feasible:
            return f"The target can be met. What binds at the optimum:{binds}"
        return (
            "No motor within the free ranges meets the target. The nearest one misses as little "
            f"as possible; what binds:{binds}"
        )
