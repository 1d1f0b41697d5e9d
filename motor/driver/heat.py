"""Coil heat: two bodies, coil and motor, each with a capacity and a way out.

::

    power in the coil -> [coil] --coil_to_motor-- [motor] --motor_to_air-- ambient
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from geometries import InvalidInput, polygon, solid_bounds
from motor.base.arrays import Floats
from motor.base.drawn import Drawn
from motor.materials import REFERENCE_TEMPERATURE, conductor_named

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["Heating", "ThermalNetwork", "Warm", "network_of"]

COIL_COEFFICIENT = 90.0
"""W/(m^2 K) from both faces of the winding to the motor (common practice, no source)."""
MOTOR_COEFFICIENT = 8.0
"""W/(m^2 K) from the motor's envelope to the air (common practice, no source)."""
VOLUME_CAPACITY = {"copper": 3.42e6, "aluminium": 2.42e6}
"""J/(m^3 K): 385 J/(kg K) and 897 J/(kg K) (from memory)."""
MOTOR_CAPACITY = 460.0
"""J/(kg K) of steel and magnet together (from memory)."""
WIRE_CLASS = 155.0
"""degC: thermal class of common enamelled wire (class F, from memory)."""
ZERO = 273.15


@dataclass(frozen=True)
class Warm:
    """Steady warmth under a constant programme voltage.

    Parameters
    ----------
    coil, motor : float
        Temperatures, K.
    power : float
        Heat in the warm coil, W.
    nominal_power : float
        Heat that the same voltage would give in the cold coil, W.
    compression : float
        Change of level from the warm coil's resistance where the mass rules, dB, 0 or less.
    caution : str
        Empty unless the coil passes the wire's class.
    """

    coil: float
    motor: float
    power: float
    nominal_power: float
    compression: float
    caution: str


@dataclass(frozen=True)
class Heating(Drawn):
    """Temperatures over time: (n,) arrays of s and K."""

    time: Floats
    coil: Floats
    motor: Floats


@dataclass(frozen=True, kw_only=True)
class ThermalNetwork:
    """Capacities, resistances and the coil's electrical resistance.

    Parameters
    ----------
    coil_capacity, motor_capacity : float
        J/K.
    coil_to_motor, motor_to_air : float
        K/W.
    resistance : float
        Of the coil at 20 degC, ohm.
    coefficient : float
        Relative change of the resistance per kelvin.
    output_resistance : float
        Of amplifier and leads, ohm; stays cold.
    ambient : float
        K.
    wire_class : float
        Temperature that the wire's enamel bears for long, K.
    """

    coil_capacity: float
    motor_capacity: float
    coil_to_motor: float
    motor_to_air: float
    resistance: float
    coefficient: float = 0.00393
    output_resistance: float = 0.0
    ambient: float = REFERENCE_TEMPERATURE
    wire_class: float = ZERO + WIRE_CLASS

    def __post_init__(self) -> None:
        for name in (
            "coil_capacity",
            "motor_capacity",
            "coil_to_motor",
            "motor_to_air",
            "resistance",
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise InvalidInput(name, "be greater than 0", value)
        if not self.output_resistance >= 0:
            raise InvalidInput("output_resistance", "be 0 or more", self.output_resistance)
        if not 200 < self.ambient < self.wire_class:
            raise InvalidInput("ambient", "lie between 200 K and the wire's class", self.ambient)

    def resistance_at(self, temperature: float) -> float:
        """Return the coil's resistance in ohm at a temperature in K."""
        rise = temperature - REFERENCE_TEMPERATURE
        return self.resistance * max(1 + self.coefficient * rise, 0.05)

    def power(self, voltage: float, temperature: float) -> float:
        """Return the heat in W from a programme's r.m.s. voltage into the coil's resistance.

        The motional impedance is left out: the programme is taken to lie away from resonance.
        """
        r = self.resistance_at(temperature)
        return r * (voltage / (r + self.output_resistance)) ** 2

    def steady(self, voltage: float) -> Warm:
        """Return where temperatures settle under a programme voltage in V r.m.s."""
        from scipy.optimize import brentq

        if not (math.isfinite(voltage) and voltage >= 0):
            raise InvalidInput("voltage", "be 0 or more", voltage)
        way = self.coil_to_motor + self.motor_to_air

        def excess(t: float) -> float:
            return self.power(voltage, t) * way - (t - self.ambient)

        cold = self.power(voltage, REFERENCE_TEMPERATURE)
        hottest = self.ambient + 1.0
        while excess(hottest) > 0:
            hottest = self.ambient + 2 * (hottest - self.ambient)
        coil = self.ambient if voltage == 0 else float(brentq(excess, self.ambient, hottest))
        power = self.power(voltage, coil)
        ratio = (self.resistance_at(self.ambient) + self.output_resistance) / (
            self.resistance_at(coil) + self.output_resistance
        )
        return Warm(
            coil,
            self.ambient + power * self.motor_to_air,
            power,
            cold,
            20 * math.log10(ratio),
            self.caution(coil),
        )

    def caution(self, coil: float) -> str:
        """Return a caution if a coil temperature in K passes the wire's class."""
        if coil <= self.wire_class:
            return ""
        return (
            f"caution: at {coil - ZERO:.0f} degC the coil passes its wire's class of "
            f"{self.wire_class - ZERO:.0f} degC; enamel and adhesive char, and a hot coil burns"
        )

    def nominal_voltage(self, power: float) -> float:
        """Return the r.m.s. voltage of the source that gives a power in W in the cold coil."""
        if not (math.isfinite(power) and power >= 0):
            raise InvalidInput("power", "be 0 or more", power)
        cold = self.resistance
        return math.sqrt(power / cold) * (cold + self.output_resistance)

    def largest_voltage(self) -> float:
        """Return the steady programme voltage in V r.m.s. that brings the coil to its class."""
        power = (self.wire_class - self.ambient) / (self.coil_to_motor + self.motor_to_air)
        r = self.resistance_at(self.wire_class)
        return math.sqrt(power / r) * (r + self.output_resistance)

    def warm_up(self, voltage: float, times: ArrayLike) -> Heating:
        """Return temperatures at times in s after a programme voltage was switched on, cold."""
        from scipy.integrate import solve_ivp

        times = np.asarray(times, float)
        if len(times) < 2 or times[0] < 0 or not (np.diff(times) > 0).all():
            raise InvalidInput("times", "rise from 0 s or later", times[:3])

        def rates(_: float, y: Floats) -> tuple[float, float]:
            coil, motor = float(y[0]), float(y[1])
            across = (coil - motor) / self.coil_to_motor
            out = (motor - self.ambient) / self.motor_to_air
            heat = self.power(voltage, coil)
            return (heat - across) / self.coil_capacity, (across - out) / self.motor_capacity

        start = (self.ambient, self.ambient)
        done = solve_ivp(
            rates, (0, times[-1]), start, method="LSODA", t_eval=times, rtol=1e-7, atol=1e-5
        )
        return Heating(done.t, done.y[0], done.y[1])


def network_of(
    result: MotorResult, *, output_resistance: float = 0.0, wire_class: float = ZERO + WIRE_CLASS
) -> ThermalNetwork:
    """Return the thermal network of a solved motor, with the default constants of this module.

    Parameters
    ----------
    result : MotorResult
    output_resistance : float
        ohm.
    wire_class : float
        K.
    """
    coil, regions = result.design.coil, result.design.regions
    conductor = conductor_named(coil.wire.material)
    copper, aluminium = conductor_named("copper"), conductor_named("aluminium")
    share = (conductor.density - aluminium.density) / (copper.density - aluminium.density)
    per_volume = VOLUME_CAPACITY["aluminium"] + min(max(share, 0.0), 1.0) * (
        VOLUME_CAPACITY["copper"] - VOLUME_CAPACITY["aluminium"]
    )
    faces = 4 * math.pi * coil.mean_radius * coil.winding_height
    bounds = [solid_bounds(polygon(region)) for region in regions]
    radius = max(b[2] for b in bounds)
    height = max(b[3] for b in bounds) - min(b[1] for b in bounds)
    envelope = 2 * math.pi * radius * (radius + height)
    return ThermalNetwork(
        coil_capacity=per_volume * coil.mass / conductor.density,
        motor_capacity=MOTOR_CAPACITY * result.mass_of(),
        coil_to_motor=1 / (COIL_COEFFICIENT * faces),
        motor_to_air=1 / (MOTOR_COEFFICIENT * envelope),
        resistance=coil.resistance(REFERENCE_TEMPERATURE),
        coefficient=conductor.temperature_coefficient,
        output_resistance=output_resistance,
        wire_class=wire_class,
    )
