"""The balance of harmonics: residual and Jacobian of the periodic motion, and Newton on them.

Unknowns are the Fourier coefficients of travel x and current i,
``[mean, cos 1, sin 1, cos 2, ...]`` of each; the non-linear terms are evaluated in time and
transformed back.  With Phi the integral of Bl, Bl(x) v is d Phi(x)/dt, so both terms of the
voltage equation are time derivatives:

    u = R i + d/dt [L(x) i + Phi(x)]
    Bl(x) i + i^2/2 dL/dx - K(x) x = (mass, losses, box) x
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve

from motor.base.arrays import Floats
from motor.driver.parts import DriverSystem
from motor.driver.small_signal import mechanical_load

__all__ = ["Balance", "Basis", "Found", "to_phasors", "to_real"]

SAMPLES_PER_HARMONIC = 4
"""Time samples over the highest harmonic: cubic products of it do not fold back onto it."""
TIGHT = 1e-10
"""Newton ends when the residual is this share of the drive."""
MOST_STEPS = 25
MOST_HALVINGS = 5

Complexes = NDArray[np.complex128]


def to_phasors(real: Floats) -> Complexes:
    """Return peak phasors (index = harmonic, [0] the mean) of real Fourier coefficients."""
    return np.concatenate([[real[0] + 0j], real[1::2] - 1j * real[2::2]])


def to_real(phasors: Complexes) -> Floats:
    """Return the real Fourier coefficients of peak phasors."""
    real = np.empty(2 * len(phasors) - 1)
    real[0], real[1::2], real[2::2] = phasors[0].real, phasors[1:].real, -phasors[1:].imag
    return real


@dataclass(frozen=True, eq=False)
class Basis:
    """Transforms between coefficients and samples of one period.

    Parameters
    ----------
    harmonics : int
    to_time : (m, n) array
        n = 2 harmonics + 1 coefficients to m samples.
    to_coefficients : (n, m) array
    """

    harmonics: int
    to_time: Floats
    to_coefficients: Floats

    @staticmethod
    @functools.lru_cache(maxsize=16)
    def of(harmonics: int) -> Basis:
        """Return the basis of a number of harmonics."""
        m = SAMPLES_PER_HARMONIC * (harmonics + 1)
        angle = 2 * math.pi * np.arange(m)[:, None] / m * np.arange(1, harmonics + 1)
        to_time = np.ones((m, 2 * harmonics + 1))
        to_time[:, 1::2], to_time[:, 2::2] = np.cos(angle), np.sin(angle)
        back = to_time.T * (2 / m)
        back[0] /= 2
        return Basis(harmonics, to_time, np.ascontiguousarray(back))


@dataclass(frozen=True)
class Found:
    """A periodic solution: its unknowns, whether Newton got there, sign of the Jacobian."""

    unknowns: Floats
    converged: bool
    sign: float
    residual: float


class Balance:
    """Equations of one system at one base frequency with a number of harmonics."""

    def __init__(self, system: DriverSystem, frequency: float, harmonics: int) -> None:
        self.system, self.frequency = system, frequency
        self.basis = Basis.of(harmonics)
        self.size = 2 * harmonics + 1
        k = np.arange(harmonics + 1)
        self.omega: Floats = np.asarray(2 * math.pi * frequency * k, float)
        load = mechanical_load(system, self.omega)
        diagonal = np.zeros((self.size, self.size))
        diagonal[0, 0] = load[0].real
        c, s = 2 * k[1:] - 1, 2 * k[1:]
        diagonal[c, c] = diagonal[s, s] = load[1:].real
        diagonal[c, s], diagonal[s, c] = load[1:].imag, -load[1:].imag
        self.load = diagonal

    def _rate(self, rows: Floats) -> Floats:
        """Return d/dt of coefficients that run along the first axis."""
        out = np.zeros_like(rows)
        omega = self.omega[1:].reshape(-1, *[1] * (rows.ndim - 1))
        out[1::2], out[2::2] = omega * rows[2::2], -omega * rows[1::2]
        return out

    def equations(self, y: Floats, drive: Floats) -> tuple[Floats, Floats]:
        """Return residual (2n) and Jacobian (2n, 2n) at unknowns y for source coefficients."""
        n, to_time, back = self.size, self.basis.to_time, self.basis.to_coefficients
        driver, resistance = self.system.driver, self.system.resistance
        x, i = to_time @ y[:n], to_time @ y[n:]
        bl, k, le = driver.bl, driver.k, driver.le
        b, stiff = bl.value(x), k.value(x)
        inductance = le.value(x)
        bent = not le.is_constant
        slope = le.slope(x) if bent else 0.0
        force = b * i - stiff * x
        by_x = (bl.slope(x) * i if not bl.is_constant else 0.0) - stiff
        by_x = by_x - (k.slope(x) * x if not k.is_constant else 0.0)
        by_i = b
        if bent:
            force = force + i**2 / 2 * slope
            by_x = by_x + i**2 / 2 * le.bend(x)
            by_i = b + i * slope
        linkage = self._rate(back @ (inductance * i + bl.integral(x)))
        residual = np.empty(2 * n)
        residual[:n] = resistance * y[n:] + linkage - drive
        residual[n:] = back @ force - self.load @ y[:n]
        jacobian = np.empty((2 * n, 2 * n))
        jacobian[:n, :n] = self._rate(back @ ((b + slope * i)[:, None] * to_time))
        if bent:
            jacobian[:n, n:] = self._rate(back @ (inductance[:, None] * to_time))
        else:
            jacobian[:n, n:] = self._rate(np.eye(n) * le.at_rest)
        jacobian[:n, n:] += resistance * np.eye(n)
        jacobian[n:, :n] = back @ (by_x[:, None] * to_time) - self.load
        jacobian[n:, n:] = back @ (by_i[:, None] * to_time)
        return residual, jacobian

    def newton(self, y: Floats, drive: Floats) -> Found:
        """Solve from a first guess; damped, and honest about not arriving."""
        n = self.size
        scale = np.empty(2 * n)
        scale[:n] = max(float(np.abs(drive).max()), 1e-9)
        scale[n:] = scale[0] * self.system.driver.bl.at_rest / self.system.resistance
        residual, jacobian = self.equations(y, drive)
        error = float(np.abs(residual / scale).max())
        for _ in range(MOST_STEPS):
            if not np.isfinite(jacobian).all():
                return Found(y, False, 0.0, math.inf)
            factor = lu_factor(jacobian, check_finite=False)
            swaps = np.count_nonzero(factor[1] != np.arange(2 * n))
            diagonal = factor[0].diagonal()
            if not diagonal.all():
                return Found(y, False, 0.0, error)
            sign = float((-1) ** (swaps + np.count_nonzero(diagonal < 0)))
            if error < TIGHT:
                return Found(y, True, sign, error)
            step = lu_solve(factor, residual, check_finite=False)
            for halving in range(MOST_HALVINGS + 1):
                trial = y - step / 2**halving
                residual, jacobian = self.equations(trial, drive)
                next_error = float(np.abs(residual / scale).max())
                if next_error < error or next_error < TIGHT:
                    break
            else:
                return Found(y, False, sign, error)
            y, error = trial, next_error
        return Found(y, False, 0.0, error)

    def linear(self, drive: Floats) -> Floats:
        """Return the unknowns of the system linearised about rest, and nothing iterated."""
        _, jacobian = self.equations(np.zeros(2 * self.size), drive)
        right = np.concatenate([drive, np.zeros(self.size)])
        found: Floats = np.linalg.solve(jacobian, right)
        return found
