"""Target search: the motor that meets a target at least mass, cost or volume.

Where figures have derivatives by all free parameters, descents follow them from several starts
(:mod:`motor.study.descending`).  Elsewhere a latin hypercube over the free parameters looks for a
start.  From the best of it a trust-region method for functions without derivatives (T. M.
Ragonneau and Z. Zhang, COBYQA, as in scipy.optimize) first brings the largest miss below zero and
then minimises what was asked for.  Every design that is solved goes into the store, so that a
search that is killed repeats nothing, and the best of all of them is the answer.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, NonlinearConstraint, minimize

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput, SolveError
from motor.study.bench import SPARE, Bench
from motor.study.descending import descend
from motor.study.parameters import Draft, parameter_named
from motor.study.plan import hypercube
from motor.study.problem import Answer, Problem, Trial
from motor.study.processes import Engine, Processes
from motor.study.relaxed import NoDescentError
from motor.study.running import demand_all, problem_digest, run_jobs
from motor.study.store import Store

__all__ = ["search"]

SAMPLES_PER_FREE = 10
STARTS, ROUNDS = 2, 6
GAIN = 2e-3
"""The optimiser starts again from the best trial until a round gains less than this share: whole
turns make small steps in all results, on which a trust region may shrink too early."""
FIRST_STEP, LAST_STEP = 0.12, 2e-3
"""Trust region in shares of the free range."""
AT_BOUND = 0.01


class _Found(Exception):
    """A trial that meets the target was found."""


def search(
    problem: Problem,
    store: str | Path,
    *,
    engine: Engine | None = None,
    progress: Callable[[int], None] | None = None,
    evaluations: int = 150,
    seed: int = 0,
    study: str = "",
    derivatives: bool = True,
    starts: Sequence[Mapping[str, float]] = (),
) -> Answer:
    """Find the motor that meets the target at the least objective.

    Parameters
    ----------
    problem : Problem
    store : path
        Every solved design is kept there and never solved twice.
    engine : Engine or None
        None for processes on this machine; a given one stays open.
    progress : callable or None
        Called with the number of designs looked at.
    evaluations : int
        Most designs per start of the optimiser without derivatives.
    seed : int
        Of the first look around; the same seed repeats the search.
    study : str
        Name of the study: a store that belongs to another one is refused.  "" asks nothing.
    derivatives : bool
        False to do without.
    starts : sequence of mapping of dotted name to float
        Free values (SI) from which the search by derivatives sets out, from these only: answers
        of like searches.  The answer is no worse than any of them.  Names that are missing are as
        in the base.

    Raises
    ------
    InvalidInput, OutputError
    SolveError
        If not one design within the free ranges could be built and solved.
    """
    counter = itertools.count(1)

    def tell() -> None:
        if progress is not None:
            progress(next(counter))

    best: Trial | None = None
    looked: list[Trial] = []
    between = 0
    without = "" if derivatives else "it was asked to do without"
    crew = Processes() if engine is None else engine
    try:
        with Store(store) as opened:
            if study:
                opened.admit(study, problem_digest(problem))
            for chosen in itertools.product(*problem.choices.values()):
                fixed = {
                    name: parameter_named(problem.base, name).read(value, bare=True)
                    for name, value in zip(problem.choices, chosen, strict=True)
                }
                bench = Bench(problem, fixed, opened, crew, tell)
                if not without:
                    try:
                        descend(bench, seed, [bench.unit(start) for start in starts])
                    except NoDescentError as reason:
                        without = str(reason)
                if without:
                    _look_around(bench, seed)
                    _climb(bench, evaluations)
                looked += bench.trials.values()
                between += bench.looks
                best = _best_of(looked)
    finally:
        if engine is None:
            crew.close()
    if best is None:
        raise SolveError(
            f"no design within the free ranges could be built and solved{_why(problem)}"
        )
    binding = tuple(_binding(problem, best))
    count = len(looked) + between
    return Answer(best.worst >= 0, best, binding, count, tuple(looked), without)


def _why(problem: Problem) -> str:
    """Return why the base with all rules cannot be built, "" if it can."""
    try:
        problem.plan.build({})
    except InvalidInput as error:
        return f": {error}"
    return ""


def _best_of(trials: list[Trial]) -> Trial | None:
    solved = [t for t in trials if t.results is not None]
    met = [t for t in solved if t.worst >= 0]
    if met:
        return min(met, key=lambda t: t.objective)
    return max(solved, key=lambda t: t.worst, default=None)


def _look_around(bench: Bench, seed: int) -> None:
    """Solve the base design, where it lies within the ranges, and a latin hypercube."""
    free = len(bench.low)
    ranges = dict.fromkeys(bench.problem.free, (0.0, 1.0))
    units = [np.array(row) for row in hypercube(ranges, SAMPLES_PER_FREE * free, seed=seed).rows]
    draft = Draft(bench.problem.base)
    base = np.array([draft.get(name) for name in bench.problem.free])
    own = (base - bench.low) / (bench.high - bench.low)
    if ((own >= 0) & (own <= 1)).all():
        units.insert(0, own)
    jobs = {job.fingerprint: job for job in map(bench.job, units) if job is not None}
    demand_all(run_jobs(bench.store, jobs.values(), bench.engine))
    for unit in units:
        bench.trial(unit)


def _climb(bench: Bench, evaluations: int) -> None:
    """Improve the best trials so far: first until they meet the target, then the objective."""
    known = [(np.frombuffer(key), trial) for key, trial in bench.trials.items()]
    solved = [(unit, trial) for unit, trial in known if trial.results is not None]
    if not solved:
        return
    met = sorted((p for p in solved if p[1].worst >= SPARE), key=lambda p: p[1].objective)
    starts = [unit for unit, _ in met[:STARTS]]
    if not starts:
        nearest = max(solved, key=lambda p: p[1].worst)[0]
        start = _towards_target(bench, nearest, evaluations)
        if start is None:
            return
        starts = [start]
    for start in starts:
        _minimise(bench, start, evaluations)
    for _ in range(ROUNDS):
        before = _best_met(bench)
        if before is None:
            return
        _minimise(bench, before[0], evaluations)
        after = _best_met(bench)
        if after is None or before[1].objective - after[1].objective < GAIN * abs(
            before[1].objective
        ):
            return


def _best_met(bench: Bench) -> tuple[Floats, Trial] | None:
    met = [(np.frombuffer(key), t) for key, t in bench.trials.items() if t.worst >= SPARE]
    return min(met, key=lambda pair: pair[1].objective, default=None)


def _towards_target(bench: Bench, start: Floats, evaluations: int) -> Floats | None:
    """Reduce the largest miss; return a point that meets the target, None if there is none.

    Minimises t such that every slack + t is positive.
    """
    met: list[Floats] = []

    def slacks(point: Floats) -> Floats:
        found = bench.slacks(point[:-1])
        if (found >= 0).all():
            met.append(np.array(point[:-1]))
            raise _Found
        return np.asarray(found + point[-1])

    free = len(start)
    miss = -float(bench.slacks(start).min())
    try:
        minimize(
            lambda point: float(point[-1]),
            np.append(start, miss),
            method="COBYQA",
            bounds=Bounds(np.append(np.zeros(free), -1.0), np.append(np.ones(free), 2.0)),
            constraints=NonlinearConstraint(slacks, 0.0, np.inf),
            options={
                "maxfev": evaluations,
                "initial_tr_radius": FIRST_STEP,
                "final_tr_radius": LAST_STEP,
            },
        )
    except _Found:
        return met[0]
    return None


def _minimise(bench: Bench, start: Floats, evaluations: int) -> None:
    """Minimise the objective from a point that meets the target."""
    scale = abs(bench.trial(start).objective) or 1.0

    def objective(unit: Floats) -> float:
        value = bench.trial(unit).objective
        return value / scale if math.isfinite(value) else 2.0

    minimize(
        objective,
        start,
        method="COBYQA",
        bounds=Bounds(np.zeros(len(start)), np.ones(len(start))),
        constraints=NonlinearConstraint(bench.slacks, 0.0, np.inf),
        options={
            "maxfev": evaluations,
            "initial_tr_radius": FIRST_STEP,
            "final_tr_radius": LAST_STEP,
        },
    )


def _binding(problem: Problem, trial: Trial) -> list[str]:
    """Return what holds a trial where it is."""
    found = [r.sentence() for r in trial.requirements if r.slack < AT_BOUND]
    for name, (low, high) in problem.free.items():
        share = (trial.values[name] - low) / (high - low)
        if not AT_BOUND < share < 1 - AT_BOUND:
            parameter = parameter_named(problem.base, name)
            end, value = ("lower", low) if share < 0.5 else ("upper", high)
            found.append(f"{name} is at its {end} end, {parameter.text(value)}")
    return found
