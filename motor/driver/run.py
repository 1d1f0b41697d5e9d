"""One driver through the usual tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from motor.base.drawable import DrawablePage
from motor.base.steps import step
from motor.design.enclosure import Amplifier
from motor.driver.distortion import CleanLimits, DistortionMap, clean_limits, distortion_map
from motor.driver.field_in_loop import SKIN_HARMONIC, FieldLoop, field_loop
from motor.driver.parts import DriverSystem, driver_of
from motor.driver.small_signal import Response, response
from motor.driver.steady import SteadyState, steady_state
from motor.driver.within_period import corrected

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["DriverRun", "SteelBand", "run_driver", "steel_band", "system_of"]

FREQUENCIES = np.geomspace(20.0, 200.0, 31)
CLEAN_FREQUENCIES = np.geomspace(20.0, 200.0, 13)
RESPONSE_AT = np.geomspace(10.0, 20e3, 301)
"""Hz; far above some 100 Hz the cone breaks up, and the level is that of a piston still."""
SHARES = (0.125, 0.25, 0.5, 0.75, 1.0)
"""Levels of the map over the highest."""


BAND_AT = (50.0, 100.0, 200.0)
"""Hertz at which distortion is told for both ends of what the steel may do."""
MORE, BESIDE, UNTOLD = 1.3, 5e-3, 4.5
"""Distortion of the field in time at most, over the larger end of that, and beside it: the ten
tones of three motors of ``studies/driver_against_field.md``, on which both were set, lie within.
The third in place of the first where it is not known what steel does within the period."""


@dataclass(frozen=True)
class SteelBand:
    """What the steel's minor loops leave open of the distortion at one tone; shares, SI.

    Parameters
    ----------
    frequency, voltage : float
    thd : float
        Of the model.
    loops, curve : float
        With steel as permeable as at small currents, and along its magnetising curve.
    within : float or None
        With what steel does within the period, see :mod:`motor.driver.within_period`; None where
        that is not known.
    """

    frequency: float
    voltage: float
    thd: float
    loops: float
    curve: float
    within: float | None = None

    @property
    def most(self) -> float:
        """What the field in time may have: loops and skins that open and saturate in a period."""
        more = UNTOLD if self.within is None else MORE
        return more * max(self.thd, self.loops, self.curve, self.within or 0.0) + BESIDE

    @property
    def best(self) -> float:
        """With what steel does within the period, where that is known."""
        return self.thd if self.within is None else self.within

    @property
    def uncertainty(self) -> float:
        """How far the farther of ``most`` and both ends is from the best."""
        return max(self.most - self.best, self.best - self.loops, self.best - self.curve)


@dataclass(frozen=True)
class DriverRun(DrawablePage):
    """Response, distortion map and clean limits of one system; band of the steel at its level."""

    response: Response
    map: DistortionMap
    clean: CleanLimits
    band: tuple[SteelBand, ...] = ()


def system_of(
    result: MotorResult, *, compute: bool = False, saturates: bool = True
) -> DriverSystem:
    """Return the system that a solved design describes: moving parts, box and amplifier.

    ``compute`` and ``saturates`` as for :func:`motor.driver.parts.driver_of`.
    """
    design = result.design
    return DriverSystem(
        driver=driver_of(result, compute=compute, saturates=saturates),
        box=design.box,
        amplifier=design.amplifier or Amplifier(),
    )


def run_driver(
    system: DriverSystem, voltage: float, result: MotorResult | None = None
) -> DriverRun:
    """Return the usual tests up to a source level in V r.m.s.; ``result`` as for the band."""
    levels = voltage * np.array(SHARES)
    with step("linear response"):
        linear = response(system, RESPONSE_AT)
    with step(f"distortion of {len(FREQUENCIES)} tones at {len(levels)} levels"):
        found = distortion_map(system, FREQUENCIES, levels)
    with step(f"loudest clean level of {len(CLEAN_FREQUENCIES)} tones"):
        clean = clean_limits(system, CLEAN_FREQUENCIES)
    return DriverRun(linear, found, clean, steel_band(system, voltage, result=result))


def steel_band(
    system: DriverSystem,
    voltage: float,
    frequencies: Sequence[float] = BAND_AT,
    *,
    result: MotorResult | None = None,
) -> tuple[SteelBand, ...]:
    """Return what steel leaves open at frequencies in Hz and a level in V r.m.s.

    Empty where the inductance does not know, and without tones that have no steady motion.  What
    steel does within the period needs the motor, and a second a tone.
    """
    lossy = system.driver.lossy
    if lossy is None or lossy.loud is None:
        return ()
    found = []
    ends = [replace(lossy, loud=None), lossy.loud.curve]
    systems = [system, *(system.replace(driver=system.driver.replace(inductance=e)) for e in ends)]
    loop = None
    if result is not None:
        with step("field for what steel does within a period"):
            loop = field_loop(result, system, SKIN_HARMONIC * max(frequencies), lossy.loud.share)
    for frequency in frequencies:
        states = [steady_state(one, frequency, voltage)[0] for one in systems]
        thd = [state.thd for state in states if state is not None]
        if len(thd) == len(states):
            more = None if loop is None else within_period(loop, system, frequency, voltage)
            model, loops, curve = thd
            told = None if more is None else more.thd
            found.append(SteelBand(frequency, voltage, model, loops, curve, told))
    return tuple(found)


def within_period(
    loop: FieldLoop, system: DriverSystem, frequency: float, voltage: float
) -> SteadyState | None:
    """Return the motion under a tone with what steel does in its period, where that is found."""
    driver = system.at_large_currents.driver
    if driver.lossy is None:
        return None
    plain = driver.replace(inductance=driver.lossy.unsaturated())
    state, _ = steady_state(system.replace(driver=plain), frequency, voltage)
    return None if state is None else corrected(loop, state)
