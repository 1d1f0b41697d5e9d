"""Everything a study's page is made of, from its file and its store."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.study.evaluate import Job, Measure, job_of
from motor.study.parameters import Draft, Parameter, parameter_named
from motor.study.pareto import pareto_front
from motor.study.problem import Answer, Problem, Trial
from motor.study.processes import Engine, Here
from motor.study.running import demand_all, run, run_jobs
from motor.study.searching import search
from motor.study.store import Store
from motor.study.study_file import StudyFile
from motor.study.study_table import StudyTable, study_table

__all__ = ["FRONT", "MARGIN", "OBJECTIVE", "Studied", "studied"]

MARGIN, OBJECTIVE = "target_margin_percent", "target_objective"
"""Columns of a target search beside the usual ones."""
FRONT = (("usable_stroke_mm", True), ("motor_constant_N2_per_W", True))
"""The two results of the first Pareto front, and whether more is better."""


@dataclass(frozen=True)
class Studied:
    """A study with its results.

    Parameters
    ----------
    asked : StudyFile
    parameters : tuple of Parameter
        Varied ones.
    table : StudyTable
        As :func:`motor.study.study_table.study_table` gives it; of a target search the designs that
        were looked at, in their order.
    designs : tuple of Design or None
        One per row; None where it cannot be built.
    base : mapping or None
        Results of the base design; None if it cannot be solved.
    base_text : str
        Design file of the base.
    answer : Answer or None
        Of a target search.
    """

    asked: StudyFile
    parameters: tuple[Parameter, ...]
    table: StudyTable
    designs: tuple[Design | None, ...]
    base: Mapping[str, Any] | None
    base_text: str
    answer: Answer | None = None

    @property
    def measure(self) -> Measure:
        """What was found out beside the usual results."""
        return self.asked.problem.target.measure if self.asked.problem else self.asked.measure

    @functools.cached_property
    def front(self) -> list[int]:
        """Numbers of the designs on the first Pareto front."""
        if any(key not in self.table.columns for key, _ in FRONT):
            return []
        goods = [self.table.array(key) * (1 if more else -1) for key, more in FRONT]
        return [int(i) for i in pareto_front(np.stack(goods, axis=1))]

    def base_value(self, parameter: Parameter) -> Any:
        """Return a parameter's value in the base design, in its column's unit, or None."""
        value = Draft(self.asked.design).get(parameter.name)
        return None if value is None else parameter.shown(value)


def studied(
    asked: StudyFile,
    store: str | Path,
    *,
    engine: Engine | None = None,
    progress: Callable[..., None] | None = None,
    evaluations: int = 150,
) -> Studied:
    """Return a study's results; whatever the store holds already is not solved again.

    Parameters
    ----------
    asked : StudyFile
    store : path
        SQLite file of the study, made if it does not exist.
    engine : Engine or None
        None for processes on this machine.
    progress : callable or None
        Called with the number of designs done, and of all where that is known.
    evaluations : int
        Of a target search, as in :func:`motor.study.searching.search`.

    Raises
    ------
    InvalidInput, OutputError, SolveError
    MachineError
        If the machine left designs without a result.
    """
    if asked.problem is not None:
        answer = search(
            asked.problem,
            store,
            engine=engine,
            progress=progress,
            evaluations=evaluations,
            study=asked.name,
        )
        designs = tuple(trial.design for trial in answer.tried)
        names = [*asked.problem.choices, *asked.problem.free]
        parameters = tuple(parameter_named(asked.design, name) for name in names)
        table, measure = None, asked.problem.target.measure
    else:
        assert asked.plan is not None
        answer, measure, parameters = None, asked.measure, asked.plan.parameters
        done = run(
            asked.plan, store, measure=measure, engine=engine, progress=progress, study=asked.name
        )
        demand_all(done.missing)
        designs = tuple(point.design for point in asked.plan.points())
        table = study_table(store, asked.plan, measure)
    jobs = [None if design is None else job_of(design, measure) for design in designs]
    home = job_of(asked.design, measure)
    with Store(store) as opened:
        demand_all(run_jobs(opened, [home], Here() if engine is None else engine))
        base = opened.results_of(home.fingerprint)
        if base is not None and asked.problem is not None:
            target = asked.problem.target
            slacks = [need.slack for need in target.requirements(base)]
            base = {
                **base,
                MARGIN: 100 * min(slacks, default=-math.inf),
                OBJECTIVE: target.objective(base),
            }
        errors = ["" if job is None else _entry(opened, job)[1] for job in jobs]
        base_text = _entry(opened, home)[0]
    if table is None:
        assert asked.problem is not None
        assert answer is not None
        table = _trial_table(asked.problem, answer.tried, parameters, errors)
    return Studied(asked, parameters, table, designs, base, base_text, answer)


def _entry(store: Store, job: Job) -> tuple[str, str]:
    found = store.entry_of(job.fingerprint)
    assert found is not None
    return found


def _trial_table(
    problem: Problem,
    trials: tuple[Trial, ...],
    parameters: tuple[Parameter, ...],
    errors: list[str],
) -> StudyTable:
    """Return the trials of a search as the table of a plan has them, with what they miss."""
    records = []
    for number, (trial, error) in enumerate(zip(trials, errors, strict=True)):
        record: dict[str, Any] = {"number": number}
        record |= {p.column: p.shown(trial.values[p.name]) for p in parameters}
        if trial.results is not None:
            record |= {MARGIN: 100 * trial.worst, OBJECTIVE: trial.objective}
        record |= trial.results or {}
        records.append(record | {"error": error or _impossible(problem, trial)})
    return StudyTable.of_records(records)


def _impossible(problem: Problem, trial: Trial) -> str:
    """Return why a trial's design cannot be built; "" if it can."""
    if trial.design is not None:
        return ""
    try:
        problem.plan.build(trial.values)
    except InvalidInput as error:
        return str(error)
    return ""
