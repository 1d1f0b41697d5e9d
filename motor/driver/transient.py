"""The same equations in time: accurate integration with its energy balance."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

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
FIRST = len(SCALE)
"""States before those of the modes."""
LOST = 5
"""Energies that are integrated beside the states: supplied, and lost in four ways."""
MODE = 1e-2
"""Usual size of a mode's state, square root of joule."""


@dataclass(frozen=True)
class Energies:
    """Where the energy went, in J, from the start to each instant; (n,) arrays.

    Parameters
    ----------
    supplied : array
        By the source.
    heat, eddy, friction, leak : array
        Lost in the resistances, as eddy currents' heat in the motor, in the suspension and in
        the box's leaks.
    stored : array
        In mass, suspension, inductance, box and port, less that at the start.
    """

    supplied: Floats
    heat: Floats
    eddy: Floats
    friction: Floats
    leak: Floats
    stored: Floats

    @property
    def imbalance(self) -> float:
        """Largest difference between supplied and found energy over the largest supplied."""
        found = self.heat + self.eddy + self.friction + self.leak + self.stored
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


class Plain(NamedTuple):
    """What does not depend on displacement, for steps in plain numbers, SI.

    Resistance of the whole circuit, mechanical losses, mass, area, 1 over the box's compliance, its
    leaks' conductance, 1 over the port's mass; 0 where there is none.
    """

    resistance: float
    losses: float
    mass: float
    area: float
    soft: float
    leak: float
    port: float


class Equations:
    """Right-hand side: state x, v, flux linkage (0 without inductance), box pressure, port, modes.

    The linkage is that without the magnet's; the modes are those of a lossy inductance.
    """

    def __init__(self, system: DriverSystem) -> None:
        self.system = system
        driver, box = system.driver, system.box
        self.resistance = system.resistance
        self.instant, self.lossy = driver.instant, driver.lossy
        self.inductive = not (self.instant.is_constant and self.instant.at_rest == 0)
        self.times = np.empty(0) if self.lossy is None else self.lossy.time_constant
        self.compliance = None if box is None else box.compliance
        self.leak = 0.0 if box is None else box.leak_conductance
        self.port_mass = None if box is None else box.port_mass

    @property
    def plain(self) -> Plain:
        """The numbers that do not depend on displacement."""
        driver = self.system.driver
        soft, port = (1 / value if value else 0.0 for value in (self.compliance, self.port_mass))
        fixed = (self.resistance, driver.mechanical_resistance, driver.mass, driver.area)
        return Plain(*fixed, soft, self.leak, port)

    @property
    def size(self) -> int:
        """Number of states."""
        return FIRST + len(self.times)

    def current(self, state: Floats, voltage: float | Floats) -> Floats:
        """Return the current in A; states run along the first axis."""
        driver = self.system.driver
        if self.lossy is not None:
            lagging = np.einsum("...k,k...->...", self.lossy.couplings(state[0])[0], state[FIRST:])
            return np.asarray((state[2] - lagging) / self.instant.value(state[0]), float)
        if self.inductive:
            return np.asarray(state[2] / self.instant.value(state[0]), float)
        emf = driver.bl.value(state[0]) * state[1]
        return np.asarray((voltage - emf) / self.resistance, float)

    def rates(self, state: Floats, voltage: float | Floats) -> Floats:
        """Return the time derivatives of the state."""
        return self.flow(state, voltage)[0]

    def flow(self, state: Floats, voltage: float | Floats) -> tuple[Floats, Floats]:
        """Return the time derivatives of the state, and the current in A."""
        driver = self.system.driver
        x, v, f, p, q = state[:FIRST]
        bl = driver.bl.value(x)
        out = np.zeros_like(state)
        out[0] = v
        pull: float | Floats = 0.0
        if self.lossy is None:
            i = self.current(state, voltage)
        else:
            coupling, slope, _ = self.lossy.couplings(x)
            modes = state[FIRST:]
            lagging, pulled = (np.einsum("...k,k...->...", c, modes) for c in (coupling, slope))
            i = np.asarray((f - lagging) / self.instant.value(x), float)
            drive, bent = i, np.zeros_like(i)
            if self.lossy.saturation is not None:
                n, bent, _ = self.lossy.saturated(x, lagging)
                drive = i + n
            pull = drive * pulled + bent
            out[FIRST:] = ((coupling * drive[..., None] - modes.T) / self.times).T
        force = bl * i + pull - driver.k.value(x) * x - driver.mechanical_resistance * v
        if self.inductive:
            force = force + i**2 / 2 * self.instant.slope(x)
            out[2] = voltage - self.resistance * i - bl * v
        if self.compliance is not None:
            force = force + driver.area * p
            out[3:FIRST] = self.box_rates(v, p, q)
        out[1] = force / driver.mass
        return out, i

    def box_rates(self, v: ArrayLike, p: Floats, q: Floats) -> tuple[Floats, Floats]:
        """Return the rates of the box's pressure and of the port's flow, from speed and both."""
        nothing = np.zeros_like(p)
        if self.compliance is None:
            return nothing, nothing
        flow = self.system.driver.area * np.asarray(v) + q + self.leak * p
        return -flow / self.compliance, p / self.port_mass if self.port_mass else nothing

    def stored(self, state: Floats, voltage: Floats) -> Floats:
        """Return the stored energy in J."""
        driver = self.system.driver
        x, v, _, p, q = state[:FIRST]
        low, high = float(min(x.min(), 0.0)), float(max(x.max(), 0.0))
        grid = np.linspace(low, high + 1e-12, 4001)
        work = cumulative_simpson(driver.k.value(grid) * grid, x=grid, initial=0.0)
        work = work - np.interp(0.0, grid, work)
        energy = driver.mass * v**2 / 2 + np.interp(x, grid, work)
        if self.inductive:
            energy = energy + self.instant.value(x) * self.current(state, voltage) ** 2 / 2
        energy = energy + (state[FIRST:] ** 2).sum(axis=0) / 2
        if self.lossy is not None and self.lossy.saturation is not None:
            linked = np.einsum("...k,k...->...", self.lossy.couplings(x)[0], state[FIRST:])
            energy = energy - self.lossy.saturated(x, linked)[2]
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
    system = system.at_large_currents
    equations = Equations(system)
    driver, clip = system.driver, system.amplifier.clip
    low, high = driver.known

    def voltage(t: float) -> float:
        wanted = float(source(t))
        return wanted if clip is None else min(clip, max(-clip, wanted))

    def rates(t: float, y: Floats) -> Floats:
        u = voltage(t)
        state = y[: equations.size]
        change, i = equations.flow(state, u)
        power = (
            u * i,
            equations.resistance * i**2,
            float((equations.times * change[FIRST:] ** 2).sum()),
            driver.mechanical_resistance * y[1] ** 2,
            equations.leak * y[3] ** 2,
        )
        return np.concatenate([change, power])

    def at_end(_: float, y: Floats) -> float:
        return float(min(y[0] - low, high - y[0]))

    at_end.terminal = math.isfinite(max(low, -high))  # type: ignore[attr-defined]
    done = solve_ivp(
        rates,
        (0.0, times[-1]),
        np.zeros(equations.size + LOST),
        # modes as fast as microseconds make the equations stiff
        method="DOP853" if equations.lossy is None else "LSODA",
        t_eval=times,
        rtol=tolerance,
        atol=tolerance
        * np.concatenate([SCALE, np.full(len(equations.times), MODE), np.full(LOST, 1e-3)]),
        events=None if math.isinf(low) and math.isinf(high) else functools.partial(at_end),
    )
    if done.status < 0:
        raise SolveError(f"the integration in time stopped: {done.message}")
    return _motion(equations, done, voltage)


def _motion(equations: Equations, done, voltage) -> Motion:  # type: ignore[no-untyped-def]
    state, t = done.y, done.t
    u = np.array([voltage(s) for s in t])
    losses = state[equations.size :]
    state = state[: equations.size]
    rates = equations.rates(state, u)
    stored = equations.stored(state, u)
    low, high = equations.system.driver.known
    left = np.flatnonzero((state[0] < low) | (state[0] > high))
    return Motion(
        equations.system,
        t,
        state[0],
        state[1],
        equations.current(state, u),
        state[3],
        state[4],
        equations.pressure(state, rates),
        float(t[left[0]]) if len(left) else None,
        Energies(losses[0], losses[1], losses[2], losses[3], losses[4], stored),
    )
