"""What comes off the line: figures, yield and tests of a production, sampled and by derivatives."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput, MotorError
from motor.results.motor_result import solve
from motor.study.guarding import GUARDS, Passed, inside, passed
from motor.study.propagation import Propagation, propagate
from motor.study.study_file import StudyFile
from motor.study.study_table import StudyTable
from motor.study.tolerance import Scatter

__all__ = ["LotYield", "Produced", "produced"]


@dataclass(frozen=True)
class LotYield:
    """Shares of motors inside all limits, by derivatives, from lot to lot.

    Parameters
    ----------
    worst, median, best : float
        Of twenty lots, one has less than ``worst`` and one more than ``best``.
    """

    worst: float
    median: float
    best: float


@dataclass(frozen=True)
class Produced:
    """A production as sampled, and by derivatives beside it.

    Parameters
    ----------
    sampled : tuple of Scatter
    beside : Propagation or None
        By derivatives; None where that is not possible.
    refusal : str
        Why not; "" where nothing is to be said.
    apart : mapping of key to str
        In what the two disagree, by figure.
    tests : tuple of Passed
        With the guard bands asked for, then with others; empty without limits.  Without stations
        what is inside alone.
    tests_beside : tuple of Passed
        The same by derivatives; empty where a figure with a limit has none.
    count : int
        Motors sampled.
    lots : LotYield or None
        None without lots or limits, or without derivatives.
    """

    sampled: tuple[Scatter, ...]
    beside: Propagation | None
    refusal: str
    apart: Mapping[str, str]
    tests: tuple[Passed, ...]
    tests_beside: tuple[Passed, ...]
    count: int
    lots: LotYield | None

    @property
    def yields_apart(self) -> bool:
        """Whether yields differ by more than twice what chance does to the sampled one."""
        if not self.tests or not self.tests_beside:
            return False
        one, other = self.tests[0].good, self.tests_beside[0].good
        chance = math.sqrt(other * (1 - other) / self.count)
        return abs(one - other) > max(2 * chance, 1.5 / self.count)


def produced(asked: StudyFile, table: StudyTable, sampled: Sequence[Scatter]) -> Produced:
    """Return what a tolerance study says, with one solve of its design for the derivatives."""
    assert asked.production is not None
    assert asked.plan is not None
    beside, refusal = None, ""
    keys = list(dict.fromkeys([*(one.name for one in sampled), *asked.limits]))
    if not asked.plan.rules:
        try:
            beside = propagate(solve(asked.design), asked.production, keys)
        except (InvalidInput, MotorError) as error:
            refusal = str(error)
    else:
        refusal = "the study has rules or ties"
    tests = _tests(asked, {key: table.array(key) for key in asked.limits})
    tests_beside: tuple[Passed, ...] = ()
    lots = None
    if beside is not None and beside.knows(asked.limits):
        tests_beside = _tests(asked, beside.drawn)
        if asked.limits and asked.production.lots:
            shares = [inside(figures, asked.limits).mean() for figures in beside.lots(asked.limits)]
            lots = LotYield(*map(float, np.quantile(shares, [0.05, 0.5, 0.95])))
    apart = beside.apart(sampled) if beside is not None else {}
    return Produced(tuple(sampled), beside, refusal, apart, tests, tests_beside, len(table), lots)


def _tests(asked: StudyFile, figures: Mapping[str, Floats]) -> tuple[Passed, ...]:
    if not asked.limits:
        return ()
    own = {station.guard for station in asked.stations.values()}
    guards = [None, *(g for g in GUARDS if own and own != {g})]
    return tuple(passed(figures, asked.limits, asked.stations, guard) for guard in guards)
