"""Box and amplifier: what the driver is mounted in and what drives it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from geometries import InvalidInput
from motor.base.arrays import Complexes, Floats
from motor.base.ranges import check_ranges

__all__ = ["AIR_DENSITY", "SOUND_SPEED", "Amplifier", "Box"]

AIR_DENSITY = 1.2
"""kg/m^3; with 343 m/s it puts 100 % efficiency at 112.1 dB (1 W, 1 m, half space)."""
SOUND_SPEED = 343.0
"""m/s, dry air at 20 degC."""
LEAK_QUALITY = 7.0
"""Q of all losses of a vented box at its tuning, where none are given (Small 1973)."""

BEST_QUALITY = 1e6
"""Q of a vented box said to be tight: at its tuning the pressure would be without bounds."""

BOX_RANGES = {
    "volume": (1e-6, 1e3, "volume"),
    "tuning": (1.0, 1e3, "frequency"),
    "leak_corner": (0.0, 1e3, "frequency"),
    "port_area": (1e-6, 10.0, "area"),
}
AMPLIFIER_RANGES = {
    "output_resistance": (0.0, 1e8, "resistance"),  # up to a current source
    "clip": (1e-3, 1e4, "voltage"),
}


@dataclass(frozen=True, kw_only=True)
class Box:
    """A sealed box, or a vented one if it has a tuning.  No box at all is an infinite baffle.

    Air is an adiabatic linear spring.  Leaks are one acoustic resistance beside it, and their
    flow counts for the sound like the port's (Small 1972, 1973).

    Parameters
    ----------
    volume : float
        Net air volume, m^3.
    tuning : float or None
        Resonance of port and volume in Hz; None for a sealed box.
    leak_corner : float or None
        Frequency in Hz below which leaks let the pressure go, 1/(2 pi R C).  None: no leak for
        a sealed box, a seventh of the tuning for a vented one (Q_L = 7).
    port_area : float or None
        Section of the port in m^2, to tell the speed of its air.
    """

    volume: float = field(metadata={"doc": "net air volume", "quantity": "volume"})
    tuning: float | None = field(
        default=None, metadata={"doc": "of the port; sealed without", "quantity": "frequency"}
    )
    leak_corner: float | None = field(
        default=None,
        metadata={"doc": "below this leaks release the pressure", "quantity": "frequency"},
    )
    port_area: float | None = field(
        default=None, metadata={"doc": "section of the port", "quantity": "area"}
    )

    def __post_init__(self) -> None:
        check_ranges(self, BOX_RANGES)
        if self.port_area is not None and self.tuning is None:
            raise InvalidInput("port_area", "come with a tuning", self.port_area)

    @property
    def kind(self) -> str:
        """Either "sealed" or "vented"."""
        return "sealed" if self.tuning is None else "vented"

    @property
    def compliance(self) -> float:
        """Acoustic compliance V/(rho c^2) in m^5/N."""
        return self.volume / (AIR_DENSITY * SOUND_SPEED**2)

    @property
    def leak_conductance(self) -> float:
        """Inverse of the acoustic leak resistance, m^5/(N s)."""
        corner = self.leak_corner
        if corner is None:
            corner = 0.0 if self.tuning is None else self.tuning / LEAK_QUALITY
        if self.tuning is not None:
            corner = max(corner, self.tuning / BEST_QUALITY)
        return 2 * math.pi * corner * self.compliance

    @property
    def port_mass(self) -> float | None:
        """Acoustic mass of the port's air in kg/m^4; None for a sealed box."""
        if self.tuning is None:
            return None
        return 1 / ((2 * math.pi * self.tuning) ** 2 * self.compliance)

    def admittance(self, omega: Floats) -> Complexes:
        """Return volume flow into the box per pressure at angular frequencies above 0, rad/s."""
        s = 1j * np.asarray(omega, float)
        total = s * self.compliance + self.leak_conductance
        if self.port_mass is not None:
            total = total + 1 / (s * self.port_mass)
        return total

    def load(self, omega: Floats, area: float) -> Complexes:
        """Return the force by which the box resists per metre of cone travel, N/m.

        At 0 rad/s it is the spring of a tight sealed box, and 0 if the air can get out.
        """
        omega = np.asarray(omega, float)
        tight = self.tuning is None and self.leak_conductance == 0
        still = area**2 / self.compliance if tight else 0.0
        moving = np.where(omega > 0, omega, 1.0)
        found = 1j * moving * area**2 / self.admittance(moving)
        return np.where(omega > 0, found, still)

    def radiated(self, omega: Floats) -> Complexes:
        """Return outside volume flow (cone, port and leak) over the cone's, per frequency."""
        return 1j * np.asarray(omega, float) * self.compliance / self.admittance(omega)


@dataclass(frozen=True, kw_only=True)
class Amplifier:
    """A voltage source behind a resistance; the source clips hard and on both sides alike.

    Parameters
    ----------
    output_resistance : float
        With leads, ohm.
    clip : float or None
        Largest source voltage, peak, V; None for no limit.
    """

    output_resistance: float = field(
        default=0.0, metadata={"doc": "of amplifier and leads", "quantity": "resistance"}
    )
    clip: float | None = field(
        default=None, metadata={"doc": "largest peak voltage", "quantity": "voltage"}
    )

    def __post_init__(self) -> None:
        check_ranges(self, AMPLIFIER_RANGES)

    def source(self, wanted: Floats) -> Floats:
        """Return the source voltage when this voltage is wanted, both in V."""
        return wanted if self.clip is None else np.clip(wanted, -self.clip, self.clip)
