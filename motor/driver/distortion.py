"""Distortion over frequency and level, the clean stroke, and the loudest clean sound."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from geometries import InvalidInput
from motor.base.arrays import Floats
from motor.base.drawable import Drawable
from motor.design.enclosure import Amplifier
from motor.driver.drive import Drive
from motor.driver.finding import Finding
from motor.driver.parts import DriverSystem
from motor.driver.small_signal import small_signal
from motor.driver.steady import SteadyState, follow, onward, sine, steady_state

if TYPE_CHECKING:
    from motor.driver.thermal_network import ThermalNetwork

__all__ = ["CleanLimit", "CleanLimits", "DistortionMap", "clean_limits", "clean_stroke"]
__all__ += ["distortion_map"]

CAUSES = {"force_factor": "Bl", "stiffness": "suspension", "inductance": "inductance"}
FIRST_VOLTAGE, LARGEST_VOLTAGE = 0.4, 400.0
"""V r.m.s.: where the search for a limit starts and where it gives up."""
GROWTH = 1.4
SEARCH_STEPS = 14


@dataclass(frozen=True)
class DistortionMap(Drawable):
    """Steady states over frequency and level.

    Parameters
    ----------
    frequency : (n,) array
        Hz.
    voltage : (m,) array
        V r.m.s.
    states : (n) tuple of (m) tuples of SteadyState or None
        None where there is no steady motion within the known range; a finding says from where.
    findings : tuple of Finding
    """

    frequency: Floats
    voltage: Floats
    states: tuple[tuple[SteadyState | None, ...], ...]
    findings: tuple[Finding, ...]

    def at_level(self, index: int) -> list[SteadyState]:
        """Return the states there are at a level, by its index, over frequency."""
        return [state for row in self.states if (state := row[index]) is not None]

    def fastest_port(self, index: int) -> SteadyState | None:
        """Return the state at a level whose port moves fastest; None without a known port."""
        known = [s for s in self.at_level(index) if s.port_speed is not None]
        return max(known, key=lambda s: s.port_speed or 0.0, default=None)

    def table(self, what: Callable[[SteadyState], float]) -> Any:
        """Return a figure of every state as an (n, m) masked array, masked where there is none."""
        shape = len(self.frequency), len(self.voltage)
        values = np.ma.MaskedArray(np.zeros(shape), mask=np.ones(shape, bool))
        for i, row in enumerate(self.states):
            for j, state in enumerate(row):
                if state is not None:
                    values[i, j] = what(state)
        return values


def distortion_map(system: DriverSystem, frequency: ArrayLike, voltage: ArrayLike) -> DistortionMap:
    """Return the steady states at frequencies (Hz) and source voltages (V r.m.s., rising)."""
    f, u = np.asarray(frequency, float), np.asarray(voltage, float)
    rows, findings = [], []
    for tone in f:
        row = []
        for state, found in follow(system, sine(float(tone)), u.tolist()):
            row.append(state)
            findings += found
        rows.append(tuple(row))
    return DistortionMap(f, u, tuple(rows), tuple(findings))


@dataclass(frozen=True)
class CleanLimit:
    """The loudest clean sine at one frequency.

    Parameters
    ----------
    frequency : float
        Hz.
    voltage : float
        Source voltage, V r.m.s.
    level : float
        Sound pressure level at 1 m in half space, dB.
    peak : float
        Travel, m.
    limited_by : str
        "Bl", "suspension" or "inductance" (whichever alone gives most of the distortion),
        "mechanical limit", "amplifier" (clip), "coil heat", "range", or "stability".
    """

    frequency: float
    voltage: float
    level: float
    peak: float
    limited_by: str


@dataclass(frozen=True)
class CleanLimits(Drawable):
    """Loudest clean sound over frequency, and the distortion that counts as clean (a share)."""

    limits: tuple[CleanLimit, ...]
    distortion: float
    name: str = ""

    @property
    def frequency(self) -> Floats:
        """Hz."""
        return np.array([limit.frequency for limit in self.limits])

    @property
    def level(self) -> Floats:
        """Sound pressure level at 1 m in half space, dB."""
        return np.array([limit.level for limit in self.limits])


def clean_limits(
    system: DriverSystem,
    frequency: ArrayLike,
    *,
    distortion: float = 0.1,
    heat: ThermalNetwork | None = None,
) -> CleanLimits:
    """Return the loudest clean sine at each frequency, and what limits it.

    Parameters
    ----------
    system : DriverSystem
    frequency : (n,) array
        Hz.
    distortion : float
        Largest total harmonic distortion of the pressure, a share; 10 % by default.
    heat : ThermalNetwork or None
        To respect the wire's class under a lasting sine, whose heat is reckoned in the cold coil.
    """
    if not 0 < distortion < 1:
        raise InvalidInput("distortion", "be a share between 0 and 1", distortion)
    found = tuple(_limit(system, float(f), distortion, heat) for f in np.asarray(frequency, float))
    return CleanLimits(found, distortion, system.driver.name)


def _limit(
    system: DriverSystem, frequency: float, distortion: float, heat: ThermalNetwork | None
) -> CleanLimit:
    """Raise the level until something is passed, then close in on that level."""
    passed = functools.partial(_passed, system, distortion, heat)
    good, why = _closed_in(system, sine(frequency), passed)
    if good is None:
        return CleanLimit(frequency, 0.0, -math.inf, 0.0, why)
    if why == "distortion":
        why = main_cause(system, frequency, good.voltage)
    return CleanLimit(frequency, good.voltage, good.level, good.peak, why or "amplifier")


def _passed(
    system: DriverSystem, distortion: float, heat: ThermalNetwork | None, state: SteadyState
) -> str:
    """Return the limit that a state has passed, "" for none."""
    driver = system.driver
    if -state.inward < driver.known[0] or state.outward > driver.known[1]:
        return "range"
    if state.thd > distortion:
        return "distortion"
    if state.inward > driver.inward or state.outward > driver.outward:
        return "mechanical limit"
    # the cold coil's heat: a warm one takes less from the same voltage, so this is careful
    if heat is None:
        return ""
    rise = heat.rises(state.coil_power, state.eddy_power)[0]
    return "coil heat" if rise > heat.wire_class - heat.ambient else ""


def _closed_in(
    system: DriverSystem, drive: Drive, passed: Callable[[SteadyState], str]
) -> tuple[SteadyState | None, str]:
    """Return the highest state that passes nothing, and what the next one would pass."""
    good, low, high, why = _risen(system, drive, passed)
    for _ in range(SEARCH_STEPS):
        if high - low < 1e-3 * high:
            break
        middle = (low + high) / 2
        state, arrived = onward(system, drive, middle, good)
        reason = passed(state) if arrived and state is not None else "" if arrived else "stability"
        if reason:
            high, why = middle, reason
        else:
            good, low = state, middle
    return good, why


def _risen(
    system: DriverSystem, drive: Drive, passed: Callable[[SteadyState], str]
) -> tuple[SteadyState | None, float, float, str]:
    """Return the last state on the way up that passes nothing, its voltage, the next, and why."""
    clip = system.amplifier.clip
    top = LARGEST_VOLTAGE if clip is None else clip / math.sqrt(2)
    levels = [FIRST_VOLTAGE]
    while levels[-1] * GROWTH < top:
        levels.append(levels[-1] * GROWTH)
    good: SteadyState | None = None
    low, high = 0.0, 0.0
    for level in [*levels, top]:
        state, arrived = onward(system, drive, level, good)
        why = "stability" if state is None else passed(state)
        high = level if state is None else state.voltage
        if not why:
            good, low = state, high
        if why or not arrived:
            return good, low, high, why or "stability"
    return good, low, high, ""


def main_cause(system: DriverSystem, frequency: float, voltage: float) -> str:
    """Return which of Bl, suspension and inductance alone distorts most at a level."""
    worst: dict[str, float] = {}
    for field, name in CAUSES.items():
        alone = system.replace(driver=system.driver.linear(keep=field))
        state, _ = steady_state(alone, frequency, voltage)
        worst[name] = math.inf if state is None else state.thd
    return max(worst, key=lambda name: worst[name])


def clean_stroke(
    system: DriverSystem, *, distortion: float = 0.1, frequency: float | None = None
) -> CleanLimit:
    """Return the travel before a distortion is reached, at resonance unless told otherwise.

    The amplifier's clip does not count.
    """
    tone = small_signal(system.driver).fs if frequency is None else frequency
    free = Amplifier(output_resistance=system.amplifier.output_resistance)
    return _limit(system.replace(amplifier=free), tone, distortion, None)
