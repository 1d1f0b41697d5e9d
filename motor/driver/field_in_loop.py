"""The driver with its whole field in the loop: the reference for the model in modes.

The non-linear field of the motor with its eddy currents, the coil's circuit at a voltage and the
moving mass, integrated in time together.  The coil is not in the mesh: as it moves, only its load
b(x) on the field changes.  With A the vector potential, reduced, and i, x, v:

    K A + S(A) + M dA/dt - magnets = b(x) i,      u = R i + d/dt [2 pi b(x) . A]
    m dv/dt + losses v + K(x) x - box = 2 pi i db/dx . A

Steps are implicit and of second order, with difference quotients of energy in place of gradients
(O. Gonzalez, Journal of Nonlinear Science 6, 1996, 449 to 467, from memory): the work of every
force over a step is the change of what it comes from, so the energy balance holds whatever the
step.  Steel runs as :mod:`motor.field.minor_loops` has it.
"""

from __future__ import annotations

import copy
import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import CubicSpline, PPoly

from motor.base.arrays import Floats
from motor.base.errors import SolveError
from motor.driver.parts import DriverSystem
from motor.driver.transient import Equations, Plain
from motor.field.eddy_currents import Harmonic
from motor.field.factor import Factor
from motor.field.minor_loops import on_minor_loops
from motor.field.newton import Solver
from motor.results.impedance import equations
from motor.results.loaded import winding_sense
from motor.results.parallel_parts import loads_at

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["SKIN_HARMONIC", "FieldLoop", "Loop", "LoopState", "field_loop", "march"]

PLACES = 65
"""Places of the coil whose loads are computed; between them run splines."""
SKIN_HARMONIC = 3
"""Multiple of a tone up to which skins are resolved."""
SKIN, AT_COIL = 1.0, 0.5
"""Fineness at surfaces in skin depths, and at the coil: see :mod:`motor.results.impedance`."""
GAUSS = ((0.5 - math.sqrt(0.15), 5 / 18), (0.5, 4 / 9), (0.5 + math.sqrt(0.15), 5 / 18))
"""Places within a step where steel is evaluated, and their weights."""
TIGHT, MOST_ROUNDS, SLOW = 1e-8, 60, 0.35
"""Relative change at which a step counts as solved, rounds to there, and the share of a change that
may be left by a round before the tangent is made anew."""
NEAR = 1e-10
"""Metres below which a difference quotient over the travel is a derivative."""


@dataclass(frozen=True)
class FieldLoop:
    """A motor's field, circuit and motion, ready to be stepped.

    Parameters
    ----------
    harmonic : Harmonic
        The equations of the field on their mesh, about the field at rest.
    rest : (n,) array
        The magnets' potential alone, reduced.
    loads : PPoly
        b(x) at the nodes ``active``, Wb per (Wb/m), over 2 pi.
    active : (k,) array
    system : DriverSystem
        Its inductance is not used.
    """

    harmonic: Harmonic
    rest: Floats
    loads: PPoly
    active: np.ndarray
    system: DriverSystem

    @functools.cached_property
    def slopes(self) -> PPoly:
        """db/dx."""
        return self.loads.derivative()

    def load(self, values: Floats) -> Floats:
        """Return values at the active nodes as a whole reduced vector."""
        return np.asarray(np.bincount(self.active, values, len(self.rest)), float)

    @functools.cached_property
    def spring(self) -> tuple[PPoly, PPoly]:
        """The suspension's force K(x) x in newton, and its energy in joule."""
        low, high = self.system.driver.known
        x = np.linspace(low, high, 401)
        force = CubicSpline(x, self.system.driver.k.value(x) * x)
        return force, force.antiderivative()

    def linear(self, a: Floats) -> Floats:
        """Return what is linear in the potential."""
        return np.asarray(self._linear @ a)

    @functools.cached_property
    def _linear(self):  # type: ignore[no-untyped-def]
        return self.harmonic.whole(self.harmonic.level.system.linear)

    @functools.cached_property
    def mass(self):  # type: ignore[no-untyped-def]
        """The conductivity's matrix."""
        return self.harmonic.mass

    def steel(self, a: Floats) -> Floats:
        """Return the steel's part of the field's equations."""
        system = self.harmonic.level.system
        return system.steel_force(system.steel_at(a))

    def agreed(self, a: Floats, x: float, i: float, h: float) -> Floats:
        """Return a potential near another that agrees with current and place within h seconds.

        One implicit step of first order: where nothing conducts the field follows at once, which
        the steps of second order take for granted.
        """
        system = copy.copy(self.harmonic.level.system)
        system.linear = system.linear + self.harmonic.mass_data / h
        pushed = self.load(i * self.loads(x)) + self.mass @ a / h
        return Solver(system).solve(a, extra_load=pushed, tolerance=1e-11).reduced

    def energy(self, a: Floats) -> float:
        """Return the field's energy above that at rest in joule, along a line, dense near rest."""
        x, w = np.polynomial.legendre.leggauss(16)
        way, root = a - self.rest, (1 + x) / 2
        steel = sum(w * root * [self.steel(self.rest + s**2 * way) @ way for s in root])
        linear = float((self.linear((a + self.rest) / 2) - self.harmonic.level.system.load) @ way)
        return 2 * math.pi * (steel + linear)


@dataclass
class LoopState:
    """Where the loop stands: potential (reduced), travel, speed, box pressure, port flow, SI.

    The current is a first guess for the next step.
    """

    a: Floats
    x: float = 0.0
    v: float = 0.0
    p: float = 0.0
    q: float = 0.0
    i: float = 0.0


@dataclass(frozen=True)
class Loop:
    """A run of the loop; arrays (n + 1,) at instants, (n,) over steps, SI.

    Parameters
    ----------
    time, displacement, velocity : array at instants
    current : array over steps
        Mean over each step, ampere.
    supplied, heat, eddy, friction : array over steps
        Joule in each step: from the source, in resistances, in the motor's conductors, in the
        suspension and the box's leaks.
    stored : float
        Change of the energy in field, mass, suspension and box from start to end, joule.
    end : LoopState
    rounds : int
        Of all steps together.
    """

    time: Floats
    displacement: Floats
    velocity: Floats
    current: Floats
    supplied: Floats
    heat: Floats
    eddy: Floats
    friction: Floats
    stored: float
    end: LoopState
    rounds: int

    @property
    def imbalance(self) -> float:
        """Supplied energy less that found elsewhere, over what went through."""
        return abs(self.left) / float(np.abs(self.supplied).sum())

    @property
    def left(self) -> float:
        """Supplied energy less that found elsewhere, joule."""
        found = self.heat.sum() + self.eddy.sum() + self.friction.sum() + self.stored
        return float(self.supplied.sum() - found)


def field_loop(
    result: MotorResult, system: DriverSystem, highest: float, share: float | None = None
) -> FieldLoop:
    """Return a motor's field in the loop of its driver.

    Parameters
    ----------
    result : MotorResult
    system : DriverSystem
    highest : float
        Hertz, up to which skins in steel are resolved.
    share : float or None
        Of minor loops in the linear field to start with; None for steel along its curve alone.
    """
    coil, about = result.design.coil, result.field.coarse
    low, high = result.bl_curve.x[[0, -1]]
    x = np.linspace(low, high, PLACES)
    harmonic = equations(result, about, x, highest, "slope", SKIN, AT_COIL)
    level = harmonic.level
    rest = level.solver.solve(level.solution.reduced, tolerance=1e-10).reduced
    if share is not None:
        harmonic = harmonic.with_share(share).at(on_minor_loops(level.system, rest))
    loads = winding_sense(result.field, coil) * loads_at(level, coil, x)
    active = np.flatnonzero(np.abs(loads).max(axis=1))
    return FieldLoop(harmonic, rest, CubicSpline(x, loads[active].T), active, system)


@dataclass
class _Stepper:
    """Steps of one length; holds the factors of a tangent."""

    loop: FieldLoop
    h: float
    rounds: int = 0
    last: Floats | None = None
    before: Floats | None = None
    factor: Factor = field(init=False)

    def __post_init__(self) -> None:
        system = self.loop.harmonic.level.system
        self.factor = Factor(system.indptr, system.indices)

    def renew(self, a: Floats, change: Floats | float = 0.0) -> None:
        """Make the tangent anew for a step from a potential by a change."""
        system = self.loop.harmonic.level.system
        steel = sum(w * s * system.steel_tangent(system.steel_at(a + s * change)) for s, w in GAUSS)
        whole = system.linear / 2 + steel + self.loop.harmonic.mass_data / self.h
        self.factor.update(whole)

    @functools.cached_property
    def plain(self) -> Plain:
        return Equations(self.loop.system).plain

    @functools.cached_property
    def stiff(self) -> float:
        """By what leaks and port divide the box's pressure in a step."""
        box, h = self.plain, self.h
        return 1 + h / 2 * box.soft * (box.leak + h / 2 * box.port)

    def pressure(self, state: LoopState, v: float) -> float:
        """Return the box's mean pressure over a step at a mean speed, Pa."""
        box = self.plain
        return (state.p - self.h / 2 * box.soft * (box.area * v + state.q)) / self.stiff

    def step(self, state: LoopState, u: float) -> tuple[LoopState, Floats]:
        """Return the next state, and energies: supplied, heat, eddy, friction."""
        loop, h, box = self.loop, self.h, self.plain
        magnets = loop.harmonic.level.system.load
        spring, potential = loop.spring
        b0, a0, i = loop.loads(state.x), state.a, state.i
        change = _ahead(self.last, self.before, a0)
        x1 = state.x + h * state.v
        still = loop.linear(a0) - magnets
        per_v = h / 2 * box.soft * box.area / self.stiff
        size, again = math.inf, False
        for _ in range(MOST_ROUNDS):
            self.rounds += 1
            way = x1 - state.x
            b1, slope1 = loop.loads(x1), loop.slopes(x1)
            middle = a0 + change / 2
            along = (b1 - b0) / way if abs(way) > NEAR else loop.slopes(state.x + way / 2)
            mean = (b0 + b1) / 2
            force_per_ampere = 2 * math.pi * float(along @ middle[loop.active])
            v_mean = way / h
            p_mean = self.pressure(state, v_mean)
            pull = (
                (potential(x1) - potential(state.x)) / way
                if abs(way) > NEAR
                else spring(state.x + way / 2)
            )
            steel = sum((w * loop.steel(a0 + s * change) for s, w in GAUSS), np.zeros(len(a0)))
            off = still + loop.linear(change) / 2 + steel + loop.mass @ change / h
            off[loop.active] -= i * mean
            linked = 2 * math.pi * (b1 @ (a0 + change)[loop.active] - b0 @ a0[loop.active])
            miss = linked - h * (u - box.resistance * i)
            inert = box.mass * 2 * (v_mean - state.v) / h + box.losses * v_mean + float(pull)
            inert -= box.area * p_mean + i * force_per_ampere
            solved = self.factor.solve(np.column_stack([-off, loop.load(mean)]))
            free, unit = solved[:, 0], solved[:, 1]
            # linkage: c_i di + c_x dx = -miss - 2 pi b1 . free; motion: m_i di + m_x dx = ...
            c_i = 2 * math.pi * float(b1 @ unit[loop.active]) + h * box.resistance
            c_x = 2 * math.pi * float(slope1 @ (a0 + change)[loop.active])
            m_x = 2 * box.mass / h**2 + (box.losses + box.area * per_v) / h
            m_x += float(spring.derivative()(x1)) / 2
            half = math.pi * i
            m_i = -force_per_ampere - half * float(along @ unit[loop.active])
            r_i = -miss - 2 * math.pi * float(b1 @ free[loop.active])
            r_x = -inert + half * float(along @ free[loop.active])
            whole = c_i * m_x - c_x * m_i
            di, dx = (r_i * m_x - c_x * r_x) / whole, (c_i * r_x - m_i * r_i) / whole
            step = free + di * unit
            change, i, x1 = change + step, i + di, x1 + dx
            before, size = size, float(np.abs(step).max())
            scale = float(np.abs(change).max()) + 1e-3 * float(np.abs(a0 - loop.rest).max())
            if size <= TIGHT * scale + 1e-16:
                break
            if size > before and not again:
                again, change, i, x1 = True, 0 * change, state.i, state.x + h * state.v
                self.renew(a0)
                size = math.inf
            elif size > SLOW * before:
                self.renew(a0, change)
        else:
            raise SolveError(f"a step of the field in time did not converge: {size / scale:.1e}")
        self.before, self.last = self.last, change
        way = x1 - state.x
        v_mean = way / h
        p_mean = self.pressure(state, v_mean)
        after = LoopState(
            a0 + change,
            x1,
            2 * v_mean - state.v,
            2 * p_mean - state.p,
            state.q + h * box.port * p_mean,
            i,
        )
        energies = np.array(
            [
                u * i * h,
                box.resistance * i**2 * h,
                2 * math.pi * float(change @ (loop.mass @ change)) / h,
                (box.losses * v_mean**2 + box.leak * p_mean**2) * h,
            ]
        )
        return after, energies


def _ahead(last: Floats | None, before: Floats | None, a: Floats) -> Floats:
    """Return the change of the potential that is to be expected."""
    if last is None:
        return np.zeros_like(a)
    return last if before is None else 2 * last - before


def march(
    loop: FieldLoop, state: LoopState, source: Callable[[float], float], h: float, count: int
) -> Loop:
    """Step through time from a state.

    Parameters
    ----------
    loop : FieldLoop
    state : LoopState
    source : callable
        Voltage in V over time in s from the start, clipped by the amplifier.
    h : float
        Step in s.
    count : int

    Raises
    ------
    SolveError
        If a step does not converge, or the coil leaves its known range.
    """
    stepper, system = _Stepper(loop, h), loop.system
    stepper.renew(state.a)
    low, high = system.driver.known
    box = stepper.plain

    def stored(at: LoopState) -> float:
        air = at.p**2 / box.soft / 2 if box.soft else 0.0
        air += at.q**2 / box.port / 2 if box.port else 0.0
        spring = float(loop.spring[1](at.x))
        return loop.energy(at.a) + box.mass * at.v**2 / 2 + spring + air

    start = stored(state)
    rows, energies, currents = [(state.x, state.v)], [], []
    clip = system.amplifier.clip
    for k in range(count):
        u = float(source((k + 0.5) * h))
        u = u if clip is None else min(clip, max(-clip, u))
        state, found = stepper.step(state, u)
        if not low < state.x < high:
            raise SolveError("the coil leaves the range over which Bl, K and L are known")
        rows.append((state.x, state.v))
        energies.append(found)
        currents.append(state.i)
    x, v = np.array(rows).T
    supplied, heat, eddy, friction = np.array(energies).T
    time = h * np.arange(count + 1.0)
    change = stored(state) - start
    current = np.array(currents)
    return Loop(time, x, v, current, supplied, heat, eddy, friction, change, state, stepper.rounds)
