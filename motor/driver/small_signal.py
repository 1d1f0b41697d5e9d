"""Small-signal parameters, and impedance and response of the linear driver in its box."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from geometries import InvalidInput
from motor.base.arrays import Complexes, Floats
from motor.base.drawable import Drawable
from motor.design.enclosure import AIR_DENSITY, SOUND_SPEED
from motor.driver.parts import Driver, DriverSystem

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Response", "SmallSignal", "mechanical_load", "response", "small_signal"]

REFERENCE_PRESSURE = 20e-6
REFERENCE_VOLTAGE = 2.83
"""Volt r.m.s., 1 W into 8 ohm (IEC 60268-5)."""


@dataclass(frozen=True)
class SmallSignal:
    """Parameters of a driver at rest, in free air (Thiele 1971, Small 1972, IEC 60268-5).

    Parameters
    ----------
    fs : float
        Resonance, Hz.
    qms, qes, qts : float
        Mechanical, electrical and total Q at fs.
    vas : float
        Equivalent volume of the suspension, m^3.
    efficiency : float
        Reference efficiency in half space, a share.
    level_1w, level_283 : float
        Sound pressure level at 1 m in half space for 1 W in Re and for 2.83 V, dB.
    re, bl, mms, cms, rms, le, sd : float
        ohm, T m, kg, m/N, kg/s, H, m^2.
    """

    fs: float
    qms: float
    qes: float
    qts: float
    vas: float
    efficiency: float
    level_1w: float
    level_283: float
    re: float
    bl: float
    mms: float
    cms: float
    rms: float
    le: float
    sd: float

    @property
    def motor_constant(self) -> float:
        """Bl^2/Re in N^2/W."""
        return self.bl**2 / self.re

    @property
    def acceleration(self) -> float:
        """Force per ampere over moving mass, Bl/Mms, in m/s^2 per A.

        Called "fast", but above resonance it only sets how loud the driver is: the shape of its
        start is that of its frequency response, which Qts, box and inductance decide.  At equal
        voltage the figure is Bl/(Re Mms), and inductance delays the current, not the mass.
        """
        return self.bl / self.mms

    def rows(self) -> list[tuple[str, float, str]]:
        """Return symbol, value and unit of every parameter, in customary units."""
        return [
            ("fs", self.fs, "Hz"),
            ("Re", self.re, "ohm"),
            ("Le", self.le * 1e3, "mH"),
            ("Bl", self.bl, "T m"),
            ("Mms", self.mms * 1e3, "g"),
            ("Cms", self.cms * 1e3, "mm/N"),
            ("Rms", self.rms, "kg/s"),
            ("Sd", self.sd * 1e4, "cm²"),
            ("Qms", self.qms, ""),
            ("Qes", self.qes, ""),
            ("Qts", self.qts, ""),
            ("Vas", self.vas * 1e3, "l"),
            ("reference efficiency", self.efficiency * 100, "%"),
            ("level, 1 W 1 m", self.level_1w, "dB"),
            ("level, 2.83 V 1 m", self.level_283, "dB"),
            ("Bl²/Re", self.motor_constant, "N²/W"),
            ("Bl/Mms", self.acceleration, "m/s² per A"),
        ]


def small_signal(driver: Driver) -> SmallSignal:
    """Return the small-signal parameters at the coil's rest position."""
    re, bl, k = driver.resistance, driver.bl.at_rest, driver.k.at_rest
    mms, rms, sd = driver.mass, driver.mechanical_resistance, driver.area
    omega = math.sqrt(k / mms)
    qms, qes = omega * mms / rms, omega * mms * re / bl**2
    efficiency = AIR_DENSITY * (bl * sd) ** 2 / (2 * math.pi * SOUND_SPEED * re * mms**2)
    intensity = REFERENCE_PRESSURE**2 / (AIR_DENSITY * SOUND_SPEED)
    level = 10 * math.log10(efficiency / (2 * math.pi * intensity))
    return SmallSignal(
        fs=omega / (2 * math.pi),
        qms=qms,
        qes=qes,
        qts=qms * qes / (qms + qes),
        vas=AIR_DENSITY * SOUND_SPEED**2 * sd**2 / k,
        efficiency=efficiency,
        level_1w=level,
        level_283=level + 10 * math.log10(REFERENCE_VOLTAGE**2 / re),
        re=re,
        bl=bl,
        mms=mms,
        cms=1 / k,
        rms=rms,
        le=driver.le.at_rest,
        sd=sd,
    )


@dataclass(frozen=True)
class Response(Drawable):
    """Linear behaviour over frequency; phasors are of r.m.s. values.

    Parameters
    ----------
    frequency : (n,) array
        Hz.
    voltage : float
        Of the source, V r.m.s.
    impedance : (n,) complex array
        At the driver's terminals, ohm.
    displacement, current, pressure : (n,) complex array
        Cone travel in m, coil current in A, sound pressure at 1 m in half space in Pa.
    port_flow : (n,) complex array
        Volume flow out of the port, m^3/s; 0 without one.
    """

    frequency: Floats
    voltage: float
    impedance: Complexes
    displacement: Complexes
    current: Complexes
    pressure: Complexes
    port_flow: Complexes

    @property
    def level(self) -> Floats:
        """Sound pressure level at 1 m in dB."""
        return level_of(np.abs(self.pressure))

    def plot_impedance(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the impedance's magnitude over frequency."""
        return self.plot(ax, what="impedance", **options)


def level_of(pressure: Floats) -> Floats:
    """Return the level in dB of r.m.s. pressures in Pa."""
    result: Floats = 20 * np.log10(np.maximum(pressure, 1e-12) / REFERENCE_PRESSURE)
    return result


def mechanical_load(system: DriverSystem, omega: Floats) -> Complexes:
    """Return mass, losses and box as force per travel in N/m; the suspension is left out."""
    driver, omega = system.driver, np.asarray(omega, float)
    load = -(omega**2) * driver.mass + 1j * omega * driver.mechanical_resistance
    if system.box is not None:
        load = load + system.box.load(omega, driver.area)
    return load


def radiation(system: DriverSystem, omega: Floats) -> Complexes:
    """Return sound pressure at 1 m in half space per cone travel, Pa/m.

    Small source: rho times volume acceleration over 2 pi times the distance.
    """
    omega = np.asarray(omega, float)
    flow = AIR_DENSITY * system.driver.area / (2 * math.pi) * -(omega**2)
    if system.box is None:
        return flow.astype(complex)
    return np.where(omega > 0, flow * system.box.radiated(np.where(omega > 0, omega, 1.0)), 0.0)


def response(
    system: DriverSystem, frequency: ArrayLike, voltage: float = REFERENCE_VOLTAGE
) -> Response:
    """Return the linear behaviour at frequencies in Hz (all above 0), from a voltage in V r.m.s."""
    f = np.atleast_1d(np.asarray(frequency, float))
    if not (np.isfinite(f).all() and (f > 0).all()):
        raise InvalidInput("frequency", "be greater than 0 Hz", f.min())
    driver, omega = system.driver, 2 * math.pi * f
    bl, box = driver.bl.at_rest, system.box
    load = mechanical_load(system, omega) + driver.k.at_rest
    inductive = 1j * omega * driver.le.at_rest
    if driver.lossy is not None:
        inductive = driver.lossy.impedance(omega)
    impedance = driver.resistance + inductive + 1j * omega * bl**2 / load
    current = voltage / (impedance + system.amplifier.output_resistance)
    travel = bl * current / load
    port = np.zeros_like(travel)
    if box is not None and box.port_mass is not None:
        inside = -driver.area * 1j * omega * travel / box.admittance(omega)
        port = inside / (1j * omega * box.port_mass)
    return Response(f, voltage, impedance, travel, current, radiation(system, omega) * travel, port)
