r"""Coil heat: two bodies, coil and motor, each with a capacity and a way out.

::

    heat of eddy currents -------------------+
    heat of the coil -> [coil] --coil_to_motor-- [motor] --motor_to_air-- ambient
                           \--------coil_to_air-----------------------------/

The motor gives its heat off through its own envelope and the basket, the coil a smaller part
straight to the air that the cone pumps past it.  Where inductance and eddy currents are known,
they take their share of a programme's voltage, and what eddy currents lose warms the motor.

Values come from heat in the motor's section (:mod:`motor.results.heat_network`).  Drivers of 130 mm
effective diameter have 5 to 8 K/W from coil to ambient (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from geometries import InvalidInput, Role
from motor.base.arrays import Complexes, Floats
from motor.base.constants import ZERO_CELSIUS
from motor.base.drawable import Drawable
from motor.driver.lossy import LossyInductance
from motor.materials import REFERENCE_TEMPERATURE, conductor_named
from motor.results.heat_model import HeatModel, Settled
from motor.results.heat_network import two_bodies
from motor.results.heat_settled import thermal_model
from motor.results.spectrum import programme_spectrum

if TYPE_CHECKING:
    from motor.results.heat import Warmth
    from motor.results.motor_result import MotorResult

__all__ = [
    "Blocked",
    "Heating",
    "ThermalNetwork",
    "Warm",
    "network_at",
    "network_of",
    "with_inductance",
]

WIRE_CLASS = 155.0
"""degC: thermal class of common enamelled wire (class F, from memory)."""
CHARRED = 300.0
"""degC beyond which no winding wire or adhesive is left: nothing is computed there."""


@dataclass(frozen=True)
class Warm:
    """Steady warmth under a constant programme voltage.

    Parameters
    ----------
    coil, motor : float
        Temperatures, K.
    power, motor_power : float
        Heat in the warm coil, and of eddy currents in the motor, W.
    nominal_power : float
        Heat that the same voltage would give in the cold coil, W.
    compression : float
        Change of level from the warm coil's resistance where the mass rules, dB, 0 or less.
    caution : str
        Empty unless the coil passes the wire's class or the motor its magnet's working range.
    """

    coil: float
    motor: float
    power: float
    motor_power: float
    nominal_power: float
    compression: float
    caution: str


@dataclass(frozen=True)
class Heating(Drawable):
    """Temperatures over time: (n,) arrays of s and K."""

    time: Floats
    coil: Floats
    motor: Floats


@dataclass(frozen=True, eq=False)
class Blocked:
    """What a held coil has beside its resistance, over a programme's spectrum.

    Parameters
    ----------
    share : (n,) array
        Of the programme's mean square voltage; sums to 1.
    impedance : (n,) complex array
        ohm; the real part is what eddy currents add.
    in_coil : (n,) array
        What of that is lost in the coil itself, by currents between parts in parallel, ohm.
    """

    share: Floats
    impedance: Complexes
    in_coil: Floats


RESISTANCE_ALONE = Blocked(np.ones(1), np.zeros(1, complex), np.zeros(1))


@dataclass(frozen=True, kw_only=True)
class ThermalNetwork:
    """Capacities, resistances and the coil's electrical resistance.

    Parameters
    ----------
    coil_capacity, motor_capacity : float
        J/K.
    coil_to_motor, motor_to_air : float
        K/W.
    coil_to_air : float
        K/W, past the motor; infinite if there is no such way.
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
    magnet_limit, magnet_curie : float
        Highest working and lowest Curie temperature of the magnets, K; infinite if unknown.
    blocked : Blocked
        Nothing, unless told: all the voltage is at the coil's resistance.
    """

    coil_capacity: float
    motor_capacity: float
    coil_to_motor: float
    motor_to_air: float
    resistance: float
    coefficient: float = 0.00393
    output_resistance: float = 0.0
    ambient: float = REFERENCE_TEMPERATURE
    wire_class: float = ZERO_CELSIUS + WIRE_CLASS
    coil_to_air: float = math.inf
    magnet_limit: float = math.inf
    magnet_curie: float = math.inf
    blocked: Blocked = RESISTANCE_ALONE

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
        if not self.coil_to_air > 0:
            raise InvalidInput("coil_to_air", "be greater than 0", self.coil_to_air)
        if not self.output_resistance >= 0:
            raise InvalidInput("output_resistance", "be 0 or more", self.output_resistance)
        if not 200 < self.ambient < self.wire_class:
            raise InvalidInput("ambient", "lie between 200 K and the wire's class", self.ambient)

    def resistance_at(self, temperature: float) -> float:
        """Return the coil's resistance in ohm at a temperature in K."""
        rise = temperature - REFERENCE_TEMPERATURE
        return self.resistance * max(1 + self.coefficient * rise, 0.05)

    def heats(self, voltage: float, temperature: float) -> tuple[float, float]:
        """Return the heat in coil and motor in W from a programme's r.m.s. voltage.

        The motional impedance is left out: the programme is taken to lie away from resonance.
        """
        r, beside, own = self.resistance_at(temperature), self.blocked, self.blocked.in_coil
        whole = np.abs(r + self.output_resistance + beside.impedance)
        squares = beside.share * (voltage / whole) ** 2
        return float(squares @ (r + own)), float(squares @ (beside.impedance.real - own))

    def rises(self, coil: float, motor: float) -> tuple[float, float]:
        """Return where coil and motor settle above ambient, K, under lasting heat in each, W."""
        across, out, past = 1 / self.coil_to_motor, 1 / self.motor_to_air, 1 / self.coil_to_air
        whole = (across + past) * (across + out) - across**2
        hot = (coil * (across + out) + motor * across) / whole
        return hot, (coil * across + motor * (across + past)) / whole

    @property
    def coil_to_ambient(self) -> float:
        """Steady rise of the coil above ambient over its heat, K/W."""
        return self.rises(1.0, 0.0)[0]

    def steady(self, voltage: float) -> Warm:
        """Return where temperatures settle under a programme voltage in V r.m.s.

        Raises
        ------
        InvalidInput
            If the coil would pass CHARRED, or the motor its magnets' Curie temperature.
        """
        if not (math.isfinite(voltage) and voltage >= 0):
            raise InvalidInput("voltage", "be 0 or more", voltage)

        def excess(t: float) -> float:
            return self.rises(*self.heats(voltage, t))[0] - (t - self.ambient)

        hottest = self.ambient + 1.0
        while excess(hottest) > 0:
            hottest = self.ambient + 2 * (hottest - self.ambient)
        coil = self.ambient if voltage == 0 else float(brentq(excess, self.ambient, hottest))
        heats, nominal = self.heats(voltage, coil), self.nominal_power(voltage)
        motor = self.ambient + self.rises(*heats)[1]
        self._bearable(coil, motor, nominal)
        ratio = (self.resistance_at(self.ambient) + self.output_resistance) / (
            self.resistance_at(coil) + self.output_resistance
        )
        return Warm(
            coil,
            motor,
            *heats,
            nominal,
            20 * math.log10(ratio),
            self.caution(coil, motor),
        )

    def _bearable(self, coil: float, motor: float, power: float) -> None:
        """Refuse temperatures at which nothing that is computed here exists any more."""
        most = self.nominal_power(self.largest_voltage())
        if coil > ZERO_CELSIUS + CHARRED:
            raise InvalidInput(
                "power",
                f"keep the coil below {CHARRED:.0f} degC, where enamel and adhesive are gone "
                f"({most:.3g} W bring it to its wire's class)",
                f"{power:.4g} W",
            )
        if motor >= self.magnet_curie:
            raise InvalidInput(
                "power",
                f"keep the motor below {self.magnet_curie - ZERO_CELSIUS:.0f} degC, the Curie "
                f"temperature of its magnets ({most:.3g} W bring the coil to its wire's class)",
                f"{power:.4g} W",
            )

    def caution(self, coil: float, motor: float) -> str:
        """Return a caution if coil or motor, temperatures in K, pass what they are rated for."""
        found = []
        if coil > self.wire_class:
            found.append(
                f"at {coil - ZERO_CELSIUS:.0f} degC the coil passes its wire's class of "
                f"{self.wire_class - ZERO_CELSIUS:.0f} degC; enamel and adhesive char, and a "
                "hot coil burns"
            )
        if motor > self.magnet_limit:
            found.append(
                f"at {motor - ZERO_CELSIUS:.0f} degC the motor passes its magnets' working "
                "temperature of "
                f"{self.magnet_limit - ZERO_CELSIUS:.0f} degC; what they lose does not come back"
            )
        return "caution: " + "; ".join(found) if found else ""

    def nominal_voltage(self, power: float) -> float:
        """Return the r.m.s. voltage of the source that gives a power in W in the cold coil."""
        if not (math.isfinite(power) and power >= 0):
            raise InvalidInput("power", "be 0 or more", power)
        cold = self.resistance
        return math.sqrt(power / cold) * (cold + self.output_resistance)

    def nominal_power(self, voltage: float) -> float:
        """Return the heat in W that a source voltage in V r.m.s. gives in the cold coil."""
        return self.resistance * (voltage / (self.resistance + self.output_resistance)) ** 2

    def largest_voltage(self) -> float:
        """Return the steady programme voltage in V r.m.s. that brings the coil to its class."""
        rise = self.rises(*self.heats(1.0, self.wire_class))[0]
        return math.sqrt((self.wire_class - self.ambient) / rise)

    def warm_up(self, voltage: float, times: ArrayLike) -> Heating:
        """Return temperatures at times in s after a programme voltage was switched on, cold."""
        times = np.asarray(times, float)
        if len(times) < 2 or times[0] < 0 or not (np.diff(times) > 0).all():
            raise InvalidInput("times", "rise from 0 s or later", times[:3])

        def rates(_: float, y: Floats) -> tuple[float, float]:
            coil, motor = float(y[0]), float(y[1])
            across = (coil - motor) / self.coil_to_motor
            out = (motor - self.ambient) / self.motor_to_air
            heat, eddy = self.heats(voltage, coil)
            past = (coil - self.ambient) / self.coil_to_air
            left = heat - across - past
            return left / self.coil_capacity, (across + eddy - out) / self.motor_capacity

        start = (self.ambient, self.ambient)
        done = solve_ivp(
            rates, (0, times[-1]), start, method="LSODA", t_eval=times, rtol=1e-7, atol=1e-5
        )
        self._bearable(float(done.y[0].max()), float(done.y[1].max()), self.nominal_power(voltage))
        return Heating(done.t, done.y[0], done.y[1])


def network_of(
    result: MotorResult,
    *,
    output_resistance: float = 0.0,
    wire_class: float | None = None,
    power: float = 10.0,
    inductance: LossyInductance | None = None,
) -> ThermalNetwork:
    """Return the thermal network of a solved motor: what heat in its section amounts to.

    Measured values of the design's section [heat] take the place of computed ones.  Eddy currents
    take part where that section includes them, or where the coil's inductance is given.

    Parameters
    ----------
    result : MotorResult
    output_resistance : float
        ohm.
    wire_class : float or None
        K; None for the design's.
    power : float
        Programme power in W at which the network is exact once settled.
    inductance : LossyInductance or None
        As computed for the driver, at rest; of noise between the design's frequencies.
    """
    model, settled = thermal_model(result, power)
    return network_at(
        model,
        settled,
        output_resistance=output_resistance,
        wire_class=wire_class,
        inductance=inductance,
    )


def network_at(
    model: HeatModel,
    settled: Settled,
    *,
    output_resistance: float = 0.0,
    wire_class: float | None = None,
    inductance: LossyInductance | None = None,
) -> ThermalNetwork:
    """Return the thermal network about a settled state; see :func:`network_of`."""
    design, coil = model.design, model.design.coil
    bodies, blocked = two_bodies(model, settled), RESISTANCE_ALONE
    if model.eddy is not None:
        blocked = Blocked(model.eddy.share, model.eddy.impedance, model.eddy.sharing)
    elif inductance is not None:
        rules = design.heat
        noise = programme_spectrum(rules.lowest_frequency, rules.highest_frequency)
        found = inductance.impedance(2 * math.pi * noise.frequency)
        blocked = Blocked(noise.share, found, 0 * found.real)
    grades = [
        design.materials.magnet_of(region.name)
        for region in design.regions
        if region.role is Role.MAGNET
    ]
    return ThermalNetwork(
        coil_capacity=bodies.coil_capacity,
        motor_capacity=bodies.motor_capacity,
        coil_to_motor=bodies.coil_to_motor,
        motor_to_air=bodies.motor_to_air,
        resistance=coil.resistance(REFERENCE_TEMPERATURE),
        coefficient=conductor_named(coil.wire.material).temperature_coefficient,
        output_resistance=output_resistance,
        ambient=model.ambient,
        wire_class=design.heat.wire_class if wire_class is None else wire_class,
        coil_to_air=bodies.coil_to_air,
        magnet_limit=min(grade.hottest for grade in grades),
        magnet_curie=min(grade.curie for grade in grades),
        blocked=blocked,
    )


def with_inductance(warmth: Warmth, inductance: LossyInductance | None) -> Warm | None:
    """Return where two bodies settle if the coil's inductance takes its share of the voltage.

    None without one, or where eddy currents are part of the settled state already.
    """
    model = warmth.model
    if inductance is None or model.eddy is not None:
        return None
    output = model.output_resistance
    network = network_at(model, warmth.settled, output_resistance=output, inductance=inductance)
    return network.steady(model.voltage(warmth.power))
