"""Any signal through a driver whose inductance has losses, with a fixed step.

The coil's equations by the trapezoidal rule, whose modes are eliminated so that one current is
left to solve for (what saturation adds to it is carried on from the steps before); the motion by
the velocity form of central differences, in which the place at the end of a step is known before
the force there.  Both are of second order.  Modes that lag less than half a step follow at once.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.driver.lossy import LossyInductance
from motor.driver.parts import DriverSystem
from motor.driver.transient import Equations, Motion

__all__ = ["play_lossy"]

RATE = 96e3
"""Steps a second at least: 1 kHz is then right to 0.04 %, 5 kHz to 0.9 %."""
CELLS = 4000
"""Cells of the uniform tables over displacement."""

Step = tuple[float, float, float, float, float, float]


def play_lossy(system: DriverSystem, u: Floats, rate: float) -> Motion:
    """Return the motion under a source voltage (n,) in V, from rest; rate in samples a second."""
    count = math.ceil(RATE / rate)
    rows, left = _march(system, u, 1 / (rate * count), count)
    x, v, i, p, q, acceleration = np.array(rows).T
    time = np.arange(len(x)) / rate
    equations = Equations(system)
    state = np.array([x, v, np.zeros_like(x), p, q])
    rates = np.array([v, acceleration, np.zeros_like(x), *equations.box_rates(v, p, q)])
    pressure = equations.pressure(state, rates)
    end = float(time[-1]) if left else None
    return Motion(system, time, x, v, i, p, q, pressure, end)


@dataclass(frozen=True)
class _Tables:
    """Everything that depends on displacement, on a uniform grid.

    Parameters
    ----------
    low, per_metre : float
    scalars : (n, 5) array
        Bl, its integral, K x, L0 and its slope.
    vectors : (n, 2, k) array
        Couplings and their slopes.
    saturated : (n, 8) array or None
        D and its slope, and the saturation's P_k and their slopes; see :mod:`motor.driver.lossy`.
    """

    low: float
    high: float
    per_metre: float
    scalars: Floats
    vectors: Floats
    saturated: Floats | None

    @staticmethod
    def of(system: DriverSystem, lossy: LossyInductance) -> _Tables:
        driver = system.driver
        low, high = driver.known
        grid = np.linspace(low, high, CELLS + 1)
        instant = lossy.instantaneous
        scalars = (
            driver.bl.value(grid),
            driver.bl.integral(grid),
            driver.k.value(grid) * grid,
            instant.value(grid),
            instant.slope(grid),
        )
        vectors = np.stack(lossy.couplings(grid)[:2], axis=1)
        more = None
        if lossy.saturation is not None:
            d = lossy.flux_per_ampere
            factors = lossy.saturation.factors(grid)[:2]
            more = np.column_stack([d.value(grid), d.slope(grid), *factors])
        return _Tables(low, high, CELLS / (high - low), np.stack(scalars, axis=1), vectors, more)

    def _cell(self, x: float) -> tuple[int, float]:
        place = (x - self.low) * self.per_metre
        cell = min(max(int(place), 0), CELLS - 1)
        return cell, place - cell

    def saturation(
        self, x: float, linked: float, pulled: float, scale: float
    ) -> tuple[float, float]:
        """Return n (A) and what the force gains beside i pulled (N) at the modes' flux (Wb)."""
        assert self.saturated is not None
        cell, part = self._cell(x)
        a, b = self.saturated[cell : cell + 2]
        d, bend, p1, p2, p3, b1, b2, b3 = (a + part * (b - a)).tolist()
        s = linked / d
        u = s / scale
        m = 1 + u * u
        q, q1 = u * u / m, 2 * u / (m * m)
        by_s = p1 * (q + u * q1) + p2 * q * (q + 2 * u * q1) + p3 * u * (2 * q + u * q1)
        n = by_s / d
        return n, s * (b1 * q + b2 * q * q + b3 * u * q) + n * (pulled - s * bend)

    def at(self, x: float) -> tuple[list[float], Floats]:
        """Return scalars and vectors at a displacement, linear within each cell."""
        cell, part = self._cell(x)
        a, b = self.scalars[cell : cell + 2]
        c, d = self.vectors[cell : cell + 2]
        return (a + part * (b - a)).tolist(), c + part * (d - c)


def _march(system: DriverSystem, u: Floats, h: float, count: int) -> tuple[list[Step], bool]:
    """Step through all samples; return x, v, i, p, q, dv/dt at each, and whether x left."""
    driver, equations = system.driver, Equations(system)
    lossy = driver.lossy
    assert lossy is not None
    lossy = lossy.slower_than(h / 2)
    tables = _Tables.of(system, lossy)
    half = h / (2 * lossy.time_constant)
    kept, new = (1 - half) / (1 + half), half / (1 + half)
    r, rms, mass, area, soft, leak, port = equations.plain
    # p1 = p_known - per_v v1, q1 = q_known + (h/2) port p1, both by the trapezoidal rule
    stiff = 1 + h / 2 * soft * (leak + h / 2 * port)
    per_v = h / 2 * soft * area / stiff
    inert = mass + h / 2 * (rms + area * per_v)
    x = v = i = p = q = acceleration = 0.0
    a = np.zeros(len(lossy.time_constant))
    (_, phi, _, le, _), (c, _) = tables.at(0.0)
    linked = n = before = 0.0
    law, pull = lossy.saturation, 0.0
    rows: list[Step] = [(x, v, i, p, q, acceleration)]
    for start, end in itertools.pairwise(u.tolist()):
        for step in range(count):
            mean = start + (end - start) * (step + 0.5) / count
            x += h * (v + h / 2 * acceleration)
            # what saturation adds to the current, n, goes on from the last two steps
            ahead, before = 2 * n - before, n
            known = kept * a + new * c * (i + n)
            (bl, phi1, spring, le, bend), (c, slope) = tables.at(x)
            lagging = new * c
            known += ahead * lagging
            right = linked + h * (mean - r * i / 2) - (phi1 - phi) - float(c @ known)
            i = right / (le + h * r / 2 + float(c @ lagging))
            a = known + lagging * i
            flux, pulled = float(c @ a), float(slope @ a)
            linked, phi = le * i + flux, phi1
            if law is not None:
                n, pull = tables.saturation(x, flux, pulled, law.scale)
            force = bl * i + i * i / 2 * bend + i * pulled + pull - spring
            flow = area * v + q + leak * p
            p_known = (p - h / 2 * soft * (flow + q + h / 2 * port * p)) / stiff
            v1 = (mass * (v + h / 2 * acceleration) + h / 2 * (force + area * p_known)) / inert
            p1 = p_known - per_v * v1
            q += h / 2 * port * (p + p1)
            acceleration = (v1 - v) * 2 / h - acceleration
            v, p = v1, p1
        if not tables.low <= x <= tables.high:
            return rows, True
        rows.append((x, v, i, p, q, acceleration))
    return rows, False
