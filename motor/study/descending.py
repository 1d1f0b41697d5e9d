"""Target search by derivatives: descents from several starts, then whole turns.

First turns are a real number, so that nothing jumps, and each start descends on one mesh.  From
the best ends the turns are fixed at either side and descents follow on both meshes, among the
search's own designs only.  All descents go side by side, a step of each at a time.  With contours
the first of these is done in steps, each with more of their points, from the best ends before.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence

import numpy as np

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.design.design import Design
from motor.study.bench import SPARE, Bench
from motor.study.descent import Descent, Local
from motor.study.parameters import Draft
from motor.study.plan import hypercube
from motor.study.refining import Refinement, refinements
from motor.study.relaxed import NoDescentError, Relaxed, relaxed
from motor.study.slopes import SHARE, has_derivative

__all__ = ["descend"]

STARTS, TRIED = 4, 12
"""Descents, as many again where none meets the target, and points of the cube looked at for a
start of each."""
ROUGH, FINE = 1e-3, 2e-4
"""Share of the objective below which a descent has ended, on one mesh and on both."""
ROUGH_STEPS, FINE_STEPS = 25, 12
ROUGH_SPARE = 2e-3
"""Slack kept on one mesh: strokes scatter by as much."""
CLOSE = 0.02
"""Descents whose places differ by less go on as one."""
APART, FOLLOWED = 0.02, 3
"""Ends within this share of the best are followed to whole turns, of so many at most."""
GOING_ON, FRESH = 2, 2
"""Ends that go on with more points of a contour, and starts elsewhere beside them."""


def descend(bench: Bench, seed: int, starts: Sequence[Floats] = ()) -> None:
    """Search by derivatives; what is found stands among the bench's trials.

    With ``starts``, points of the unit cube, from there only.

    Raises
    ------
    NoDescentError
        With the reason, where derivatives cannot be had.
    """
    if bench.problem.target.warm:
        raise NoDescentError("temperatures of a programme of power have no derivatives")
    for need in bench.asked:
        if not has_derivative(need.key):
            raise NoDescentError(f"{need.name} has no derivatives")
    real = relaxed(bench.problem)
    ended: list[_End] = []
    kept = list(starts)
    for number, step in enumerate(refinements(bench.problem)[-1 if starts else 0 :]):
        kind = _Real(bench, real, step)
        if starts:
            rounds = [[*map(step.lowered, starts)]]
        elif not ended:
            tried = _starts(bench, kind, seed, 2 * STARTS)
            rounds = [tried[:STARTS], tried[STARTS:]]
        else:
            rounds = [_going_on(bench, kind, ended, seed, STARTS if number == 1 else FRESH)]
        ended += _descended(bench, kind, rounds, known=bool(ended))
        if len(step.leads) < len(bench.low):
            kept += [end.unit for end in sorted(ended, key=_rank)[:1]]
    if not ended:
        raise NoDescentError("no start could be built and solved")
    _together(bench, _whole_turns(bench, real, ended), rough=False)
    for unit in kept:  # an answer is never worse than a start, or than with fewer points
        bench.trial(unit)


def _going_on(
    bench: Bench, kind: _Real, ended: Sequence[_End], seed: int, fresh: int
) -> list[Floats]:
    """Return the best ends so far, no two of one place, and contours elsewhere at the best."""
    apart: list[Floats] = []
    for end in sorted(ended, key=_rank):
        if all(np.abs(end.unit - other).max() > CLOSE for other in apart):
            apart.append(end.unit)
    going = [kind.step.lowered(unit) for unit in apart[:GOING_ON]]
    others = [
        np.where(kind.step.plain, going[0], unit) for unit in _starts(bench, kind, seed, fresh + 1)
    ]
    return going + [unit for unit in others if _possible(kind.build, unit)]


def _descended(
    bench: Bench, kind: _Real, rounds: Sequence[Sequence[Floats]], *, known: bool
) -> list[_End]:
    """Return where descents from starts end; those of a later round only if none meets all.

    ``known`` where it need not be asked whether there are derivatives.
    """
    found: list[_End] = []
    for some in rounds:
        descents = [Descent(s, spare=ROUGH_SPARE, enough=ROUGH, most=ROUGH_STEPS) for s in some]
        _together(bench, [(d, kind) for d in descents], rough=True, known=known)
        for one in descents:
            if one.here is not None:
                whole = len(one.at) == len(bench.low)
                unit = kind.step.lifted(one.at)
                found.append(_End(unit, one.here, one if whole else None))
        if any(end.here.miss < ROUGH_SPARE for end in found):
            break
    return found


@dataclasses.dataclass(frozen=True)
class _End:
    """Where a descent ended, in the whole unit cube; itself if that is where it went."""

    unit: Floats
    here: Local
    descent: Descent | None


class _Real:
    """The smooth designs of a bench, over what leads in a step."""

    def __init__(self, bench: Bench, real: Relaxed, step: Refinement) -> None:
        self.bench, self.real, self.step = bench, real, step
        names = list(bench.problem.free)
        self.names = [names[k] for k in step.leads]

    def build(self, unit: Floats) -> Design:
        return self.real.build(self.bench.values(self.step.lifted(unit)))

    def completed(self, unit: Floats, found: Local) -> Local:
        return found


class _Whole:
    """The designs of a bench with one number of whole turns in a layer."""

    def __init__(self, bench: Bench, real: Relaxed, turns: int) -> None:
        self.bench, self.real, self.turns = bench, real, turns
        self.names = list(bench.problem.free)

    def build(self, unit: Floats) -> Design:
        design = self.bench.design(unit)
        if design.coil.turns_per_layer != self.turns:
            raise InvalidInput("turns", f"be {self.turns} in a layer", design.coil.turns_per_layer)
        return design

    def completed(self, unit: Floats, found: Local) -> Local:
        """Add that the turns stay between the jumps."""
        here, slope = _turns(self.bench, self.real, unit)
        low, high = self.real.between(self.turns)
        return dataclasses.replace(
            found,
            slacks=np.append(found.slacks, [(here - low) / here, (high - here) / here]),
            jacobian=np.vstack([found.jacobian, slope / here, -slope / here]),
        )


def _turns(bench: Bench, real: Relaxed, unit: Floats) -> tuple[float, Floats]:
    """Return the real number of turns in a layer at a point, and its slope."""
    here = real.turns(bench.values(unit))
    slope = np.zeros(len(unit))
    for k in range(len(unit)):
        ends, places = [here, here], [0.0, 0.0]
        for end, sign in enumerate((-1, 1)):
            point = unit.copy()
            point[k] = min(max(point[k] + sign * SHARE, 0.0), 1.0)
            try:
                ends[end], places[end] = real.turns(bench.values(point)), point[k] - unit[k]
            except InvalidInput:
                continue
        step = places[1] - places[0]
        slope[k] = (ends[1] - ends[0]) / step if step else 0.0
    return here, slope


def _starts(bench: Bench, kind: _Real, seed: int, count: int) -> list[Floats]:
    """Return the base design, where it lies within the ranges, and points far from each other."""
    ranges = dict.fromkeys(kind.names, (0.0, 1.0))
    units = [np.array(row) for row in hypercube(ranges, 2 * STARTS * TRIED, seed=seed).rows]
    draft = Draft(bench.problem.base)
    base = np.array([draft.get(name) for name in bench.problem.free])
    own = kind.step.lowered((base - bench.low) / (bench.high - bench.low))
    if ((own >= 0) & (own <= 1)).all():
        units.insert(0, own)
    units = [unit for unit in units if _possible(kind.build, unit)]
    found = units[:1]
    while len(found) < min(count, len(units)):
        found.append(max(units, key=lambda u: min(float(np.abs(u - f).sum()) for f in found)))
    return found


def _possible(build: Callable[[Floats], Design], unit: Floats) -> bool:
    try:
        build(unit)
    except InvalidInput:
        return False
    return True


def _together(
    bench: Bench,
    descents: Sequence[tuple[Descent, _Real | _Whole]],
    *,
    rough: bool,
    known: bool = True,
) -> None:
    """Take steps of all descents until each has ended."""
    while True:
        for one, kind in descents:
            while one.place is not None and not _possible(kind.build, one.place):
                one.told(None)
        live = [(d, k, d.place) for d, k in descents if d.place is not None]
        if not live:
            return
        found = bench.around([(unit, kind.build) for _, kind, unit in live], rough=rough)
        if not known:
            _check_known(live[0][1], [reasons for _, reasons in found])
            known = True
        for (one, kind, unit), (local, _) in zip(live, found, strict=True):
            one.told(None if local is None else kind.completed(unit, local))
        if rough:
            _merge([d for d, _ in descents])


def _check_known(kind: _Real | _Whole, reasons: Sequence[Sequence[str]]) -> None:
    """Raise NoDescentError if a parameter has derivatives at no start."""
    solved = [row for row in reasons if row]
    for k, name in enumerate(kind.names):
        if solved and all(row[k] for row in solved):
            raise NoDescentError(f"{name} has no derivatives: {solved[0][k]}")


def _merge(descents: Sequence[Descent]) -> None:
    """End descents that have come to the place of a better one."""
    going = sorted((d for d in descents if d.here is not None), key=_rank)
    for n, one in enumerate(going):
        if one.place is not None and any(np.abs(one.at - b.at).max() < CLOSE for b in going[:n]):
            one.place = None


def _rank(one: Descent | _End) -> tuple[float, float]:
    assert one.here is not None
    miss = one.here.miss
    return (miss if miss > 2 * SPARE else 0.0, one.here.objective)


def _whole_turns(
    bench: Bench, real: Relaxed, ended: Sequence[_End]
) -> list[tuple[Descent, _Real | _Whole]]:
    """Return descents at whole turns to either side of the best ends."""
    ranked = sorted(ended, key=_rank)
    least_miss, least = _rank(ranked[0])
    found: dict[int, tuple[Descent, _Real | _Whole]] = {}
    for end in ranked:
        miss, value = _rank(end)
        if miss > least_miss or value > least + APART * abs(least):
            continue
        below = math.floor(real.turns(bench.values(end.unit)))
        for turns in (below, below + 1):
            start = _with_turns(bench, real, end.unit, turns)
            kind = _Whole(bench, real, turns)
            if turns not in found and len(found) < FOLLOWED and _possible(kind.build, start):
                like = end.descent
                one = Descent(start, spare=SPARE, enough=FINE, most=FINE_STEPS, like=like)
                found[turns] = one, kind
    return list(found.values())


def _with_turns(bench: Bench, real: Relaxed, unit: Floats, turns: int) -> Floats:
    """Return the nearest point where a layer has so many whole turns."""
    low, high = real.between(turns)
    for _ in range(5):
        here, slope = _turns(bench, real, unit)
        miss = min(max(here, low), high) - here
        if not miss or not slope.any():
            break
        unit = np.clip(unit + 1.05 * miss * slope / (slope @ slope), 0.0, 1.0)
    return unit
