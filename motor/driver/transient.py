"""The same equations in time: accurate integration with its energy balance."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import cumulative_simpson, solve_ivp

from geometries import InvalidInput
from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.base.errors import SolveError
from motor.design.enclosure import AIR_DENSITY
from motor.driver.parts import DriverSystem

__all__ = ["Energies", "Motion", "integrate"]

TIGHT = 1e-9
"""Relative tolerance of the integration."""
SCALE = np.array([1e-3, 1.0, 1e-3, 100.0, 1e-3])
"""Usual sizes of travel, speed, flux linkage, box pressure and port flow, SI."""


@dataclass(frozen=True)
class Energies:
    """Where the energy went, in J, from the start to each instant; (n,) arrays.

    Parameters
    ----------
    supplied : array
        By the source.
    heat, friction, leak : array
        Lost in the resistances, in the suspension and in the box's leaks.
    stored : array
        In mass, suspension, inductance, box and port, less that at the start.
    """

    supplied: Floats
    heat: Floats
    friction: Floats
    leak: Floats
    stored: Floats

    @property
    def imbalance(self) -> float:
        """Largest difference between supplied and found energy over the largest supplied."""
        found = self.heat + self.friction + self.leak + self.stored
        return float(np.abs(self.supplied - found).max() / np.abs(self.supplied).max())


@dataclass(frozen=True)
class Motion(Drawable):
    """A motion in time; arrays (n,), SI.

    Parameters
    ----------
    system : DriverSystem
    time, displacement, velocity, current : array
        s, m, m/s, A.
    box_pressure, port_flow : array
        Pa and m^3/s; 0 without a box or port.
    pressure : array
        Sound pressure at 1 m in half space, Pa.
    left_range : float or None
        Instant in s at which the coil left the displacements over which Bl, K and L are known;
        the arrays end there.
    """

    system: DriverSystem
    time: Floats
    displacement: Floats
    velocity: Floats
    current: Floats
    box_pressure: Floats
    port_flow: Floats
    pressure: Floats
    left_range: float | None
    energies: Energies | None = None

    @property
    def inward(self) -> float:
        """Farthest travel inwards, m, positive."""
        return -float(self.displacement.min())

    @property
    def outward(self) -> float:
        """Farthest travel outwards, m."""
        return float(self.displacement.max())


class Equations:
    """Right-hand side: state x, v, flux linkage L i (0 without inductance), box pressure, port."""

    def __init__(self, system: DriverSystem) -> None:
        self.system = system
        driver, box = system.driver, system.box
        self.resistance = system.resistance
        self.inductive = not (driver.le.is_constant and driver.le.at_rest == 0)
        self.compliance = None if box is None else box.compliance
        self.leak = 0.0 if box is None else box.leak_conductance
        self.port_mass = None if box is None else box.port_mass

    def current(self, state: Floats, voltage: float | Floats) -> Floats:
        """Return the current in A; states run along the first axis."""
        driver = self.system.driver
        if self.inductive:
            return np.asarray(state[2] / driver.le.value(state[0]), float)
        emf = driver.bl.value(state[0]) * state[1]
        return np.asarray((voltage - emf) / self.resistance, float)

    def rates(self, state: Floats, voltage: float | Floats) -> Floats:
        """Return the time derivatives of the state."""
        driver = self.system.driver
        x, v, _, p, q = state[:5]
        i = self.current(state, voltage)
        bl = driver.bl.value(x)
        force = bl * i - driver.k.value(x) * x - driver.mechanical_resistance * v
        out = np.zeros_like(state[:5])
        out[0] = v
        if self.inductive:
            force = force + i**2 / 2 * driver.le.slope(x)
            out[2] = voltage - self.resistance * i - bl * v
        if self.compliance is not None:
            force = force + driver.area * p
            out[3] = -(driver.area * v + q + self.leak * p) / self.compliance
            if self.port_mass is not None:
                out[4] = p / self.port_mass
        out[1] = force / driver.mass
        return out

    def stored(self, state: Floats, voltage: Floats) -> Floats:
        """Return the stored energy in J."""
        driver = self.system.driver
        x, v, _, p, q = state[:5]
        low, high = float(min(x.min(), 0.0)), float(max(x.max(), 0.0))
        grid = np.linspace(low, high + 1e-12, 4001)
        work = cumulative_simpson(driver.k.value(grid) * grid, x=grid, initial=0.0)
        work = work - np.interp(0.0, grid, work)
        energy = driver.mass * v**2 / 2 + np.interp(x, grid, work)
        if self.inductive:
            energy = energy + driver.le.value(x) * self.current(state, voltage) ** 2 / 2
        air = (self.compliance or 0.0) * p**2 / 2 + (self.port_mass or 0.0) * q**2 / 2
        return np.asarray(energy + air, float)

    def pressure(self, state: Floats, rates: Floats) -> Floats:
        """Return the sound pressure at 1 m in half space, Pa."""
        driver = self.system.driver
        flow_rate = driver.area * rates[1]
        if self.compliance is not None:
            flow_rate = flow_rate + rates[4] + self.leak * rates[3]
        return np.asarray(AIR_DENSITY * flow_rate / (2 * math.pi), float)


def integrate(
    system: DriverSystem,
    source: Callable[[float], float],
    times: ArrayLike,
    *,
    tolerance: float = TIGHT,
) -> Motion:
    """Integrate from rest and return the motion, with its energies.

    Parameters
    ----------
    system : DriverSystem
    source : callable
        Wanted source voltage in V over time in s; the amplifier's clip is applied to it.
    times : (n,) array
        Instants in s at which the motion is wanted, rising from 0.
    tolerance : float
        Relative tolerance.

    Raises
    ------
    InvalidInput, SolveError
    """
    times = np.asarray(times, float)
    if times.ndim != 1 or len(times) < 2 or times[0] < 0 or not (np.diff(times) > 0).all():
        raise InvalidInput("times", "rise from 0 s or later", times[:3])
    equations = Equations(system)
    driver, clip = system.driver, system.amplifier.clip
    low, high = driver.known

    def voltage(t: float) -> float:
        wanted = float(source(t))
        return wanted if clip is None else min(clip, max(-clip, wanted))

    def rates(t: float, y: Floats) -> Floats:
        u = voltage(t)
        i = equations.current(y, u)
        power = (
            u * i,
            equations.resistance * i**2,
            driver.mechanical_resistance * y[1] ** 2,
            equations.leak * y[3] ** 2,
        )
        return np.concatenate([equations.rates(y, u), power])

    def at_end(_: float, y: Floats) -> float:
        return float(min(y[0] - low, high - y[0]))

    at_end.terminal = math.isfinite(max(low, -high))  # type: ignore[attr-defined]
    done = solve_ivp(
        rates,
        (0.0, times[-1]),
        np.zeros(9),
        method="DOP853",
        t_eval=times,
        rtol=tolerance,
        atol=tolerance * np.concatenate([SCALE, np.full(4, 1e-3)]),
        events=None if math.isinf(low) and math.isinf(high) else functools.partial(at_end),
    )
    if done.status < 0:
        raise SolveError(f"the integration in time stopped: {done.message}")
    return _motion(equations, done, voltage)


def _motion(equations: Equations, done, voltage) -> Motion:  # type: ignore[no-untyped-def]
    state, t = done.y, done.t
    u = np.array([voltage(s) for s in t])
    rates = equations.rates(state[:5], u)
    stored = equations.stored(state[:5], u)
    low, high = equations.system.driver.known
    left = np.flatnonzero((state[0] < low) | (state[0] > high))
    return Motion(
        equations.system,
        t,
        state[0],
        state[1],
        equations.current(state[:5], u),
        state[3],
        state[4],
        equations.pressure(state[:5], rates),
        float(t[left[0]]) if len(left) else None,
        Energies(state[5], state[6], state[7], state[8], stored),
    )
