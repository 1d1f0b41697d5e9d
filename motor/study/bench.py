"""Where a target search solves its trials: one combination of choices, each design once."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.design.reading import design_to_toml
from motor.study.contours import machining, machining_pieces
from motor.study.descent import Local
from motor.study.evaluate import Around, Job, Outcome, around_job_of, code_digest, job_of
from motor.study.parameters import Draft
from motor.study.problem import Problem, Trial
from motor.study.processes import Engine
from motor.study.running import demand_all, run_jobs
from motor.study.slopes import pieces, sides_of
from motor.study.store import Store
from motor.study.target import GOAL_KEYS, Requirement, Target

__all__ = ["NO_MOTOR", "SPARE", "Bench", "keys_of", "local_of", "needs_of"]

SPARE = 5e-4
"""Relative distance that a search keeps from each requirement, so that its answer meets it."""
FAR = 10.0
"""A limit of the stroke that is nowhere reached counts as so many times the largest other one."""
WORST = -10.0
"""Slack of what a design does not have, where it must have little of it."""
NO_MOTOR = -1.0
"""Slack of a design that cannot be built or solved."""


class Bench:
    """Solves trials of one combination of choices, each once.

    Parameters
    ----------
    problem : Problem
    fixed : mapping
        The choices, SI.
    store : Store
    engine : Engine
    tell : callable
        Called for each design looked at.
    """

    def __init__(
        self,
        problem: Problem,
        fixed: Mapping[str, Any],
        store: Store,
        engine: Engine,
        tell: Callable[[], None],
    ) -> None:
        self.problem, self.fixed, self.store, self.tell = problem, fixed, store, tell
        self.engine = engine
        self.low, self.high = np.array(list(problem.free.values())).T
        self.trials: dict[bytes, Trial] = {}
        self.looks = 0
        """Designs looked at on the way that are no trials: turns between whole numbers."""
        self.asked = problem.target.requirements(_nothing())

    def values(self, unit: Floats) -> dict[str, Any]:
        """Return the parameters (SI) at a point of the unit cube."""
        where = self.low + np.clip(unit, 0, 1) * (self.high - self.low)
        names = self.problem.free
        return {
            **self.fixed,
            **{n: round(float(v), 9) + 0.0 for n, v in zip(names, where, strict=True)},
        }

    def unit(self, values: Mapping[str, float]) -> Floats:
        """Return the point of the unit cube nearest to free values; what is missing as drawn."""
        draft = Draft(self.problem.base)
        where = np.array([values.get(n, draft.get(n)) for n in self.problem.free])
        return np.asarray(np.clip((where - self.low) / (self.high - self.low), 0.0, 1.0))

    def design(self, unit: Floats) -> Design:
        """Return the design at a point; InvalidInput if there is none."""
        return self.problem.plan.build(self.values(unit))

    def job(self, unit: Floats) -> Job | None:
        """Return the job at a point; None if the design cannot be built."""
        try:
            return job_of(self.design(unit), self.problem.target.measure)
        except InvalidInput:
            return None

    def trial(self, unit: Floats) -> Trial:
        """Return the trial at a point of the unit cube, from the store if it is there."""
        key = np.asarray(unit, float).tobytes()
        if key not in self.trials:
            job = self.job(unit)
            results = None
            if job is not None:
                demand_all(run_jobs(self.store, [job], self.engine))
                results = self.store.results_of(job.fingerprint)
            self._keep(unit, None if job is None else job.design, results)
        return self.trials[key]

    def _keep(self, unit: Floats, design: Design | None, results: Mapping[str, Any] | None) -> None:
        problem = self.problem
        self.trials[np.asarray(unit, float).tobytes()] = Trial(
            self.values(unit),
            design,
            results,
            () if results is None or design is None else problem.requirements(results, design),
            math.inf if results is None else problem.target.objective(results),
        )
        self.tell()

    def slacks(self, unit: Floats) -> Floats:
        """Return the slack of every requirement less the spare."""
        found = self.trial(unit).requirements
        if not found:
            rules = machining(self.problem.base, self.problem.contours)
            return np.full(len(self.asked) + len(rules), NO_MOTOR)
        return np.array([r.slack for r in found]) - SPARE

    def around(
        self,
        places: Sequence[tuple[Floats, Callable[[Floats], Design]]],
        *,
        rough: bool,
    ) -> list[tuple[Local | None, list[str]]]:
        """Solve designs with derivatives, all at once.

        Parameters
        ----------
        places : sequence of ((n,) array, callable)
            Points of the unit cube, and what builds the design at one; InvalidInput if there is
            none.
        rough : bool
            True for looks on one mesh; without, what is solved counts as a trial.

        Returns
        -------
        list of (Local or None, list of str)
            What is known there, and for each parameter why not, "" where it is.
        """
        target = self.problem.target
        jobs: list[Job | None] = []
        for unit, build in places:
            try:
                design = build(unit)
            except InvalidInput:
                jobs.append(None)
                continue
            sides = sides_of(build, unit, design)
            around = Around(sides, keys_of(self.problem), rough)
            jobs.append(around_job_of(design, target.measure, around))
        demand_all(run_jobs(self.store, [j for j in jobs if j is not None], self.engine))
        found: list[tuple[Local | None, list[str]]] = []
        for (unit, _), job in zip(places, jobs, strict=True):
            results = None if job is None else self.store.results_of(job.fingerprint)
            if rough:
                self.looks += 1
                self.tell()
            else:
                self._keep_exact(unit, job, results)
            if job is None or results is None:
                found.append((None, []))
            else:
                found.append((local_of(self.problem, job, results), results["refused"]))
        return found

    def _keep_exact(self, unit: Floats, job: Job | None, results: Mapping[str, Any] | None) -> None:
        """Keep a trial that was solved with derivatives, in the store as any other."""
        if job is not None and results is not None:
            plain = {k: v for k, v in results.items() if k not in ("slopes", "refused")}
            own = job_of(job.design, job.measure)
            if not self.store.finished([own.fingerprint]):
                outcome = Outcome(own.fingerprint, plain, "", 0.0, code_digest())
                self.store.record(own, design_to_toml(job.design), outcome)
            results = self.store.results_of(own.fingerprint)
        self._keep(unit, None if job is None else job.design, results)


def keys_of(problem: Problem) -> tuple[str, ...]:
    """Return the figures that requirements and objective depend on, each of the smooth ones."""
    target, design = problem.target, problem.base
    asked = [need.key for need in target.requirements(_nothing())]
    if target.extreme is not None:
        asked.append(target.extreme[0].key)
    found = [piece for key in asked for piece in pieces(key, design)]
    return tuple(dict.fromkeys([*GOAL_KEYS, *found]))


def _objectives(
    target: Target, design: Design, results: Mapping[str, Any]
) -> tuple[Floats, Floats]:
    """Return what the largest of is minimised, and the derivatives: (p,) and (p, n)."""
    slopes = results["slopes"]
    if target.extreme is None:
        by = np.array([_filled(slopes[key]) for key in GOAL_KEYS]).T
        slope = [target.objective(dict(zip(GOAL_KEYS, k, strict=True))) for k in by]
        return np.array([target.objective(results)]), np.array([slope])
    figure, sign = target.extreme
    keys = pieces(figure.key, design)
    known = [results[key] for key in keys if results[key] is not None]
    far = FAR * max([abs(value) for value in known], default=1.0)
    reached = [far if results[key] is None else results[key] for key in keys]
    gradients = np.array([_filled(slopes[key]) for key in keys])
    return sign * np.array(reached), sign * gradients


def needs_of(problem: Problem, design: Design, results: Mapping[str, Any]) -> list[Requirement]:
    """Return every requirement, one that is the least of several figures once for each.

    What machining asks of contours comes last.
    """
    return [
        *_asked(problem.target, design, results),
        *machining_pieces(design, problem.contours),
    ]


def _asked(target: Target, design: Design, results: Mapping[str, Any]) -> list[Requirement]:
    return [
        dataclasses.replace(need, value=math.inf if value is None else value, key=piece)
        for need in target.requirements(_nothing())
        for piece in pieces(need.key, design)
        for value in [results.get(piece)]
    ]


def local_of(problem: Problem, job: Job, results: Mapping[str, Any]) -> Local:
    """Return what a job with derivatives says, requirements as in :func:`needs_of`."""
    assert job.around is not None
    slopes, design = results["slopes"], job.design
    known = np.array([not reason for reason in results["refused"]])
    asked = _asked(problem.target, design, results)
    rows = [(1 if n.least else -1) / n.scale * _filled(slopes[n.key]) for n in asked]
    machined = _machining_slopes(problem, job.around)
    values, gradients = _objectives(problem.target, design, results)
    needs = [*asked, *machining_pieces(design, problem.contours)]
    slacks = np.array([max(need.slack, WORST) for need in needs])
    jacobian = np.vstack([np.array(rows).reshape(-1, len(known)), machined])
    return Local(values, slacks, gradients, jacobian, known)


def _machining_slopes(problem: Problem, around: Around) -> Floats:
    """Return the derivatives of what machining asks, which follow from the drawing alone."""
    columns = []
    rows = len(machining_pieces(problem.base, problem.contours))
    for side in around.sides:
        if side is None or not rows:
            columns.append(np.zeros(rows))
            continue
        ends = [machining_pieces(d, problem.contours) for d in (side.low, side.high)]
        low, high = (np.array([need.value / need.scale for need in end]) for end in ends)
        columns.append((high - low) / side.step)
    return np.array(columns).T


def _filled(slopes: Sequence[float | None]) -> Floats:
    return np.array([0.0 if s is None else s for s in slopes])


def _nothing() -> Mapping[str, Any]:
    """Return results in which every value is missing."""

    class Missing(dict[str, Any]):
        def __missing__(self, _: str) -> None:
            return None

    return Missing()
