"""A sample inferred from measurements and what follows, worked out once for every view."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

from motor.study.end_of_line import INDUCTANCE, Guarded, guarded, recommended, record
from motor.study.guarding import GUARDS
from motor.study.held_inductance import produced_inductance
from motor.study.inferred import Fit
from motor.study.predicted import Candidate, Predicted, candidates, exchanged, predicted

__all__ = ["Consequences", "consequences"]


@dataclass(frozen=True)
class Consequences:
    """A fit and what follows from it.

    Parameters
    ----------
    fit : Fit
    figures : tuple of Predicted
    further : tuple of Candidate
        What to measure next, the most telling first.
    tests : tuple of (Guarded, ...)
        Of each figure with limits: without a guard band and with some, the recommended one last.
    other : tuple of Predicted
        The sample beside the same with another magnet grade; empty if none is asked for.
    """

    fit: Fit
    figures: tuple[Predicted, ...]
    further: tuple[Candidate, ...]
    tests: tuple[tuple[Guarded, ...], ...]
    other: tuple[Predicted, ...]

    def record(self) -> dict[str, Any]:
        """Return all of it under names for scripts."""
        units = [one.unit.of_si for one in self.fit.unknowns]
        names = [one.name for one in self.fit.unknowns]
        further = [
            {
                "measurement": one.words,
                "gain_bits": one.gain,
                "deviations": {
                    name: of(value)
                    for name, of, value in zip(names, units, one.deviations, strict=True)
                },
            }
            for one in self.further
        ]
        return {
            **self.fit.summary(),
            "figures": [dataclasses.asdict(one) for one in self.figures],
            "measure_next": further,
            "end_of_line": [record(test) for tests in self.tests for test in tests],
            "exchange": {
                "magnet": self.fit.measured.exchange or None,
                "figures": [dataclasses.asdict(one) for one in self.other],
            },
        }


def consequences(fit: Fit) -> Consequences:
    """Return what follows from a fit.

    Units of a production scatter about the inferred sample as the priors of the unknowns say.

    Raises
    ------
    InvalidInput, MeshError, SolveError
        If the sample cannot be built with the other grade.
    """
    figures = predicted(fit)
    if any(limit.figure == INDUCTANCE for limit in fit.measured.limits):
        figures = (*figures, produced_inductance(fit))
    by_name = {one.figure: one for one in figures}
    tests = []
    for limit in fit.measured.limits:
        one = by_name.get(limit.figure)
        if one is not None:
            mean, spread = one.after, one.before_deviation
            rows = [guarded(limit, guard, mean, spread) for guard in GUARDS]
            tests.append((*rows, recommended(limit, mean, spread)))
    other = exchanged(fit) if fit.measured.exchange else ()
    return Consequences(fit, figures, candidates(fit), tuple(tests), other)
