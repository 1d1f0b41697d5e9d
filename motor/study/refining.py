"""Contours refined in steps: the part as drawn first, then few points that move, at last all.

Between points that move the others follow in proportion, so that whatever a step can draw the next
one can draw too: a search that goes on from where a step ended has more points and is never worse.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geometries import Contour, Outlines
from geometries.contour import coordinates
from motor.base.arrays import Bools, Floats, Ints
from motor.study.parameters import Draft
from motor.study.problem import Problem

__all__ = ["FEWEST", "Refinement", "refinements"]

FEWEST = 3
"""Points of a contour that are not halved again."""


@dataclass(frozen=True)
class Refinement:
    """Which of a search's n parameters lead, and how those that do not follow them.

    Parameters
    ----------
    leads : (m,) array of int
        Numbers of the parameters that are free in this step.
    weights : (n, m) array
        By how much a parameter moves with each lead, both in SI.
    plain : (m,) array of bool
        Whether a lead belongs to no contour.
    base, low, high : (n,) array
        Values as drawn and ends of the ranges, SI.
    """

    leads: Ints
    weights: Floats
    plain: Bools
    base: Floats
    low: Floats
    high: Floats

    def lifted(self, point: Floats) -> Floats:
        """Return the point of the whole unit cube for one of the leads': (n,) of (m,)."""
        size = self.high - self.low
        moved = self.low[self.leads] + point * size[self.leads] - self.base[self.leads]
        return np.asarray(np.clip((self.base + self.weights @ moved - self.low) / size, 0.0, 1.0))

    def lowered(self, unit: Floats) -> Floats:
        """Return the leads' part of a point of the whole unit cube."""
        return np.asarray(unit, float)[self.leads]


def refinements(problem: Problem) -> tuple[Refinement, ...]:
    """Return the steps of a search: one with all parameters where nothing has a contour."""
    names = list(problem.free)
    depth = max((len(halved(len(c.points))) for c in problem.contours), default=0)
    steps = [_step(problem, names, k, depth) for k in range(depth + 1)]
    return tuple(step for step in steps if len(step.leads))


def halved(count: int) -> list[list[int]]:
    """Return which of so many points move from step to step, each among those of the next."""
    found = [list(range(count))]
    while len(found[0]) > FEWEST:
        found.insert(0, found[0][1::2])
    return found


def _step(problem: Problem, names: Sequence[str], number: int, depth: int) -> Refinement:
    """Return a step from 0, the contours as drawn, to depth, all of their points."""
    weights = np.eye(len(names))
    follows, shapes = np.zeros(len(names), bool), np.zeros(len(names), bool)
    for contour in problem.contours:
        places = _places(problem, contour, names)
        steps = halved(len(contour.points))
        moving = steps[max(number - 1 - depth + len(steps), 0)] if number else []
        shapes[list(places.values())] = True
        for axis in "rz":
            free = {at: k for (at, way), k in places.items() if way == axis}
            leads = [at for at in free if at in moving]
            for at, k in free.items():
                if at not in leads:
                    weights[k], follows[k] = 0.0, True
                    for lead, share in _between(at, leads, len(contour.points)).items():
                        weights[k, free[lead]] = share
    leading = np.flatnonzero(~follows)
    draft = Draft(problem.base)
    low, high = np.array(list(problem.free.values())).T
    base = np.array([draft.get(name) for name in names])
    return Refinement(leading, weights[:, leading], ~shapes[leading], base, low, high)


def _places(
    problem: Problem, contour: Contour, names: Sequence[str]
) -> Mapping[tuple[int, str], int]:
    """Return the number of the parameter of each point (from 0) and way that is free."""
    geometry = problem.base.geometry
    assert isinstance(geometry, Outlines)
    known = {name: k for k, name in enumerate(names)}
    found = {}
    for (point, way), name in coordinates(contour).items():
        if f"geometry.{name}" in known:
            found[contour.points.index(point), way] = known[f"geometry.{name}"]
    return found


def _between(at: int, leads: Sequence[int], count: int) -> dict[int, float]:
    """Return the shares of the leads to either side; what follows and precedes stays."""
    below = max((k for k in leads if k < at), default=-1)
    above = min((k for k in leads if k > at), default=count)
    share = (at - below) / (above - below)
    return {k: s for k, s in ((below, 1 - share), (above, share)) if k in leads}
