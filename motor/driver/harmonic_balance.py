"""The balance of harmonics: residual and Jacobian of the periodic motion, and Newton on them.

Unknowns are the Fourier coefficients of travel x and current i,
``[mean, cos 1, sin 1, cos 2, ...]`` of each; the non-linear terms are evaluated in time and
transformed back.  With Phi the integral of Bl, Bl(x) v is d Phi(x)/dt, so both terms of the
voltage equation are time derivatives:

    u = R i + d/dt [L(x) i + Phi(x) + sum of c_j(x) a_j]
    Bl(x) i + i^2/2 dL/dx + i sum of dc_j/dx a_j - K(x) x = (mass, losses, box) x

The modes a_j of a lossy inductance (:mod:`motor.driver.lossy`) are linear in what drives them, so
each harmonic of theirs is eliminated: a_j = c_j(x) i / (1 + s tau_j), and with saturation
c_j(x) (i + n).
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import lu_factor, lu_solve

from motor.base.arrays import Complexes, Floats
from motor.driver.lagging import Lagging
from motor.driver.parts import DriverSystem
from motor.driver.small_signal import mechanical_load

__all__ = ["Balance", "Basis", "Found", "to_phasors", "to_real"]

SAMPLES_PER_HARMONIC = 4
"""Time samples over the highest harmonic: cubic products of it do not fold back onto it."""
TIGHT = 1e-10
"""Newton ends when the residual is this share of the drive."""
MOST_STEPS = 25
MOST_HALVINGS = 5


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
        lossy = system.driver.lossy
        self.lags = None if lossy is None else self._lags(lossy.time_constant)

    def _lags(self, times: Floats) -> Floats:
        """Return what modes answer at instants to samples of what drives them: (m, mode, m)."""
        to_time, back = self.basis.to_time, self.basis.to_coefficients
        answer = 1 / (1 + 1j * self.omega * times[:, None])
        m = len(to_time)
        first = np.zeros((len(times), self.size))
        first[:, 0] = back[0, 0]
        first[:, 1::2] = 2 / m * answer[:, 1:].real
        first[:, 2::2] = -2 / m * answer[:, 1:].imag
        pulse = first @ to_time.T
        every = pulse[:, (np.arange(m)[:, None] - np.arange(m)) % m]
        return np.ascontiguousarray(every.transpose(1, 0, 2))

    def _rate(self, rows: Floats) -> Floats:
        """Return d/dt of coefficients that run along the first axis."""
        out = np.zeros_like(rows)
        omega = self.omega[1:].reshape(-1, *[1] * (rows.ndim - 1))
        out[1::2], out[2::2] = omega * rows[2::2], -omega * rows[1::2]
        return out

    def eddy_power(self, y: Floats) -> float:
        """Return the mean heat of eddy currents in W: tau (da/dt)^2 of all modes."""
        lossy, modes = self.system.driver.lossy, _Instants.at(self, y).modes
        if lossy is None or modes is None:
            return 0.0
        rates = self.basis.to_time @ self._rate(self.basis.to_coefficients @ modes.state.T)
        return float((rates**2).mean(axis=0) @ lossy.time_constant)

    def residual(self, y: Floats, drive: Floats) -> Floats:
        """Return the residual (2n,) at unknowns y for source coefficients."""
        return self._residual(_Instants.at(self, y), y, drive)

    def equations(self, y: Floats, drive: Floats) -> tuple[Floats, Floats]:
        """Return residual (2n) and Jacobian (2n, 2n) at unknowns y for source coefficients."""
        here = _Instants.at(self, y)
        return self._residual(here, y, drive), self._jacobian(here)

    def _residual(self, here: _Instants, y: Floats, drive: Floats) -> Floats:
        n, back, driver = self.size, self.basis.to_coefficients, self.system.driver
        x, i = here.x, here.i
        linked = driver.instant.value(x) * i + driver.bl.integral(x)
        force = here.bl * i - here.stiffness * x
        if here.bent:
            force = force + i**2 / 2 * here.slope
        if here.modes is not None:
            linked = linked + here.modes.linked
            force = force + here.modes.force
        residual = np.empty(2 * n)
        residual[:n] = self.system.resistance * y[n:] + self._rate(back @ linked) - drive
        residual[n:] = back @ force - self.load @ y[:n]
        return residual

    def _jacobian(self, here: _Instants) -> Floats:
        n, to_time, back = self.size, self.basis.to_time, self.basis.to_coefficients
        driver, x, i, le = self.system.driver, here.x, here.i, self.system.driver.instant
        by_x = (driver.bl.slope(x) * i if not driver.bl.is_constant else 0.0) - here.stiffness
        by_x = by_x - (driver.k.slope(x) * x if not driver.k.is_constant else 0.0)
        by_i = here.bl
        if here.bent:
            by_x = by_x + i**2 / 2 * le.bend(x)
            by_i = here.bl + i * here.slope
        linked_by_x = (here.bl + here.slope * i)[:, None] * to_time
        linked_by_i = driver.instant.value(x)[:, None] * to_time
        force_by_x, force_by_i = by_x[:, None] * to_time, by_i[:, None] * to_time
        if here.modes is not None:
            more = here.modes.slopes()
            linked_by_x += more.linked_by_x @ to_time
            linked_by_i += more.linked_by_i @ to_time
            force_by_x += more.force_by_x @ to_time
            force_by_i += more.force_by_i @ to_time
        jacobian = np.empty((2 * n, 2 * n))
        jacobian[:n, :n] = self._rate(back @ linked_by_x)
        jacobian[:n, n:] = self._rate(back @ linked_by_i)
        jacobian[:n, n:] += self.system.resistance * np.eye(n)
        jacobian[n:, :n] = back @ force_by_x - self.load
        jacobian[n:, n:] = back @ force_by_i
        return jacobian

    def newton(self, y: Floats, drive: Floats) -> Found:
        """Solve from a first guess; damped, and honest about not arriving."""
        n = self.size
        scale = np.empty(2 * n)
        scale[:n] = max(float(np.abs(drive).max()), 1e-9)
        scale[n:] = scale[0] * self.system.driver.bl.at_rest / self.system.resistance
        here = _Instants.at(self, y)
        residual = self._residual(here, y, drive)
        error = float(np.abs(residual / scale).max())
        for _ in range(MOST_STEPS):
            jacobian = self._jacobian(here)
            if not np.isfinite(jacobian).all():
                return Found(y, False, 0.0, math.inf)
            factor = lu_factor(jacobian, check_finite=False)
            sign = _sign(factor)
            if not sign:
                return Found(y, False, 0.0, error)
            if error < TIGHT:
                return Found(y, True, sign, error)
            step = lu_solve(factor, residual, check_finite=False)
            for halving in range(MOST_HALVINGS + 1):
                trial = y - step / 2**halving
                here = _Instants.at(self, trial)
                residual = self._residual(here, trial, drive)
                next_error = float(np.abs(residual / scale).max())
                if next_error < error or next_error < TIGHT:
                    break
            else:
                return Found(y, False, sign, error)
            y, error = trial, next_error
        return Found(y, False, 0.0, error)

    def sign_at_rest(self) -> float:
        """Return the sign of the Jacobian's determinant at rest."""
        jacobian = self._jacobian(_Instants.at(self, np.zeros(2 * self.size)))
        return _sign(lu_factor(jacobian, check_finite=False))

    def linear(self, drive: Floats) -> Floats:
        """Return the unknowns of the system linearised about rest, and nothing iterated."""
        _, jacobian = self.equations(np.zeros(2 * self.size), drive)
        right = np.concatenate([drive, np.zeros(self.size)])
        found: Floats = np.linalg.solve(jacobian, right)
        return found


def _sign(factor: tuple[Floats, Floats]) -> float:
    """Return the sign of a determinant, 0 where it is 0, from factors L U."""
    swaps = np.count_nonzero(factor[1] != np.arange(len(factor[1])))
    diagonal = factor[0].diagonal()
    return float((-1) ** (swaps + np.count_nonzero(diagonal < 0))) if diagonal.all() else 0.0


@dataclass(frozen=True)
class _Instants:
    """What residual and Jacobian share at the instants of a period; arrays (m,)."""

    x: Floats
    i: Floats
    bl: Floats
    stiffness: Floats
    bent: bool
    slope: Floats | float
    modes: Lagging | None

    @staticmethod
    def at(balance: Balance, y: Floats) -> _Instants:
        """Return them at unknowns y."""
        n, to_time, driver = balance.size, balance.basis.to_time, balance.system.driver
        x, i = to_time @ y[:n], to_time @ y[n:]
        bent = not driver.instant.is_constant
        modes = None
        if driver.lossy is not None and balance.lags is not None:
            modes = Lagging.at(driver.lossy, x, i, balance.lags)
        return _Instants(
            x,
            i,
            driver.bl.value(x),
            driver.k.value(x),
            bent,
            driver.instant.slope(x) if bent else 0.0,
            modes,
        )
