"""The driver as the equations see it, and how it comes out of a solved motor."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from geometries import InvalidInput
from motor.design.characteristic import Characteristic, Table, as_characteristic
from motor.design.enclosure import Amplifier, Box
from motor.driver.lossy import LossyInductance, Loud

if TYPE_CHECKING:
    from motor.results.bl import BlCurve
    from motor.results.coil_model import LoudModes, Modes
    from motor.results.motor_result import MotorResult
    from motor.results.saturation import Saturation

__all__ = ["Driver", "DriverSystem", "bl_table", "driver_of", "field_inductance"]

SOURCES = ("given", "computed", "none")
"""Where a driver's inductance comes from."""
FEW = 1e-2
"""Relative error of inductance and losses that the choice of few modes may add."""


@dataclass(frozen=True, kw_only=True)
class Driver:
    """Lumped parameters of a moving-coil driver, as far as they depend on displacement.

    Symbols as in IEC 60268-5 and Small 1972.

    Parameters
    ----------
    resistance : float
        Re, ohm.
    force_factor : Characteristic or float
        Bl(x), T m.
    mass : float
        Mms with air load, kg.
    stiffness : Characteristic or float
        K(x), N/m; the force is K(x) x.
    mechanical_resistance : float
        Rms, kg/s.
    area : float
        Sd, m^2.
    inductance : LossyInductance, Characteristic or float
        With losses, or L(x) in H without; 0 for none.
    inward, outward : float
        Mechanical limits of the travel either way, metres; infinite if there are none.
    name : str
    inductance_source : str
        "given", "computed" (from the motor's field) or "none"; follows ``inductance`` unless it
        is "computed".
    """

    resistance: float
    force_factor: Characteristic | float
    mass: float
    stiffness: Characteristic | float
    mechanical_resistance: float
    area: float
    inductance: LossyInductance | Characteristic | float = 0.0
    inward: float = math.inf
    outward: float = math.inf
    name: str = "driver"
    inductance_source: str = "given"

    def __post_init__(self) -> None:
        for name in ("resistance", "mass", "mechanical_resistance", "area"):
            value = getattr(self, name)
            if not (isinstance(value, int | float) and math.isfinite(value) and value > 0):
                raise InvalidInput(name, "be greater than 0", value)
        for name in ("inward", "outward"):
            if not getattr(self, name) > 0:
                raise InvalidInput(name, "be greater than 0", getattr(self, name))
        for name in ("force_factor", "stiffness"):
            object.__setattr__(self, name, as_characteristic(getattr(self, name)))
        if not isinstance(self.inductance, LossyInductance):
            object.__setattr__(self, "inductance", as_characteristic(self.inductance))
        self._set_source()
        self.k.demand_positive("stiffness")
        self.le.demand_positive("inductance", zero=self.le.is_constant)
        if not self.bl.at_rest > 0:
            raise InvalidInput("force_factor", "be greater than 0 at rest", self.bl.at_rest)

    def _set_source(self) -> None:
        if self.inductance_source not in SOURCES:
            raise InvalidInput(
                "inductance_source", f"be one of {', '.join(SOURCES)}", self.inductance_source
            )
        source = "given" if self.inductance_source == "none" else self.inductance_source
        if self.le.is_constant and self.le.at_rest == 0:
            source = "none"
        object.__setattr__(self, "inductance_source", source)

    @property
    def bl(self) -> Characteristic:
        """Bl(x) in T m."""
        return as_characteristic(self.force_factor)

    @property
    def k(self) -> Characteristic:
        """K(x) in N/m."""
        return as_characteristic(self.stiffness)

    @property
    def lossy(self) -> LossyInductance | None:
        """The inductance with its losses; None if it has none."""
        return self.inductance if isinstance(self.inductance, LossyInductance) else None

    @property
    def le(self) -> Characteristic:
        """L(x) in H; of a lossy inductance that at LE_FREQUENCY."""
        lossy = self.lossy
        return as_characteristic(self.inductance if lossy is None else lossy.characteristic)  # type: ignore[arg-type]

    @property
    def instant(self) -> Characteristic:
        """What of L(x) follows the current at once, H: all of it where there are no losses."""
        lossy = self.lossy
        return self.le if lossy is None else lossy.instantaneous

    @property
    def known(self) -> tuple[float, float]:
        """Range of x in metres over which Bl, K and L are all known."""
        parts = (self.bl, self.k, self.le)
        return max(p.low for p in parts), min(p.high for p in parts)

    def replace(self, **changes: Any) -> Driver:
        """Return the driver with some fields changed."""
        return dataclasses.replace(self, **changes)

    @property
    def at_large_currents(self) -> Driver:
        """The driver whose inductance is what large currents meet."""
        lossy = self.lossy
        if lossy is None or lossy.loud is None:
            return self
        return self.replace(inductance=lossy.loud.inductance)

    def linear(self, *, keep: str = "") -> Driver:
        """Return the driver with Bl, K and L held at rest, except the one named in ``keep``."""
        names = {"force_factor": self.bl, "stiffness": self.k, "inductance": self.lossy or self.le}
        if keep and keep not in names:
            raise InvalidInput("keep", f"be one of {', '.join(names)}", repr(keep))
        return self.replace(**{n: c.frozen() for n, c in names.items() if n != keep})


@dataclass(frozen=True, kw_only=True)
class DriverSystem:
    """A driver in its box on its amplifier.

    Parameters
    ----------
    driver : Driver
    box : Box or None
        None for an infinite baffle.
    amplifier : Amplifier
    """

    driver: Driver
    box: Box | None = None
    amplifier: Amplifier = field(default_factory=Amplifier)

    @property
    def resistance(self) -> float:
        """Resistance of coil and amplifier in series, ohm."""
        return self.driver.resistance + self.amplifier.output_resistance

    @property
    def at_large_currents(self) -> DriverSystem:
        """The system whose driver's inductance is what large currents meet."""
        driver = self.driver.at_large_currents
        return self if driver is self.driver else self.replace(driver=driver)

    def replace(self, **changes: Any) -> DriverSystem:
        """Return the system with some fields changed."""
        return dataclasses.replace(self, **changes)


def bl_table(curve: BlCurve) -> Table:
    """Return a computed Bl(x) as a table in metres and T m."""
    return Table(tuple(curve.x.tolist()), tuple(curve.bl.tolist()))


def field_inductance(
    result: MotorResult, *, saturates: bool = True, permeability: str = "reversible"
) -> LossyInductance:
    """Return the inductance of a motor's coil with its losses, from its field; takes seconds.

    Parameters
    ----------
    result : MotorResult
    saturates : bool
        Whether the steel's saturation by the coil's own current is part of it.
    permeability : str
        See :func:`motor.results.impedance.blocked_impedance`.
    """
    from motor.results.coil_model import coil_modes, loud_modes
    from motor.results.saturation import saturation

    law = saturation(result) if saturates else None
    found = lossy_of(coil_modes(result, permeability), law)
    if permeability != "reversible":
        return found
    return dataclasses.replace(found, loud=loud_of(loud_modes(result), law))


def lossy_of(modes: Modes, law: Saturation | None = None) -> LossyInductance:
    """Return a coil's field in modes as the driver takes it, in few of them."""
    times, coupling, rest = modes.fewer(FEW)
    return LossyInductance(modes.position, rest, times, coupling, law)


def loud_of(model: LoudModes, law: Saturation | None = None) -> Loud:
    """Return a coil's field in modes at large currents as the driver takes it."""
    found = (lossy_of(modes, law) for modes in (model.modes, model.curve))
    return Loud(model.current, model.frequency, model.share, *found)


def driver_of(result: MotorResult, *, compute: bool = False, saturates: bool = True) -> Driver:
    """Return the driver of a solved motor and the moving parts of its design.

    Coil resistance, coil and former mass, Bl(x) and the mechanical limits come from the motor.

    Parameters
    ----------
    result : MotorResult
    compute : bool
        True to compute the inductance from the field if the design gives none: see
        :func:`field_inductance`; otherwise the driver then has none, and says so in
        ``inductance_source``.
    saturates : bool
        Whether what is computed holds the steel's saturation by the coil's current.

    Raises
    ------
    InvalidInput
        If moving parts, area or mechanical losses are missing, or if a table of K(x) or L(x)
        does not cover the usable stroke.
    """
    design = result.design
    parts, mass = design.moving_parts, result.moving_mass
    if parts is None or mass is None:
        raise InvalidInput("design", "have a section [moving_parts] for its driver", "none")
    for name in ("area", "mechanical_resistance"):
        if getattr(parts, name) is None:
            raise InvalidInput(name, "be given for the driver", "nothing", "moving_parts")
    stroke = result.usable_stroke.value
    stiffness = as_characteristic(parts.stiffness)
    computed = compute and parts.inductance is None
    inductance = (
        field_inductance(result, saturates=saturates)
        if computed
        else as_characteristic(parts.inductance or 0.0)
    )
    stiffness.demand("stiffness table", -stroke, stroke)
    if not isinstance(inductance, LossyInductance):
        inductance.demand("inductance table", -stroke, stroke)
    travel = result.travel
    assert parts.area is not None
    assert parts.mechanical_resistance is not None
    return Driver(
        resistance=result.resistance,
        force_factor=bl_table(result.bl_curve),
        mass=mass,
        stiffness=stiffness,
        mechanical_resistance=parts.mechanical_resistance,
        area=parts.area,
        inductance=inductance,
        inward=max(travel.inward, 1e-6),
        outward=max(travel.outward, 1e-6),
        name=design.name,
        inductance_source="computed" if computed else "given",
    )
