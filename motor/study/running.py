"""Running a plan: every design solved once, written as it comes, whatever dies on the way."""

from __future__ import annotations

import functools
import itertools
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from motor.base.errors import MachineError, SolveError
from motor.design.reading import design_to_toml
from motor.study.evaluate import Job, Measure, Outcome, code_digest, digest, job_of
from motor.study.plan import Plan, Point
from motor.study.problem import Problem
from motor.study.processes import Engine, Lost, Processes, Task
from motor.study.store import Row, Store

__all__ = [
    "Finished",
    "StudyRun",
    "demand_all",
    "plan_digest",
    "problem_digest",
    "read_rows",
    "run",
    "run_jobs",
]

CHUNK = 2000
"""Points looked at together for common fields."""
LARGEST_TASK = 25
"""Designs of one field that are handed out together."""
AHEAD = 2
"""Tasks in flight per worker."""
PAUSE = 0.2
"""Seconds between looks at what another program solves."""

Progress = Callable[[int, int], None]
Finished = Callable[[Job, bool], None]
"""Told of each design as it is finished, and whether the store held it already."""


@dataclass(frozen=True)
class StudyRun:
    """What a run did.

    Parameters
    ----------
    plan : str
        Digest of the plan, the key of its points in the store.
    points, impossible : int
        All points; those whose design cannot be built.
    solved, reused : int
        Designs solved now (failed ones too); designs that the store held already.
    seconds : float
    missing : mapping of str to int
        Why the machine left how many designs without a result; the next run tries them again.
    """

    plan: str
    points: int
    impossible: int
    solved: int
    reused: int
    seconds: float
    missing: Mapping[str, int] = field(default_factory=dict)


def plan_digest(plan: Plan, measure: Measure | None = None) -> str:
    """Return a digest of a plan's base, parameters, values and rules, and of what is measured.

    Rules are told apart by their names and arguments.
    """
    base = job_of(plan.base, measure).fingerprint
    return digest([base, plan.axes, [_described(rule) for rule in plan.rules]])


def problem_digest(problem: Problem) -> str:
    """Return a digest of a target search's base, rules, target and what may be changed."""
    plan = plan_digest(problem.plan, problem.target.measure)
    return digest([plan, problem.target, problem.free, problem.choices, problem.contours])


def _described(rule: Any) -> Any:
    if isinstance(rule, functools.partial):
        return [_described(rule.func), list(rule.args), dict(rule.keywords)]
    return getattr(rule, "__qualname__", rule)


def run(
    plan: Plan,
    store: str | Path,
    *,
    measure: Measure | None = None,
    engine: Engine | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
    retry_failed: bool = False,
    study: str = "",
) -> StudyRun:
    """Solve all designs of a plan that the store does not hold yet.

    Parameters
    ----------
    plan : Plan
    store : path
        SQLite file; see :mod:`motor.study.store`.
    measure : Measure or None
    engine : Engine or None
        None for processes on this machine; a given one stays open.
    workers : int or None
        Number of processes; None for all cores.
    progress : callable or None
        Called with the number of points done and of all points.
    retry_failed : bool
        True to try designs again that failed before.
    study : str
        Name of the study: a store that belongs to another one is refused.  "" asks nothing.

    Raises
    ------
    InvalidInput
        If the store is another file, of another version or study, or not as it was written.
    OutputError
        If the store cannot be written; what was finished before stays in it.
    """
    began = time.perf_counter()
    name = plan_digest(plan, measure)
    points = impossible = solved = reused = done = 0
    missing: Counter[str] = Counter()
    crew = Processes(workers) if engine is None else engine
    try:
        with Store(store) as opened:
            if study:
                opened.admit(study, name)
            stream = plan.points()
            while chunk := list(itertools.islice(stream, CHUNK)):
                jobs, times = _enter(opened, name, chunk, measure)
                points += len(chunk)
                impossible += len(chunk) - times.total()
                done += len(chunk) - times.total()

                def finished(job: Job, known: bool, times: Counter[str] = times) -> None:
                    nonlocal done, solved, reused
                    done += times[job.fingerprint]
                    solved, reused = solved + (not known), reused + known
                    if progress is not None:
                        progress(done, len(plan))

                missing += run_jobs(
                    opened, jobs, crew, finished=finished, retry_failed=retry_failed
                )
    finally:
        if engine is None:
            crew.close()
    seconds = time.perf_counter() - began
    return StudyRun(name, points, impossible, solved, reused, seconds, missing)


def _enter(
    store: Store, name: str, chunk: list[Point], measure: Measure | None
) -> tuple[list[Job], Counter[str]]:
    """Write points into the store; return their jobs, each once, and how often each occurs."""
    jobs: dict[str, Job] = {}
    times: Counter[str] = Counter()
    entries = []
    for point in chunk:
        job = None if point.design is None else job_of(point.design, measure)
        shown = {
            k: v if isinstance(v, str | int | float) else v.name for k, v in point.values.items()
        }
        key = None if job is None else job.fingerprint
        entries.append((point.number, shown, key, point.error))
        if job is not None:
            jobs[job.fingerprint] = job
            times[job.fingerprint] += 1
    store.set_points(name, entries)
    return list(jobs.values()), times


def run_jobs(
    store: Store,
    jobs: Iterable[Job],
    engine: Engine,
    *,
    finished: Finished | None = None,
    retry_failed: bool = False,
) -> Counter[str]:
    """Solve jobs that the store does not hold yet, those with a common field together.

    A job whose worker died is handed out once more, alone.  What the machine fails at is not
    recorded, so that the next run tries it again.  What another program solves at the moment is
    waited for, and taken up if that program fails or ends.

    Returns
    -------
    Counter of str
        Why the machine left how many jobs without a result.
    """
    under_way = _UnderWay(store, engine, finished or _say_nothing, retry_failed, _tasks(jobs))
    while True:
        under_way.hand_out()
        if under_way.flying:
            under_way.collect()
        elif under_way.elsewhere:
            time.sleep(PAUSE)
            under_way.take_up()
        else:
            return under_way.missing


def _say_nothing(_job: Job, _known: bool) -> None:
    pass


@dataclass
class _UnderWay:
    """Where the jobs of a run stand: waiting, with a worker, with another program, to try again."""

    store: Store
    engine: Engine
    tell: Finished
    retry_failed: bool
    waiting: Iterator[Task]
    flying: dict[int, tuple[Task, int]] = field(default_factory=dict)
    again: list[Task] = field(default_factory=list)
    elsewhere: list[Job] = field(default_factory=list)
    waited: set[str] = field(default_factory=set)
    missing: Counter[str] = field(default_factory=Counter)
    numbers: Iterator[int] = field(default_factory=itertools.count)

    def hand_out(self) -> None:
        """Give the workers tasks until they have enough, or none is left."""
        while len(self.flying) < AHEAD * self.engine.workers:
            if self.again:
                attempt, task = 2, self.again.pop()
            else:
                attempt, task = 1, next(self.waiting, ())
                if not task:
                    return
                task = self._claimed(task)
            if task:
                number = next(self.numbers)
                self.flying[number] = task, attempt
                self.engine.submit(number, task)

    def _claimed(self, task: Task) -> Task:
        """Return the jobs of a task that are ours to solve; the store or another has the rest."""
        failed = not self.retry_failed or task[0].fingerprint in self.waited
        claim = self.store.claim([job.fingerprint for job in task], failed=failed)
        for job in task:
            if job.fingerprint in claim.known:
                self.tell(job, True)
        self.elsewhere += [job for job in task if job.fingerprint in claim.others]
        return tuple(job for job in task if job.fingerprint in claim.ours)

    def take_up(self) -> None:
        """Look again at what another program was solving."""
        self.waited |= {job.fingerprint for job in self.elsewhere}
        self.waiting, self.elsewhere = _tasks(self.elsewhere), []

    def collect(self) -> None:
        """Record what the workers have finished; a worker's death asks for another attempt."""
        for number, found in self.engine.collect():
            task, attempt = self.flying.pop(number)
            if isinstance(found, Lost) and attempt == 1:
                self.again += [(job,) for job in task]
                continue
            for job, outcome in zip(task, _outcomes(task, found), strict=True):
                if outcome.machine:
                    self.missing[outcome.error] += 1
                    self.store.release([job.fingerprint])
                    continue
                self.store.record(job, design_to_toml(job.design), outcome, attempt)
                self.tell(job, False)


def _tasks(jobs: Iterable[Job]) -> Iterator[Task]:
    """Yield jobs in groups that share a field."""
    groups: dict[str, list[Job]] = {}
    for job in jobs:
        groups.setdefault(job.field, []).append(job)
    for group in groups.values():
        for start in range(0, len(group), LARGEST_TASK):
            yield tuple(group[start : start + LARGEST_TASK])


def _outcomes(task: Task, found: list[Outcome] | Lost) -> list[Outcome]:
    if isinstance(found, Lost):
        return [Outcome(job.fingerprint, None, found.reason, 0.0, "", True) for job in task]
    for outcome in found:
        if outcome.code != code_digest():
            raise SolveError(
                "a worker runs another version of this program than the study; install the same "
                "on all machines"
            )
    return found


def demand_all(missing: Mapping[str, int]) -> None:
    """Raise MachineError if the machine left designs without a result."""
    if missing:
        causes = "; ".join(f"{count}: {cause}" for cause, count in missing.items())
        raise MachineError(
            f"{sum(missing.values())} designs have no result because the machine failed, not the "
            f"designs ({causes}). See to memory, disk space and libraries, or use fewer workers or "
            "a longer time limit; the same command tries just these again"
        )


def read_rows(store: str | Path, plan: Plan, measure: Measure | None = None) -> list[Row]:
    """Return all points of a plan in order with what the store holds of them."""
    with Store(store) as opened:
        return list(opened.rows(plan_digest(plan, measure)))
