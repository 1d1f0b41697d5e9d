"""Measurements as parts of one problem: residuals, their derivatives, unknowns of their own."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geometries import millimetres
from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.results.impedance import HIGHEST
from motor.results.motor_result import MotorResult
from motor.study.forward import SHIFT, bend_of, change_of, free_air, numerical, parts_of, reading
from motor.study.held_coil import HeldCoil, Meshing, held_coil, meshing
from motor.study.inferred import ENOUGH
from motor.study.measurements import KINDS, Measurement, Measurements
from motor.study.neighbours import Neighbours
from motor.study.posterior import HUBER
from motor.study.unknowns import Unknown

__all__ = ["Part", "fitted_parts", "part_of"]

FAR = 5.0
"""How many times larger or smaller than the design says a measurement may be on the whole."""
ANEW = 0.3
"""Prior deviations of any unknown that changes a held coil beyond which it is linearised anew."""
SLACK = 1e-3
"""How far beyond the coil's travel as drawn a point may lie, metres."""


@dataclass(frozen=True)
class Part:
    """One measurement of the problem.

    Parameters
    ----------
    taken : Measurement
    left_out : int
    deviation : (n,) array
        Of a point, SI, each one's own error by the mesh included; more where points scatter more.
    gain, zero, mesh : int
        Places of the rig's gain and zero, and of the numerical error, among the s; -1 for none.
    own : (int, int)
        First place of the held coil's own unknowns, and the one after the last.
    held : HeldCoil or None
    meshes : Meshing or None
        Of an impedance.
    less : float
        Factor on the deviation by which its points count less than at first.
    """

    taken: Measurement
    left_out: int
    deviation: Floats
    gain: int
    zero: int
    mesh: int
    own: tuple[int, int] = (0, 0)
    held: HeldCoil | None = None
    meshes: Meshing | None = None
    less: float = 1.0

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

    @property
    def size(self) -> int:
        """Place after the last of its own unknowns."""
        return max(self.mesh + 1, self.own[1])

    def rig(self, s: Floats) -> tuple[float, float]:
        """Return the rig's factor, and how far its zero is off in metres."""
        taken = self.taken
        return (
            1.0 if self.gain < 0 else 1 + taken.gain * float(s[self.gain]),
            0.0 if self.zero < 0 else taken.offset * float(s[self.zero]),
        )

    def here(self, s: Floats) -> Measurement:
        """Return the measurement with what the held coil adds."""
        if self.held is None:
            return self.taken
        return dataclasses.replace(self.taken, held=self.held.impedance(self._of_held(s)))

    def _of_held(self, s: Floats) -> Floats:
        assert self.held is not None
        first, end = self.own
        return np.concatenate([s[: len(self.held.at) - (end - first)], s[first:end]])

    def linearised(
        self,
        result: MotorResult,
        s: Floats,
        unknowns: Sequence[Unknown],
        sides: Mapping[str, Neighbours],
    ) -> Part:
        """Return the part with its held coil linearised at s, if it has one made far from it."""
        if self.meshes is None:
            return self
        sample = s[: len(unknowns)]
        if self.held is not None:
            matter = np.abs(self.held.slopes[:, : len(sample)]).max(axis=0) > 0
            if (np.abs(sample - self.held.at[: len(sample)]) * matter).max() < ANEW:
                return self
        frequency, factor = self.taken.along["frequency"], self.taken.settings["inductance"]
        held = held_coil(result, unknowns, sides, frequency, self.meshes, factor, sample)
        return dataclasses.replace(self, held=held)

    def residual(self, result: MotorResult, s: Floats) -> Floats:
        """Return measured less read over a point's deviation, (n,)."""
        factor, shift = self.rig(s)
        taken = self.here(s)
        now = factor * reading(result, taken, shift)
        now = now + float(s[self.mesh]) * numerical(result, taken)
        return np.asarray((taken.values - now) / self.deviation)

    def jacobian(
        self,
        result: MotorResult,
        s: Floats,
        unknowns: Sequence[Unknown],
        sides: Mapping[str, Neighbours],
    ) -> Floats:
        """Return the derivatives (n, p) of what is read over a point's deviation."""
        factor, shift = self.rig(s)
        taken = self.here(s)

        def read(at: MotorResult) -> Floats:
            return reading(at, taken, shift)

        A = np.zeros((len(taken.values), len(s)))
        for j, u in enumerate(unknowns):
            A[:, j] = u.deviation * factor * change_of(sides[u.name], read)
        if self.held is not None:
            changes = self.held.derivatives(self._of_held(s))
            by_held = factor * parts_of(taken, free_air(result, taken), changes)
            A[:, : len(unknowns)] += by_held[:, : len(unknowns)]
            A[:, slice(*self.own)] = by_held[:, len(unknowns) :]
        if self.gain >= 0:
            A[:, self.gain] = taken.gain * read(result)
        if self.zero >= 0:
            low, high = (reading(result, taken, shift + d) for d in (-SHIFT, SHIFT))
            A[:, self.zero] = taken.offset * factor * (high - low) / (2 * SHIFT)
        A[:, self.mesh] = numerical(result, taken)
        return np.asarray(A / self.deviation[:, None])

    def bent(self, result: MotorResult, s: Floats, side: Neighbours, deviation: float) -> Floats:
        """Return half the second derivative (n,) by one unknown over a point's deviation."""
        factor, shift = self.rig(s)
        taken = self.here(s)
        found = bend_of(side, result, lambda at: reading(at, taken, shift))
        return np.asarray(factor * deviation**2 / 2 * found / self.deviation)


def fitted_parts(
    measured: Measurements,
    drawn: MotorResult,
    start: MotorResult,
    sides: Mapping[str, Neighbours],
) -> list[Part]:
    """Return the measurements with the places of their own unknowns, at the priors.

    Parameters
    ----------
    measured : Measurements
    drawn, start : MotorResult
        As drawn, and with the unknowns at their priors.
    sides : mapping of unknown to Neighbours
        Around ``start``.

    Raises
    ------
    InvalidInput
        If a measurement has nothing to do with the design.
    SolveError
    """
    s, parts = np.zeros(len(measured.unknowns)), []
    size = len(s)
    for one in measured.taken:
        part = part_of(one, measured.unknowns, size, drawn, start, sides, s)
        _check_size(part.taken, drawn)
        parts.append(part)
        size = part.size
    return parts


def part_of(
    one: Measurement,
    unknowns: Sequence[Unknown],
    first: int,
    drawn: MotorResult,
    at: MotorResult,
    sides: Mapping[str, Neighbours],
    s: Floats,
) -> Part:
    """Return one measurement, its own unknowns from a place on.

    Parameters
    ----------
    one : Measurement
    unknowns : sequence of Unknown
    first : int
    drawn, at : MotorResult
        For the coil's travel and a held coil's meshes; and where a held coil is linearised, at the
        unknowns s.
    sides : mapping of unknown to Neighbours
        Around ``at``.
    s : (p,) array

    Raises
    ------
    InvalidInput
        If nothing of it lies where something can be computed.
    SolveError
    """
    taken, left_out = _within(one, drawn)
    gain, zero = int(one.gain > 0), int(one.offset > 0)
    mesh = first + gain + zero
    places = (first if gain else -1, first + gain if zero else -1, mesh)
    deviation = np.broadcast_to(taken.deviation, taken.values.shape)
    part = Part(taken, left_out, deviation, *places)
    if one.kind != "impedance":
        # errors of a mesh are alike at all points in part, and each point's own in part
        return dataclasses.replace(part, deviation=np.hypot(deviation, numerical(at, taken)))
    part = dataclasses.replace(part, meshes=meshing(drawn, taken.along["frequency"]))
    part = part.linearised(at, s, unknowns, sides)
    assert part.held is not None
    taken = dataclasses.replace(taken, held=part.held.impedance(part.held.at))
    own = (mesh + 1, mesh + 1 + len(part.held.at) - len(s))
    return dataclasses.replace(part, taken=taken, own=own)


def _within(one: Measurement, drawn: MotorResult) -> tuple[Measurement, int]:
    """Leave out points where nothing can be computed, and say how many they are."""
    if one.kind == "impedance":
        keep = one.along["frequency"] <= HIGHEST
        if not keep.any():
            limit = f"reach below {HIGHEST:g} Hz (is the unit right?)"
            raise InvalidInput(f"frequency of {one.name}", limit, "nothing below")
        return one.having(keep), int((~keep).sum())
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
        kind = KINDS[one.kind].words.partition(",")[0]
        limit = f"be {kind} of the size and sign that the design says (are unit and sign right?)"
        raise InvalidInput(f"measurement {one.name}", limit, f"{ratio:.3g} times as much")
