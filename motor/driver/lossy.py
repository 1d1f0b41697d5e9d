"""A coil's inductance with the eddy currents of its motor, as the driver's equations take it.

Flux linkage and force of a coil that moves, with state a_j of each mode:

    flux linkage = L0(x) i + sum of c_j(x) a_j,     a_j + tau_j da_j/dt = c_j(x) i
    force        = i^2/2 dL0/dx + i sum of dc_j/dx a_j

L0 follows at once; energy is (L0 i^2 + sum of a_j^2) / 2, heat the sum of tau_j (da_j/dt)^2.

Steel that saturates under the coil's field takes an energy N(x, s) off (see
:mod:`motor.results.saturation`), which belongs to the flux that has got into the steel and not to
the current: s = (sum of c_j a_j) / D(x) is the steady current that would make that flux, so it
lags.  The modes are then driven by i + n, n = dN/ds / D, and the force gains

    dN/dx at constant a = dN/dx + n (sum of dc_j/dx a_j - s dD/dx).

Nothing is counted twice: Bl(x) i and i^2/2 dL/dx are taken off the fields behind N.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline, PchipInterpolator

from geometries import InvalidInput
from motor.base.arrays import Complexes, Floats
from motor.design.characteristic import Table
from motor.results.saturation import Saturation

__all__ = ["LE_FREQUENCY", "LossyInductance", "Loud"]

LE_FREQUENCY = 1000.0
"""Hz of the one inductance over displacement that stands for all (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Loud:
    """An inductance as large currents meet it.

    Parameters
    ----------
    current, frequency : float
        Ampere (peak) and hertz at which the steel is as permeable as here.
    share : float
        Of minor loops' excess reluctivity; see :class:`motor.results.coil_model.LoudModes`.
    inductance, curve : LossyInductance
        With that share, and with steel along its magnetising curve.
    """

    current: float
    frequency: float
    share: float
    inductance: LossyInductance
    curve: LossyInductance

    def each(self, change: Callable[[LossyInductance], LossyInductance]) -> Loud:
        """Return the one whose inductances are changed."""
        return dataclasses.replace(
            self, inductance=change(self.inductance), curve=change(self.curve)
        )


@dataclass(frozen=True, eq=False)
class LossyInductance:
    """Inductance over displacement and frequency, as modes that lag behind the current.

    Parameters
    ----------
    position : (m,) array
        Displacements in metres, rising, m at least 4, 0 within.
    instant : (m,) array
        L0 in henry: what follows the current at once; above 0.
    time_constant : (k,) array
        Seconds, above 0.
    coupling : (m, k) array
        Square root of henry.
    saturation : Saturation or None
        None where the steel is as permeable under any current.
    loud : Loud or None
        What large currents meet; None for the same as small ones.
    """

    position: Floats
    instant: Floats
    time_constant: Floats
    coupling: Floats
    saturation: Saturation | None = None
    loud: Loud | None = None

    def __post_init__(self) -> None:
        shape = len(self.position), len(self.time_constant)
        if self.coupling.shape != shape:
            raise InvalidInput("coupling", f"be of shape {shape}", self.coupling.shape)
        if not (np.isfinite(self.coupling).all() and (self.time_constant > 0).all()):
            raise InvalidInput("modes", "be finite, with time constants above 0", "others")
        self.instantaneous.demand_positive("inductance that follows at once")

    @functools.cached_property
    def instantaneous(self) -> Table:
        """L0(x)."""
        return Table(tuple(self.position.tolist()), tuple(self.instant.tolist()))

    @functools.cached_property
    def flux_per_ampere(self) -> Table:
        """D(x) in henry: what a steady current's field sends through the steel.

        That along the magnetising curve, as in the fields behind the saturation; the modes' own,
        on minor loops, is smaller.
        """
        law, x = self.saturation, self.position
        own = (self.coupling**2).sum(axis=1)
        if law is not None:
            whole = np.asarray(PchipInterpolator(law.position, law.inductance)(x))
            own = np.maximum(own, whole - self.instant)
        return Table(tuple(x.tolist()), tuple(own.tolist()))

    @functools.cached_property
    def characteristic(self) -> Table:
        """L(x) at LE_FREQUENCY, for models that know no losses."""
        omega = np.array([2 * np.pi * LE_FREQUENCY])
        linked = [self.impedance(omega, x).imag[0] / omega[0] for x in self.position]
        return Table(tuple(self.position.tolist()), tuple(map(float, linked)))

    @property
    def low(self) -> float:
        """Lower end of the range in metres."""
        return float(self.position[0])

    @property
    def high(self) -> float:
        """Upper end of the range in metres."""
        return float(self.position[-1])

    @functools.cached_property
    def is_constant(self) -> bool:
        """Whether nothing depends on the displacement."""
        still = np.ptp(self.instant) == 0 and not np.ptp(self.coupling, axis=0).any()
        return bool(still and self.saturation is None)

    @functools.cached_property
    def _pieces(self) -> Floats:
        """Cubic pieces of all couplings, highest power first: array (4, m - 1, k)."""
        return np.ascontiguousarray(CubicSpline(self.position, self.coupling).c)

    def couplings(self, x: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Return couplings at displacements (n,), first and second derivatives: arrays (n, k).

        Beyond the range they go on along the end tangents, as a Characteristic does.
        """
        x = np.asarray(x, float)
        clipped = np.clip(x, self.low, self.high)
        cell = np.searchsorted(self.position, clipped, side="right") - 1
        cell = np.minimum(cell, len(self.position) - 2)
        d = (clipped - self.position[cell])[..., None]
        p = self._pieces
        c3, c2, c1, c0 = p[0][cell], p[1][cell], p[2][cell], p[3][cell]
        beyond = (x - clipped)[..., None]
        slope = (3 * c3 * d + 2 * c2) * d + c1
        value = ((c3 * d + c2) * d + c1) * d + c0 + slope * beyond
        return value, slope, np.where(beyond == 0, 6 * c3 * d + 2 * c2, 0.0)

    def saturated(self, x: Floats, linked: Floats) -> tuple[Floats, Floats, Floats]:
        """Return n in ampere, N's and D's part of the force in newton, and N in joule.

        At displacements (m) and sums of c_j a_j (Wb); the law has to be there.
        """
        assert self.saturation is not None
        d = self.flux_per_ampere.value(x)
        s = linked / d
        at = self.saturation.at(x, s)
        n = at.by_s / d
        return n, at.by_x - n * s * self.flux_per_ampere.slope(x), at.energy

    def impedance(self, omega: Floats, x: float = 0.0) -> Complexes:
        """Return the coil's impedance without Re in ohm at angular frequencies, coil blocked."""
        c = self.couplings(x)[0]
        s = 1j * np.asarray(omega, float)
        lagging = (c**2 / (1 + s[..., None] * self.time_constant)).sum(axis=-1)
        return np.asarray(s * (self.instantaneous.value(x) + lagging))

    def frozen(self) -> LossyInductance:
        """Return the one that is at every displacement as this is at rest."""
        still = np.ones((len(self.position), 1))
        return LossyInductance(
            self.position,
            still[:, 0] * self.instantaneous.at_rest,
            self.time_constant,
            still * self.couplings(0.0)[0],
            loud=self.loud and self.loud.each(LossyInductance.frozen),
        )

    def unsaturated(self) -> LossyInductance:
        """Return the one whose steel is as permeable under any current."""
        loud = self.loud and self.loud.each(LossyInductance.unsaturated)
        return dataclasses.replace(self, saturation=None, loud=loud)

    def slower_than(self, shortest: float) -> LossyInductance:
        """Return the one whose modes that lag less than a time in seconds follow at once."""
        slow = self.time_constant >= shortest
        instant = self.instant + (self.coupling[:, ~slow] ** 2).sum(axis=1)
        return LossyInductance(
            self.position,
            instant,
            self.time_constant[slow],
            self.coupling[:, slow],
            self.saturation,
        )
