"""What was built, inferred from what was measured: the most probable sample, and how sure that is.

Gauss-Newton steps on exact derivatives, halved where they make matters worse.  Unknowns of the
sample have normal priors, as do gain and zero of every rig; the error of mesh and boundary counts
as one more unknown of each measurement, common to its points, and so does the curvature that first
derivatives leave out.  An impedance has some more: the
numerical errors of its held coil, and the conductivities of its materials.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from motor.base.arrays import Floats
from motor.base.blas_threads import one_blas_thread
from motor.base.errors import InvalidInput, MotorError
from motor.base.steps import step
from motor.design.design import Design
from motor.results.motor_result import MotorResult, read_off_other_coil, solve
from motor.study.fitted_part import Part, fitted_parts
from motor.study.forward import OUTSIDE, around, built, reading, wound
from motor.study.inferred import ENOUGH, IMPROBABLE, Fit, Inferred, Residuals, scatters
from motor.study.measurements import Measurements
from motor.study.neighbours import Neighbours
from motor.study.posterior import (
    covariance,
    curvature,
    loss,
    most_probable,
    scale_of,
    scatter_of,
    structure,
)
from motor.study.unknowns import Unknown

__all__ = ["fit"]

MOST_STEPS, HALVINGS = 10, 6
OPEN = 0.2
"""Share of the prior deviation from which on what is left of an unknown bends readings."""
PLACE, PLACES = "coil.rest_position", np.linspace(-2.5, 2.5, 11)
"""Prior deviations of the coil's place among which the search's start is chosen."""
SETTLED = 0.02
"""Steps below this share of the posterior's standard deviations end the search."""
STAGES = ("scatter", "structure", "")
"""What is looked for once the search has settled: scatter of points, then structure in residuals.
What is found makes the points count less in the next stage."""


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
    s = np.zeros(len(unknowns))
    start = built(base, _values(unknowns, s))
    result = drawn if start == base else solve(start, warm_start=drawn)
    sides = around(result, unknowns, _values(unknowns, s))
    parts = fitted_parts(measured, drawn, result, sides)
    s = np.zeros(max(max(part.mesh, part.own[1] - 1) for part in parts) + 1)
    limit = np.concatenate([part.limit for part in parts])
    placed = _placed(base, unknowns, parts, result, s, sides)
    if placed is not None:
        s, result = placed
        sides = around(result, unknowns, _values(unknowns, s))
        parts = [part.linearised(result, s, unknowns, sides) for part in parts]
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
                parts = [part.linearised(result, s, unknowns, sides) for part in parts]
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
                dataclasses.replace(p, deviation=p.deviation * f, less=p.less * f)
                for p, f in zip(parts, factors, strict=True)
            ]
    bent = _bent(result, unknowns, parts, s, known)
    wide = covariance(np.hstack([A, bent]), np.concatenate(bend))[: len(s), : len(s)]
    return Fit(
        name=measured.name,
        before=drawn,
        after=result,
        unknowns=_inferred(unknowns, s, wide),
        rigs=_rigs(parts, s, wide),
        covariance=wide[: len(unknowns), : len(unknowns)],
        residuals=tuple(
            _residuals(part, drawn, own, A_own, wide, probability)
            for part, own, A_own, probability in zip(
                parts, residuals, jacobians, judged, strict=True
            )
        ),
        sides=sides,
        steps=steps,
        settled=settled,
        measured=measured,
    )


def _placed(
    base: Design,
    unknowns: Sequence[Unknown],
    parts: Sequence[Part],
    result: MotorResult,
    s: Floats,
    sides: dict[str, Neighbours],
) -> tuple[Floats, MotorResult] | None:
    """Return s with the coil's place that explains most once all else gives way, and its motor.

    Where Bl(x) is flat over most of what was measured two places may explain it, and a search that
    starts at the wrong one stays there.  The field is the same for all.  None: as it is.
    """
    k = next((k for k, u in enumerate(unknowns) if u.name == PLACE), None)
    if k is None:
        return None
    limit = np.concatenate([part.limit for part in parts])
    A = np.concatenate([part.jacobian(result, s, unknowns, sides) for part in parts])
    A[:, k] = 0.0
    found = []
    for place in PLACES:
        trial = s.copy()
        trial[k] = place
        try:
            there = read_off_other_coil(built(base, _values(unknowns, trial)), result.field)
        except (InvalidInput, MotorError):
            continue
        r = np.concatenate([part.residual(there, trial) for part in parts])
        rest = most_probable(A, r, limit)
        found.append((loss(r - A @ rest, limit, trial + rest), trial, there))
    best = min(found, key=lambda one: one[0], default=None)
    return None if best is None or not best[1][k] else best[1:]


def _values(unknowns: Sequence[Unknown], s: Floats) -> dict[str, float]:
    """Return the unknowns' values in SI."""
    return {u.name: u.prior + u.deviation * float(s[k]) for k, u in enumerate(unknowns)}


def _stepped(
    base: Design,
    unknowns: Sequence[Unknown],
    parts: Sequence[Part],
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


def _bent(
    result: MotorResult,
    unknowns: Sequence[Unknown],
    parts: Sequence[Part],
    s: Floats,
    known: Floats,
) -> Floats:
    """Return what first derivatives leave out over what stays open of each unknown (n, q).

    In standard deviations of the points, as the root mean square over the posterior: steel's
    saturation and what it hides behind stay open by so much that the curvature counts.
    """
    spread = np.sqrt(np.diag(known))
    inside = [
        k
        for k, u in enumerate(unknowns)
        if spread[k] > OPEN and not u.name.startswith("moving_parts.") and u.name not in OUTSIDE
    ]
    sides = around(result, [unknowns[k] for k in inside], _values(unknowns, s), second=True)
    n = sum(len(part.taken.values) for part in parts)
    columns = [
        np.concatenate(
            [p.bent(result, s, sides[unknowns[k].name], unknowns[k].deviation) for p in parts]
        )
        * (3**0.5 * spread[k] ** 2)
        for k in inside
    ]
    return np.stack(columns, axis=1) if columns else np.zeros((n, 0))


def _scatter(part: Part, residual: Floats) -> float:
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


def _rigs(parts: Sequence[Part], s: Floats, known: Floats) -> tuple[Inferred, ...]:
    spread = np.sqrt(np.diag(known))
    found = []
    for part in parts:
        taken, coil = part.taken, -1 if part.held is None else part.own[0]
        for place, name, kind, prior, width in (
            (part.gain, "gain", "number", 1.0, taken.gain),
            (part.zero, "offset", "length", 0.0, taken.offset),
            (coil, "inductance", "number", 1.0, taken.settings.get("inductance", 0.0)),
        ):
            if place >= 0:
                value, own = prior + width * float(s[place]), width * float(spread[place])
                found.append(Inferred(f"{taken.name}.{name}", kind, prior, width, value, own))
    return tuple(found)


def _residuals(
    part: Part, drawn: MotorResult, residual: Floats, A: Floats, known: Floats, probability: float
) -> Residuals:
    taken = part.taken
    scaled = residual * part.less
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
