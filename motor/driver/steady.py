"""Steady motion under a sine or two tones, followed from small level upwards."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geometries import InvalidInput
from motor.base.arrays import Complexes, Floats
from motor.base.drawable import Drawable
from motor.design.enclosure import Amplifier
from motor.driver.drive import Drive, sine, two_tone_drive
from motor.driver.finding import Finding
from motor.driver.harmonic_balance import Balance, Basis, Found, to_phasors, to_real
from motor.driver.parts import DriverSystem
from motor.driver.small_signal import radiation

__all__ = ["Drive", "SteadyState", "follow", "sine", "steady_state", "two_tones"]

FEW, MANY = 12, 96
"""Harmonics of the base frequency: at first, and at most."""
TAIL = 1e-4
"""Harmonics are added until the last two are below this share of the largest in the current;
their sound is in proportion to their force, so distortion is known to about this share."""
SMALLEST_STEP = 2.0**-9
"""Level steps are halved down to this share before another branch is looked for."""
BISECTIONS = 9
SIDE_STEPS = (0.1, 0.3, 0.6, 1.0, 1.5)
"""Mean displacements tried for another branch, in shares of the travel's peak."""


@dataclass(frozen=True, eq=False)
class SteadyState(Drawable):
    """A periodic motion.  Phasors are peak values by multiple of the base frequency, [0] the mean.

    Parameters
    ----------
    system : DriverSystem
    drive : Drive
    voltage : float
        Of the source's first tone before clipping, V r.m.s.
    displacement : (n,) complex array
        m, positive outwards.
    current : (n,) complex array
        A.
    residual : float
        Of the equations, as a share of the drive.
    """

    system: DriverSystem
    drive: Drive
    voltage: float
    displacement: Complexes
    current: Complexes
    residual: float

    @property
    def frequency(self) -> Floats:
        """Frequency of each phasor, Hz."""
        return self.drive.frequency * np.arange(len(self.displacement), dtype=float)

    @functools.cached_property
    def travel(self) -> Floats:
        """Displacement over one period, m, evenly spaced samples."""
        basis = Basis.of(len(self.displacement) - 1)
        samples: Floats = basis.to_time @ to_real(self.displacement)
        return samples

    @property
    def shift(self) -> float:
        """Mean (DC) displacement, m."""
        return float(self.displacement[0].real)

    @property
    def inward(self) -> float:
        """Farthest travel inwards from rest, m, positive."""
        return -float(self.travel.min())

    @property
    def outward(self) -> float:
        """Farthest travel outwards from rest, m."""
        return float(self.travel.max())

    @property
    def peak(self) -> float:
        """The larger of both, m."""
        return max(self.inward, self.outward)

    @functools.cached_property
    def pressure(self) -> Complexes:
        """Sound pressure at 1 m in half space, Pa peak."""
        return radiation(self.system, 2 * math.pi * self.frequency) * self.displacement

    @property
    def fundamental(self) -> int:
        """Multiple of the base frequency that is the first tone."""
        return self.drive.tones[0][0]

    @property
    def level(self) -> float:
        """Level of the first tone's sound pressure at 1 m, dB."""
        pressure = abs(self.pressure[self.fundamental]) / math.sqrt(2)
        return 20 * math.log10(max(pressure, 1e-12) / 20e-6)

    def harmonic(self, order: int) -> float:
        """Return a harmonic of the first tone in the pressure, as a share of the total r.m.s."""
        place = order * self.fundamental
        found = abs(self.pressure[place]) if place < len(self.pressure) else 0.0
        return float(found / np.linalg.norm(self.pressure[1:]))

    @property
    def thd(self) -> float:
        """Total harmonic distortion of the sound pressure over its total r.m.s. (IEC 60268-5)."""
        every = self.pressure[self.fundamental :: self.fundamental]
        return float(np.linalg.norm(every[1:]) / np.linalg.norm(every))

    def modulation(self, order: int) -> float:
        """Return both side tones f2 ± (order - 1) f1 in the pressure, over the tone f2.

        Order 2 is the second, order 3 the third-order modulation distortion (IEC 60268-5).
        """
        if len(self.drive.tones) != 2:
            raise InvalidInput("drive", "have two tones for modulation", len(self.drive.tones))
        (low, _), (high, _) = self.drive.tones
        away = (order - 1) * low
        both = abs(self.pressure[high - away]) + abs(self.pressure[high + away])
        return float(both / abs(self.pressure[high]))

    @functools.cached_property
    def compression(self) -> float:
        """Level of the first tone less that of the linear, unclipped system, dB."""
        balance = Balance(self.system, self.drive.frequency, len(self.displacement) - 1)
        free = self.system.replace(amplifier=_unclipped(self.system))
        drive = self.drive.coefficients(free, self.voltage, len(self.displacement) - 1)
        linear = to_phasors(balance.linear(drive)[: balance.size])[self.fundamental]
        return 20 * math.log10(abs(self.displacement[self.fundamental]) / abs(linear))

    @property
    def coil_power(self) -> float:
        """Mean power turned into heat in the coil, W."""
        squares = self.current[0].real ** 2 + np.sum(np.abs(self.current[1:]) ** 2) / 2
        return float(squares * self.system.driver.resistance)

    @functools.cached_property
    def eddy_power(self) -> float:
        """Mean heat of eddy currents in steel and rings, W; 0 of an inductance without losses."""
        if self.system.driver.lossy is None:
            return 0.0
        balance = Balance(self.system, self.drive.frequency, len(self.displacement) - 1)
        y = np.concatenate([to_real(self.displacement), to_real(self.current)])
        return balance.eddy_power(y)

    @property
    def port_speed(self) -> float | None:
        """Largest speed of the port's air, m/s; None without a known port."""
        box = self.system.box
        if box is None or box.port_mass is None or box.port_area is None:
            return None
        s = 2j * math.pi * self.frequency[1:]
        flow = self.system.driver.area * s * self.displacement[1:]
        flow = -flow / box.admittance(2 * math.pi * self.frequency[1:]) / (s * box.port_mass)
        real = to_real(np.concatenate([[0j], flow]))
        return float(np.abs(Basis.of(len(flow)).to_time @ real).max()) / box.port_area


def _unclipped(system: DriverSystem) -> Amplifier:
    return Amplifier(output_resistance=system.amplifier.output_resistance)


class _Path:
    """One drive followed from rest to ever higher levels."""

    def __init__(self, system: DriverSystem, drive: Drive, harmonics: int) -> None:
        self.system, self.drive = system, drive
        self.balance = Balance(system, drive.frequency, harmonics)
        self.level = 0.0
        self.y = np.zeros(2 * self.balance.size)
        self.sign = self.balance.sign_at_rest()

    def source(self, voltage: float) -> Floats:
        return self.drive.coefficients(self.system, voltage, self.balance.basis.harmonics)

    def attempt(self, voltage: float) -> Found:
        """Newton at a level, from the present solution scaled up."""
        drive = self.source(voltage)
        start = self.balance.linear(drive) if self.level == 0 else self.y * (voltage / self.level)
        return self.balance.newton(start, drive)

    @staticmethod
    def through(state: SteadyState) -> _Path:
        """Return the path that has come as far as a state."""
        path = _Path(state.system, state.drive, len(state.displacement) - 1)
        path.level = state.voltage
        path.y = np.concatenate([to_real(state.displacement), to_real(state.current)])
        return path

    def stable(self, found: Found) -> bool:
        return found.converged and found.sign == self.sign

    def move(self, voltage: float, found: Found) -> None:
        self.level, self.y = voltage, found.unknowns

    def advance(self, voltage: float) -> float | None:
        """Go up to a level in ever smaller steps; None, or the level where the branch ends."""
        step = whole = voltage - self.level
        while self.level < voltage:
            target = min(voltage, self.level + step)
            found = self.attempt(target)
            if self.stable(found):
                self.move(target, found)
                step = min(2 * step, whole)
            elif step > SMALLEST_STEP * whole:
                step /= 2
            else:
                return target
        return None

    def other_branch(self, voltage: float) -> bool:
        """Look for a stable motion about another mean displacement; True if there is one."""
        drive, n = self.source(voltage), self.balance.size
        reach = float(np.abs(self.balance.basis.to_time @ self.y[:n]).max())
        starts = itertools.product(SIDE_STEPS, (1.0, -1.0))
        for share, side in ((0.0, 1.0), *starts):
            guess = self.y.copy()
            guess[0] += side * share * reach
            found = self.balance.newton(guess, drive)
            if self.stable(found):
                self.move(voltage, found)
                return True
        return False

    def refine(self) -> bool:
        """Double the harmonics if the last ones still matter; False if that failed."""
        n = self.balance.size
        current = np.abs(to_phasors(self.y[n:]))
        harmonics = self.balance.basis.harmonics
        if current[-2:].max() <= TAIL * current.max() or 2 * harmonics > MANY:
            return True
        finer = _Path.__new__(_Path)
        finer.system, finer.drive = self.system, self.drive
        finer.balance = Balance(self.system, self.drive.frequency, 2 * harmonics)
        m = finer.balance.size
        y = np.zeros(2 * m)
        y[:n], y[m : m + n] = self.y[:n], self.y[n:]
        found = finer.balance.newton(y, finer.source(self.level))
        finer.sign = finer.balance.sign_at_rest()
        if not finer.stable(found):
            return False
        self.balance, self.y, self.sign = finer.balance, found.unknowns, finer.sign
        return self.refine()

    def state(self) -> SteadyState:
        n = self.balance.size
        found = self.balance.residual(self.y, self.source(self.level))
        return SteadyState(
            self.system,
            self.drive,
            self.level,
            to_phasors(self.y[:n]),
            to_phasors(self.y[n:]),
            float(np.abs(found[:n]).max()) / max(math.sqrt(2) * self.level, 1e-12),
        )


def follow(
    system: DriverSystem, drive: Drive, voltages: Sequence[float], *, harmonics: int | None = None
) -> Iterator[tuple[SteadyState | None, list[Finding]]]:
    """Yield the steady state at each level, and what was found on the way there.

    Parameters
    ----------
    system : DriverSystem
    drive : Drive
    voltages : sequence of float
        Source levels of the first tone, V r.m.s., rising.
    harmonics : int or None
        Of the base frequency to start with; more are added where the last ones still matter.

    Yields
    ------
    state : SteadyState or None
        None where there is no steady motion within the range over which Bl, K and L are known.
    findings : list of Finding
        Jumps, passed limits and lost motions, each with the level where it starts.

    Notes
    -----
    A branch counts as stable while the determinant of the Jacobian keeps the sign it has at
    rest: folds and the growing of a mean displacement change it.  Motions that only repeat
    after several periods do not, and are seen in integration in time only.
    """
    system, levels = system.at_large_currents, list(map(float, voltages))
    if not levels or levels[0] <= 0 or not all(a < b for a, b in itertools.pairwise(levels)):
        raise InvalidInput("voltages", "rise from above 0 V", levels)
    top = max(multiple for multiple, _ in drive.tones)
    count = harmonics or (FEW if len(drive.tones) == 1 else top + 5 * drive.tones[0][0])
    path = _Path(system, drive, count)
    driver = system.driver
    low, high = driver.known
    limits: tuple[tuple[str, Callable[[SteadyState], bool]], ...] = (
        ("mechanical limit", lambda s: s.inward > driver.inward or s.outward > driver.outward),
        ("range", lambda s: -s.inward < low or s.outward > high),
    )
    passed: set[str] = set()
    lost = False
    for voltage in levels:
        findings: list[Finding] = []
        if lost:
            yield None, findings
            continue
        start = path.level
        end = path.advance(voltage)
        if end is not None:
            jumped = path.other_branch(voltage)
            findings.append(Finding.jump(drive, end, path.state() if jumped else None))
            lost = not jumped
        if not lost and not path.refine():
            findings.append(Finding.jump(drive, voltage, None))
            lost = True
        state = None if lost else path.state()
        for name, beyond in limits:
            if state is not None and name not in passed and beyond(state):
                passed.add(name)
                where = voltage if end is not None else _first(start, state, beyond)
                findings.append(Finding.passed(name, drive, where, state))
        if "range" in passed:
            state, lost = None, True
        yield state, findings


def _first(low: float, state: SteadyState, beyond: Callable[[SteadyState], bool]) -> float:
    """Return the level between ``low`` and a state's at which a limit is first passed."""
    path = _Path.through(state)
    high = state.voltage
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        found = path.attempt(middle) if middle > 0 else None
        if found is None or not path.stable(found):
            break
        path.move(middle, found)
        low, high = (low, middle) if beyond(path.state()) else (middle, high)
    return high


def onward(
    system: DriverSystem, drive: Drive, voltage: float, start: SteadyState | None = None
) -> tuple[SteadyState | None, bool]:
    """Follow the branch of a motion to another level, and no farther than it goes.

    Parameters
    ----------
    system : DriverSystem
    drive : Drive
    voltage : float
        Source level of the first tone, V r.m.s.
    start : SteadyState or None
        On the branch, at a lower level; None: rest.

    Returns
    -------
    state : SteadyState or None
        At the level, or at the last one at which the motion is stable; None if there is none.
    arrived : bool
    """
    path = _Path(system.at_large_currents, drive, FEW) if start is None else _Path.through(start)
    arrived = path.advance(voltage) is None
    if not path.level or not path.refine():
        return start, False
    return path.state(), arrived


def steady_state(
    system: DriverSystem, frequency: float, voltage: float, *, harmonics: int | None = None
) -> tuple[SteadyState | None, list[Finding]]:
    """Return the steady state under a sine (Hz, V r.m.s.) and the findings on the way to it."""
    return next(follow(system, sine(frequency), [voltage], harmonics=harmonics))


def two_tones(
    system: DriverSystem, low: float, high: float, voltage: float, ratio: float = 0.25
) -> tuple[SteadyState | None, list[Finding]]:
    """Return the steady state under two tones.

    Parameters
    ----------
    system : DriverSystem
    low, high : float
        Frequencies in Hz; the upper is moved to the nearest multiple of a quarter of the lower.
    voltage : float
        Of the lower tone, V r.m.s.
    ratio : float
        Voltage of the upper tone over the lower's; 1/4 is that of IEC 60268-5.
    """
    return next(follow(system, two_tone_drive(low, high, ratio), [voltage]))
