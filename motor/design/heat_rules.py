"""Section [heat] of a design: where the driver is mounted, what it bears, how it sheds heat."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass, field

from geometries import InvalidInput
from motor.base.constants import ZERO_CELSIUS

__all__ = ["HeatRules"]


@dataclass(frozen=True, kw_only=True)
class HeatRules:
    """What the thermal model of a driver needs beside motor and coil.

    Parameters
    ----------
    power : float or None
        Lasting programme that studies reckon with, W in the coil at 20 degC; None for no heat.
    duration : float or None
        How long the programme plays from cold, s; None for until temperatures settle.
    programme : str
        "noise" (lasting) or "bursts" (a minute each, two minutes apart, ten times).
    ambient : float or None
        Of the air around the driver, K; None for the design's temperature.
    axis : str
        "horizontal" (in a wall or door) or "vertical" (cone upwards).
    wire_class : float
        Temperature that the wire's enamel bears for long, K.
    coil_adhesive, joint_adhesive : float
        The same of what bonds the winding, and of what bonds the magnets, K.
    joint_thickness : float
        Of the bond between magnet and steel, m; 0 for none.
    displacement : float or None
        R.m.s. travel that the heat is averaged over, m; None for a quarter of the usable stroke.
    ferrofluid : str
        "none" or "filled": both sides of the coil within the gap.
    ferrofluid_limit : float
        Temperature that the fluid bears for long, K.
    air_coefficient : float
        From all faces of the winding to the air that the cone moves past them, W/(m^2 K).
    vent_coefficient : float
        From a vent's wall to the air that the dust cap moves through it, W/(m^2 K).
    eddy_currents : str
        "left out", which is on the safe side for the coil, or "included": their heat in steel,
        magnets and rings, and what they and the inductance take off the coil's current.
    lowest_frequency, highest_frequency : float
        Of the programme, Hz, for eddy currents; equal for a sine.
    basket : float or None
        From motor through the basket to the air, K/W; None to reckon it by the radiating area.
    emissivity : float or None
        Of all outer surfaces; None for the materials' own.
    coil_to_motor, motor_to_air, coil_to_air : float or None
        Measured resistances in K/W that the computed ways are scaled to.
    coil_capacity, motor_capacity : float or None
        Measured capacities in J/K, likewise.
    """

    power: float | None = field(
        default=None,
        metadata={"doc": "lasting programme that studies reckon with", "quantity": "power"},
    )
    duration: float | None = field(
        default=None,
        metadata={"doc": "how long it plays from cold; settled without", "quantity": "time"},
    )
    programme: str = field(
        default="noise",
        metadata={"doc": "what plays for that long", "options": ("noise", "bursts")},
    )
    ambient: float | None = field(
        default=None,
        metadata={"doc": "of the air; the design's temperature without", "quantity": "temperature"},
    )
    axis: str = field(
        default="horizontal",
        metadata={"doc": "how the driver is mounted", "options": ("horizontal", "vertical")},
    )
    wire_class: float = field(
        default=ZERO_CELSIUS + 155,
        metadata={"doc": "thermal class of the wire (IEC 60085)", "quantity": "temperature"},
    )
    coil_adhesive: float = field(
        default=ZERO_CELSIUS + 180,
        metadata={"doc": "what the winding's bond bears", "quantity": "temperature"},
    )
    joint_adhesive: float = field(
        default=ZERO_CELSIUS + 150,
        metadata={"doc": "what the magnets' bond bears", "quantity": "temperature"},
    )
    joint_thickness: float = field(
        default=0.05e-3, metadata={"doc": "of the magnets' bond", "quantity": "length"}
    )
    displacement: float | None = field(
        default=None,
        metadata={"doc": "r.m.s.; a quarter of the usable stroke without", "quantity": "length"},
    )
    ferrofluid: str = field(
        default="none",
        metadata={"doc": "in the gap, on both sides of the coil", "options": ("none", "filled")},
    )
    ferrofluid_limit: float = field(
        default=ZERO_CELSIUS + 120,
        metadata={"doc": "what the fluid bears", "quantity": "temperature"},
    )
    air_coefficient: float = field(
        default=15.0,
        metadata={"doc": "winding to the air moved past it", "quantity": "heat_transfer"},
    )
    eddy_currents: str = field(
        default="left out",
        metadata={"doc": "their heat in the parts", "options": ("left out", "included")},
    )
    lowest_frequency: float = field(
        default=20.0, metadata={"doc": "of the programme", "quantity": "frequency"}
    )
    highest_frequency: float = field(
        default=20e3, metadata={"doc": "of the programme", "quantity": "frequency"}
    )
    vent_coefficient: float = field(
        default=10.0,
        metadata={"doc": "a vent's wall to the air moved through it", "quantity": "heat_transfer"},
    )
    basket: float | None = field(
        default=None,
        metadata={"doc": "motor to air; from the area without", "quantity": "heat_resistance"},
    )
    emissivity: float | None = field(
        default=None, metadata={"doc": "of all outer surfaces", "quantity": "number"}
    )
    coil_to_motor: float | None = field(
        default=None, metadata={"doc": "measured", "quantity": "heat_resistance"}
    )
    motor_to_air: float | None = field(
        default=None, metadata={"doc": "measured", "quantity": "heat_resistance"}
    )
    coil_to_air: float | None = field(
        default=None, metadata={"doc": "measured", "quantity": "heat_resistance"}
    )
    coil_capacity: float | None = field(
        default=None, metadata={"doc": "measured", "quantity": "heat_capacity"}
    )
    motor_capacity: float | None = field(
        default=None, metadata={"doc": "measured", "quantity": "heat_capacity"}
    )

    def __post_init__(self) -> None:
        for item in dataclasses.fields(self):
            value = getattr(self, item.name)
            options = item.metadata.get("options")
            if options and value not in options:
                raise InvalidInput(item.name, f"be {' or '.join(options)}", repr(value))
            if options or value is None:
                continue
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise InvalidInput(item.name, "be a number in SI units", repr(value))
            zero = item.name in ("joint_thickness", "displacement") or "coefficient" in item.name
            if not math.isfinite(value) or value < 0 or (value == 0 and not zero):
                limit = "be 0 or more" if zero else "be greater than 0"
                raise InvalidInput(item.name, limit, value)
        low, high = self.lowest_frequency, self.highest_frequency
        if not 20.0 <= low <= high <= 20e3:
            limit = "lie between the lowest frequency, 20 Hz or more, and 20 kHz"
            raise InvalidInput("highest_frequency", limit, f"{high:g} Hz over {low:g} Hz")
        if self.ambient is not None and not 200 < self.ambient < self.wire_class:
            degrees = f"{self.ambient - ZERO_CELSIUS:.4g} degC"
            raise InvalidInput("ambient", "lie between -73 degC and the wire's class", degrees)
        if self.emissivity is not None and not self.emissivity <= 1:
            raise InvalidInput("emissivity", "be at most 1", self.emissivity)
