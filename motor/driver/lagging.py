"""The modes of a lossy inductance within the balance of harmonics.

What a mode answers to samples of what drives it over a period is a linear map, so the flux of all
modes is one matrix times the current, or with saturation times i + n(x, s): see
:mod:`motor.driver.lossy`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.driver.lossy import LossyInductance

__all__ = ["Lagging", "Slopes"]

SETTLED, MOST_STEPS = 1e-6, 30
"""Relative change of the flux after which the saturated modes count as found, since the next would
be its square, and steps to there."""


@dataclass(frozen=True)
class Slopes:
    """Changes of the modes' flux and force by travel and current: arrays (m, m)."""

    linked_by_x: Floats
    linked_by_i: Floats
    force_by_x: Floats
    force_by_i: Floats


@dataclass(frozen=True)
class _Saturated:
    """Saturation at the instants of a period; arrays (m,).

    D and its derivatives, s, n, and N's derivatives.
    """

    d: Floats
    d_x: Floats
    d_xx: Floats
    s: Floats
    n: Floats
    by_ss: Floats
    by_x: Floats
    by_xs: Floats
    by_xx: Floats

    @property
    def pull(self) -> Floats:
        """What the force has of N's slope and of D's, N."""
        return self.by_x - self.n * self.s * self.d_x


@dataclass(frozen=True)
class Lagging:
    """Modes at the instants of a period.

    Parameters
    ----------
    lags, pushed : (m, mode, m) array
        What each mode answers at an instant to samples of what drives it, and of i + n.
    drive : (m,) array
        i + n, ampere.
    coupling, slope, bend : (mode, m) array
        c_j(x) and its derivatives.
    state : (mode, m) array
        a_j, square roots of joule.
    linked, pulled, bent : (m,) array
        Sums over the modes of a_j times coupling, its first and its second derivative.
    """

    lags: Floats
    pushed: Floats
    drive: Floats
    coupling: Floats
    slope: Floats
    bend: Floats
    state: Floats
    linked: Floats
    pulled: Floats
    bent: Floats
    saturated: _Saturated | None

    @staticmethod
    def at(lossy: LossyInductance, x: Floats, i: Floats, lags: Floats) -> Lagging:
        """Return the modes under a current.

        ``lags`` (m, mode, m) holds what each answers at an instant to samples of what drives it.
        """
        c, slope, bend = (part.T for part in lossy.couplings(x))
        drive, saturated, pushed = i, None, lags * c
        if lossy.saturation is not None:
            through = np.matmul(c.T[:, None], pushed)[:, 0]
            drive, saturated = _saturated(lossy, x, i, through)
        a = np.matmul(pushed, drive).T
        linked, pulled, bent = ((part * a).sum(axis=0) for part in (c, slope, bend))
        return Lagging(lags, pushed, drive, c, slope, bend, a, linked, pulled, bent, saturated)

    @property
    def force(self) -> Floats:
        """Force of the modes in newton."""
        pull = self.drive * self.pulled
        return pull if self.saturated is None else pull + self.saturated.pull

    def slopes(self) -> Slopes:
        """Return the changes of flux and force by travel and current."""
        both = np.stack([self.coupling, self.slope], axis=2).transpose(1, 2, 0)
        by_drive = np.matmul(both, self.pushed)
        by_x = np.matmul(both, self.lags * (self.slope * self.drive))
        linked_i, pulled_i = by_drive[:, 0], by_drive[:, 1]
        linked_x, pulled_x = by_x[:, 0] + np.diag(self.pulled), by_x[:, 1] + np.diag(self.bent)
        size, e, at = len(self.drive), self.drive[:, None], self.saturated
        if at is None:
            force_i = e * pulled_i + np.diag(self.pulled)
            return Slopes(linked_x, linked_i, e * pulled_x, force_i)
        # n = N_s(x, s) / D with s = linked / D: dn = p dlinked + r dx
        p = at.by_ss / at.d**2
        r = (at.by_xs - at.n * at.d_x - at.by_ss * at.s * at.d_x / at.d) / at.d
        whole = np.eye(size) - linked_i * p
        right = np.hstack([linked_i * r + linked_x, linked_i])
        linked_x, linked_i = np.hsplit(np.linalg.solve(whole, right), 2)
        n_x, n_i = p[:, None] * linked_x + np.diag(r), p[:, None] * linked_i
        e_i = np.eye(size) + n_i
        s_x = linked_x / at.d[:, None] - np.diag(at.s * at.d_x / at.d)
        s_i = linked_i / at.d[:, None]
        bend, turn = (at.by_xs - at.n * at.d_x)[:, None], (at.s * at.d_x)[:, None]
        force_x = self.pulled[:, None] * n_x + e * (pulled_i @ n_x + pulled_x)
        force_x += bend * s_x - turn * n_x + np.diag(at.by_xx - at.n * at.s * at.d_xx)
        force_i = self.pulled[:, None] * e_i + e * (pulled_i @ e_i) + bend * s_i - turn * n_i
        return Slopes(linked_x, linked_i, force_x, force_i)


def _saturated(
    lossy: LossyInductance, x: Floats, i: Floats, through: Floats
) -> tuple[Floats, _Saturated]:
    """Return i + n and the saturation; ``through`` (m, m) makes the modes' flux of i + n."""
    law, table = lossy.saturation, lossy.flux_per_ampere
    assert law is not None
    d, d_x, d_xx = table.value(x), table.slope(x), table.bend(x)
    linked, unit, factors = through @ i, np.eye(len(i)), law.factors(x)
    for _ in range(MOST_STEPS):
        by_s, by_ss = law.currents(factors[0], linked / d)
        miss = through @ (i + by_s / d) - linked
        step = np.linalg.solve(unit - through * (by_ss / d**2), miss)
        linked = linked + step
        if not np.abs(step).max() > SETTLED * np.abs(linked).max():
            break
    s = linked / d
    at = law.with_factors(factors, s)
    n = at.by_s / d
    return i + n, _Saturated(d, d_x, d_xx, s, n, at.by_ss, at.by_x, at.by_xs, at.by_xx)
