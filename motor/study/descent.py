"""Descent: from one point to a better one by values and derivatives, a step at a time.

Sequential quadratic programming in a trust region (R. Fletcher, Practical Methods of Optimization,
1987; from memory): what is minimised and every requirement is a quadratic model whose gradient is
given and whose curvature is learned from the gradients seen so far (symmetric rank one, as in the
same book).  scipy's SLSQP finds the best step of the models.  A requirement that is missed counts
by the largest miss times a weight, which rises until it is met or no step makes it smaller.

Nothing is solved here: who uses it solves :attr:`Descent.place` and tells what came of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from motor.base.arrays import Bools, Floats

__all__ = ["Descent", "Local"]

FIRST, WIDEST, LEAST = 0.15, 0.4, 2e-3
"""Trust region in shares of the free ranges: at first, at most, and where a descent ends."""
USUAL = 0.05
"""Trust region from which on all that the models promise counts; below it in proportion."""
WEIGHTS = (10.0, 100.0, 1000.0)
"""Of the largest miss beside the relative change of the objective, one after the other."""
MISSED = 1e-3
"""Largest miss that is not worth a larger weight."""
NEAR_MISS, SETTLINGS = 0.01, 3
"""A miss below the first is met by keeping more spare, so many times: the mesh's scatter."""
SHORT = 5e-3
"""Steps below this teach no curvature: gradients of two meshes scatter."""


@dataclass(frozen=True)
class Local:
    """What is known where a design stands, over the unit cube of n free parameters.

    Parameters
    ----------
    objectives : (p,) array
        The largest of them is minimised.
    slacks : (m,) array
        Of every requirement, negative where it is missed.
    gradients : (p, n) array
        Of the objectives.
    jacobian : (m, n) array
        Of the slacks.
    known : (n,) array of bool
        Whether a parameter has derivatives there; it stays where it is if not.
    """

    objectives: Floats
    slacks: Floats
    gradients: Floats
    jacobian: Floats
    known: Bools

    @property
    def objective(self) -> float:
        """What is minimised."""
        return float(self.objectives.max())

    @property
    def miss(self) -> float:
        """The largest miss; 0 if there is none."""
        return max(0.0, -float(self.slacks.min(initial=0.0)))


class Descent:
    """One descent.

    Parameters
    ----------
    start : (n,) array
        In the unit cube.
    spare : float
        Slack that the models keep, so that the scatter between two meshes makes no miss.
    enough : float
        It ends where the models promise less than this share of the objective.
    most : int
        Points at most.
    like : Descent or None
        One whose curvatures it starts with, and a smaller trust region.
    """

    def __init__(
        self, start: Floats, *, spare: float, enough: float, most: int, like: Descent | None = None
    ) -> None:
        self.place: Floats | None = np.asarray(start, float)
        self.at: Floats = self.place
        self.here: Local | None = None
        self.spare, self.enough, self.left = spare, enough, most
        self.reach = FIRST if like is None else FIRST / 3
        self._curves: Floats | None = None if like is None else like._curves
        self._weight, self._settlings = 0, SETTLINGS
        self._promised = self._step = 0.0

    def told(self, found: Local | None) -> None:
        """Take what came of :attr:`place` (None: no such motor) and choose the next one."""
        assert self.place is not None
        self.left -= 1
        if self.here is None:
            if found is None:
                self.place = None
                return
            self._move(found)
        elif found is None:
            self.reach = 0.3 * self._step
        else:
            self._learn(found)
            ratio = (self._merit(self.here) - self._merit(found)) / self._promised
            if ratio < 0.25:
                self.reach = 0.4 * self._step
            elif ratio > 0.75:
                self.reach = min(max(self.reach, 2 * self._step), WIDEST)
            if ratio > 0:
                self._move(found)
        self._choose()

    def _move(self, found: Local) -> None:
        assert self.place is not None
        rows = len(found.objectives) + len(found.slacks)
        if self._curves is None or len(self._curves) != rows:
            old, n = self._curves, len(self.place)
            self._curves = np.zeros((rows, n, n))
            if old is not None:
                self._curves[: len(old)] = old[: len(self._curves)]
        if self.here is None:
            self._scale = abs(found.objective) or 1.0
        self.at, self.here = self.place, found

    def _merit(self, found: Local) -> float:
        return found.objective / self._scale + WEIGHTS[self._weight] * found.miss

    def _learn(self, found: Local) -> None:
        """Bend the models so that they have the gradients at both ends of the step."""
        assert self.place is not None
        assert self.here is not None
        assert self._curves is not None
        step = self.place - self.at
        known = self.here.known & found.known
        if np.abs(step).max() < SHORT or not known.all():
            return
        before = np.vstack([self.here.gradients, self.here.jacobian])
        after = np.vstack([found.gradients, found.jacobian])
        curves = self._curves.copy()
        for k, change in enumerate(after - before):
            left = change - curves[k] @ step
            along = float(left @ step)
            if abs(along) > 1e-3 * float(np.linalg.norm(left) * np.linalg.norm(step)):
                curves[k] += np.outer(left, left) / along
        self._curves = curves

    def _choose(self) -> None:
        """Set the next place; None where the descent has ended."""
        assert self.here is not None
        while True:
            step, promised = self._best_step()
            enough = self.enough * min(1.0, self.reach / USUAL)
            if self.left <= 0 or promised < enough or self.reach < LEAST:
                if self.left <= 0 or not self._press():
                    self.place = None
                    return
                continue
            self._promised, self._step = promised, float(np.abs(step).max())
            self.place = np.clip(self.at + step, 0.0, 1.0)
            return

    def _press(self) -> bool:
        """Ask for the requirements with more weight or spare where they are missed."""
        assert self.here is not None
        miss = self.here.miss
        if miss > MISSED and self._weight < len(WEIGHTS) - 1:
            self._weight += 1
        elif 0 < miss < NEAR_MISS and self._settlings > 0:
            self._settlings -= 1
            self.spare += miss
        else:
            return False
        self.reach = max(self.reach, FIRST / 3)
        return True

    def _best_step(self) -> tuple[Floats, float]:
        """Return the models' best step within the trust region, and the merit it promises."""
        here, curves, at = self.here, self._curves, self.at
        assert here is not None
        assert curves is not None
        n, p, weight = len(at), len(here.objectives), WEIGHTS[self._weight]
        low = np.where(here.known, np.maximum(-self.reach, -at), 0.0)
        high = np.where(here.known, np.minimum(self.reach, 1 - at), 0.0)
        scale = np.ones(len(curves))
        scale[:p] = self._scale
        values = np.concatenate([here.objectives, here.slacks - self.spare]) / scale
        slopes = np.vstack([here.gradients, here.jacobian]) / scale[:, None]
        bends = curves / scale[:, None, None]

        def models(step: Floats) -> Floats:
            return np.asarray(values + slopes @ step + 0.5 * (bends @ step) @ step)

        sides = np.where(np.arange(len(values)) < p, -1.0, 1.0)
        lifts = np.stack([sides < 0, sides > 0], axis=1).astype(float)
        miss = max(0.0, -float(values[p:].min(initial=0.0)))
        found = minimize(  # over the step, the largest objective and the largest miss
            lambda v: v[n] + weight * v[n + 1],
            np.concatenate([np.zeros(n), [values[:p].max(), miss]]),
            jac=lambda v: np.concatenate([np.zeros(n), [1.0, weight]]),
            method="SLSQP",
            bounds=[*zip(low, high, strict=True), (None, None), (0.0, None)],
            constraints={
                "type": "ineq",
                "fun": lambda v: sides * models(v[:n]) + lifts @ v[n:],
                "jac": lambda v: np.hstack([sides[:, None] * (slopes + bends @ v[:n]), lifts]),
            },
            options={"maxiter": 200, "ftol": 1e-9},
        )
        step = np.clip(found.x[:n], low, high)
        if not np.isfinite(step).all():
            return np.zeros(n), 0.0
        after = models(step)
        left = max(0.0, -self.spare - float(after[p:].min(initial=0.0)))
        promised = float(values[:p].max() - after[:p].max())
        return step, promised + weight * (here.miss - left)
