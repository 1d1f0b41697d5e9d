"""What was built, inferred from what was measured: the most probable sample, and how sure that is.

Gauss-Newton steps on exact derivatives, halved where they make matters worse.  Unknowns of the
sample have normal priors, as do gain and zero of every rig; the error of mesh and boundary counts
as one more unknown of each measurement, common to its points.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geometries import millimetres
from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput, MotorError
from motor.base.steps import step
from motor.design.design import Design
from motor.results.motor_result import MotorResult, solve
from motor.study.forward import SHIFT, around, built, change_of, numerical, reading, wound
from motor.study.held_coil import held_coil
from motor.study.inferred import ENOUGH, IMPROBABLE, Fit, Inferred, Residuals, scatters
from motor.study.measurements import KINDS, Measurement, Measurements
from motor.study.neighbours import Neighbours
from motor.study.posterior import (
    HUBER,
    covariance,
    curvature,
    loss,
    most_probable,
    scale_of,
    scatter_of,
    structure,
)
from motor.study.unknowns import PERMEABILITY, Unknown

__all__ = ["fit"]

MOST_STEPS, HALVINGS = 10, 6
SETTLED = 0.02
"""Steps below this share of the posterior's standard deviations end the search."""
FAR = 5.0
"""How many times larger or smaller than the design says a measurement may be on the whole."""
STAGES = ("scatter", "structure", "")
"""What is looked for once the search has settled: scatter of points, then structure in residuals.
What is found makes the points count less in the next stage."""
HELD = 1e-4
"""Step of the held coil's factor for its derivative."""
WIDER = 2.0
"""How much wider than the equations say the permeability of small fields is stated: what gap,
magnet and saturation change of a held coil's impedance is one factor there; by 24 samples, which
scattered 1.9 times as far."""
SLACK = 1e-3
"""How far beyond the coil's travel as drawn a point may lie, metres."""


@dataclass(frozen=True)
class _Part:
    """One measurement of the problem.

    Parameters
    ----------
    taken : Measurement
    left_out : int
    deviation : (n,) array
        Of a point, SI; more than stated where points scatter more.
    gain, zero, coil, mesh : int
        Places of the rig's gain and zero, of what the held coil adds, and of the numerical error,
        among the s; -1 for none.
    """

    taken: Measurement
    left_out: int
    deviation: Floats
    gain: int
    zero: int
    coil: int
    mesh: int

    @property
    def order(self) -> Floats:
        """What the points lie along, (n,)."""
        if self.taken.kind == "impedance":
            part, frequency = self.taken.along["part"], self.taken.along["frequency"]
            return np.asarray(part * 10 * frequency.max() + frequency)
        return next(iter(self.taken.along.values()), np.zeros(len(self.taken.values)))

    @property
    def limit(self) -> Floats:
        """Where each point's loss becomes linear (n,): too few points show no outliers."""
        few = len(self.taken.values) < ENOUGH
        return np.full(len(self.taken.values), np.inf if few else HUBER)

    def rig(self, s: Floats) -> tuple[float, float, float]:
        """Return the rig's factor, how far its zero is off (metres), the held coil's factor."""
        taken = self.taken
        return (
            1.0 if self.gain < 0 else 1 + taken.gain * float(s[self.gain]),
            0.0 if self.zero < 0 else taken.offset * float(s[self.zero]),
            1.0 if self.coil < 0 else 1 + taken.settings["inductance"] * float(s[self.coil]),
        )

    def residual(self, result: MotorResult, s: Floats) -> Floats:
        """Return measured less read over a point's deviation, (n,)."""
        factor, shift, held = self.rig(s)
        now = factor * reading(result, self.taken, shift, held)
        now = now + float(s[self.mesh]) * numerical(result, self.taken)
        return np.asarray((self.taken.values - now) / self.deviation)

    def jacobian(
        self,
        result: MotorResult,
        s: Floats,
        unknowns: Sequence[Unknown],
        sides: Mapping[str, Neighbours],
    ) -> Floats:
        """Return the derivatives (n, p) of what is read over a point's deviation."""
        factor, shift, held = self.rig(s)
        taken = self.taken

        def read(at: MotorResult) -> Floats:
            return reading(at, taken, shift, held)

        A = np.zeros((len(taken.values), len(s)))
        for j, u in enumerate(unknowns):
            A[:, j] = u.deviation * factor * change_of(sides[u.name], read)
        if self.gain >= 0:
            A[:, self.gain] = taken.gain * read(result)
        if self.zero >= 0:
            low, high = (reading(result, taken, shift + d) for d in (-SHIFT, SHIFT))
            A[:, self.zero] = taken.offset * factor * (high - low) / (2 * SHIFT)
        if self.coil >= 0:
            more = reading(result, taken, shift, held + HELD) - read(result)
            A[:, self.coil] = taken.settings["inductance"] * factor * more / HELD
        A[:, self.mesh] = numerical(result, taken)
        return np.asarray(A / self.deviation[:, None])


@one_blas_thread()
def fit(design: Design, measured: Measurements) -> Fit:
    """Return the most probable sample behind measurements.

    Parameters
    ----------
    design : Design
        As drawn.
    measured : Measurements

    Raises
    ------
    InvalidInput
        If a measurement has nothing to do with the design, or an unknown has no derivative.
    MeshError, SolveError
    """
    base, unknowns = wound(design), measured.unknowns
    drawn = solve(base)
    parts = _parts(measured, drawn)
    s = np.zeros(max(part.mesh for part in parts) + 1)
    start = built(base, _values(unknowns, s))
    result = drawn if start == base else solve(start, warm_start=drawn)
    sides = around(result, unknowns, _values(unknowns, s))
    limit = np.concatenate([part.limit for part in parts])
    steps, settled, judged = 0, False, [1.0] * len(parts)
    for stage in STAGES:
        settled = False
        while not settled:
            with step(f"Gauss-Newton step {steps + 1}"):
                residuals = [part.residual(result, s) for part in parts]
                jacobians = [part.jacobian(result, s, unknowns, sides) for part in parts]
                r, A = np.concatenate(residuals), np.concatenate(jacobians)
                bend = [curvature(own, p.limit) for own, p in zip(residuals, parts, strict=True)]
                known = covariance(A, np.concatenate(bend))
                target = most_probable(A, r + A @ s, limit)
                near = float(np.abs((target - s) / np.sqrt(np.diag(known))).max()) < SETTLED
                if near or steps == MOST_STEPS:
                    settled = near
                    break
                moved = _stepped(base, unknowns, parts, result, s, target)
            if moved is None:
                settled = True
            else:
                (s, result, sides), steps = moved, steps + 1
        factors = [1.0] * len(parts)
        if stage == "scatter":
            factors = [_scatter(p, own) for p, own in zip(parts, residuals, strict=True)]
        elif stage == "structure":
            judged = [
                structure(own, A_own, known, part.order, part.limit, own_bend)
                for part, own, A_own, own_bend in zip(
                    parts, residuals, jacobians, bend, strict=True
                )
            ]
            factors = [
                max(scale_of(own), 1.0) if p < IMPROBABLE else 1.0
                for p, own in zip(judged, residuals, strict=True)
            ]
        if max(factors) > 1:
            parts = [
                dataclasses.replace(p, deviation=p.deviation * f)
                for p, f in zip(parts, factors, strict=True)
            ]
    stated = _widened(known, unknowns)
    return Fit(
        name=measured.name,
        before=drawn,
        after=result,
        unknowns=_inferred(unknowns, s, stated),
        rigs=_rigs(parts, s, known),
        covariance=stated[: len(unknowns), : len(unknowns)],
        residuals=tuple(
            _residuals(part, drawn, own, A_own, known, probability)
            for part, own, A_own, probability in zip(
                parts, residuals, jacobians, judged, strict=True
            )
        ),
        sides=sides,
        steps=steps,
        settled=settled,
        measured=measured,
    )


def _values(unknowns: Sequence[Unknown], s: Floats) -> dict[str, float]:
    """Return the unknowns' values in SI."""
    return {u.name: u.prior + u.deviation * float(s[k]) for k, u in enumerate(unknowns)}


def _parts(measured: Measurements, drawn: MotorResult) -> list[_Part]:
    """Return the measurements with the places of their own unknowns."""
    size, parts = len(measured.unknowns), []
    for one in measured.taken:
        taken, left_out = _within(one, drawn)
        if one.kind == "impedance":
            held = held_coil(drawn, one.along["frequency"])
            taken = dataclasses.replace(taken, held=held)
        _check_size(taken, drawn)
        places = []
        for there in (one.gain > 0, one.offset > 0, one.kind == "impedance", True):
            places.append(size if there else -1)
            size += there
        deviation = np.broadcast_to(taken.deviation, taken.values.shape)
        parts.append(_Part(taken, left_out, deviation, *places))
    return parts


def _within(one: Measurement, drawn: MotorResult) -> tuple[Measurement, int]:
    """Leave out points that the coil cannot come to, and say how many they are."""
    if "x" not in one.along:
        return one, 0
    low, high = drawn.bl_curve.x[0] - SLACK, drawn.bl_curve.x[-1] + SLACK
    keep = (one.along["x"] >= low) & (one.along["x"] <= high)
    if not keep.any():
        limit = f"lie within the coil's travel, {millimetres(low)} to {millimetres(high)}"
        ends = f"{millimetres(one.along['x'].min())} to {millimetres(one.along['x'].max())}"
        raise InvalidInput(f"x of {one.name}", f"{limit} (is the unit right?)", ends)
    return one.having(keep), int((~keep).sum())


def _check_size(one: Measurement, drawn: MotorResult) -> None:
    """Refuse a measurement of another size or sign than the design's: a slip of unit or leads."""
    read = reading(drawn, one)
    size = float(read @ read)
    ratio = float(read @ one.values) / size if size else 1.0
    if not 1 / FAR <= ratio <= FAR:
        kind = KINDS[one.kind].words
        limit = f"be {kind} of the size and sign that the design says (are unit and sign right?)"
        raise InvalidInput(f"measurement {one.name}", limit, f"{ratio:.3g} times as much")


def _stepped(
    base: Design,
    unknowns: Sequence[Unknown],
    parts: Sequence[_Part],
    result: MotorResult,
    s: Floats,
    target: Floats,
) -> tuple[Floats, MotorResult, dict[str, Neighbours]] | None:
    """Return the next s, its motor and what lies to its sides; None if there is no better one.

    It is nearer to s than the target where the motor there, or beside it, cannot be built.
    """

    def cost(at: MotorResult, s: Floats) -> float:
        limit = np.concatenate([part.limit for part in parts])
        return loss(np.concatenate([part.residual(at, s) for part in parts]), limit, s)

    before = cost(result, s)
    for k in range(HALVINGS):
        trial = s + (target - s) / 2**k
        values = _values(unknowns, trial)
        try:
            there = solve(built(base, values), warm_start=result)
            if cost(there, trial) < before:
                return trial, there, around(there, unknowns, values)
        except (InvalidInput, MotorError):
            continue
    return None


def _scatter(part: _Part, residual: Floats) -> float:
    """Return how much more than stated points scatter; 1 where they do not, or are too few."""
    found = scatter_of(residual, part.order) if len(residual) >= ENOUGH else 1.0
    return found if scatters(found, len(residual)) else 1.0


def _inferred(unknowns: Sequence[Unknown], s: Floats, known: Floats) -> tuple[Inferred, ...]:
    spread = np.sqrt(np.diag(known))
    return tuple(
        Inferred(
            u.name,
            u.parameter.kind,
            u.prior,
            u.deviation,
            u.prior + u.deviation * float(s[k]),
            u.deviation * float(spread[k]),
        )
        for k, u in enumerate(unknowns)
    )


def _widened(known: Floats, unknowns: Sequence[Unknown]) -> Floats:
    """Return the covariance with a wider permeability, at most as wide as its prior."""
    scale = np.ones(len(known))
    for k, one in enumerate(unknowns):
        if one.name == PERMEABILITY:
            scale[k] = max(1.0, min(WIDER, 1 / float(np.sqrt(known[k, k]))))
    return np.asarray(known * np.outer(scale, scale))


def _rigs(parts: Sequence[_Part], s: Floats, known: Floats) -> tuple[Inferred, ...]:
    spread = np.sqrt(np.diag(known))
    found = []
    for part in parts:
        taken = part.taken
        for place, name, kind, prior, width in (
            (part.gain, "gain", "number", 1.0, taken.gain),
            (part.zero, "offset", "length", 0.0, taken.offset),
            (part.coil, "inductance", "number", 1.0, taken.settings.get("inductance", 0.0)),
        ):
            if place >= 0:
                value, own = prior + width * float(s[place]), width * float(spread[place])
                found.append(Inferred(f"{taken.name}.{name}", kind, prior, width, value, own))
    return tuple(found)


def _residuals(
    part: _Part, drawn: MotorResult, residual: Floats, A: Floats, known: Floats, probability: float
) -> Residuals:
    taken = part.taken
    scaled = residual * part.deviation / taken.deviation
    return Residuals(
        measurement=taken,
        before=reading(drawn, taken),
        after=taken.values - residual * part.deviation,
        band=part.deviation * np.sqrt(np.einsum("ij,jk,ik->i", A, known, A)),
        scaled=scaled,
        probability=probability,
        scatter=scatter_of(scaled, part.order) if len(scaled) >= ENOUGH else 1.0,
        left_out=part.left_out,
    )
