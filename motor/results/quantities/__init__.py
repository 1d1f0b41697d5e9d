"""The figures of a solved motor, one record each.

From this list come ``summary.json``, the table that is read, the columns of studies with their
words and units, what a target may ask for, derivatives, and the page's list of figures.  A new
figure is one more entry in the file of its section; ``motor/report/tables/remarks.py`` may add
a remark to its line.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from geometries import Region
from motor.base.quantity import COLUMN_UNITS, Quantity
from motor.results.quantities.band import BAND
from motor.results.quantities.building import ASSEMBLY, CENTRING
from motor.results.quantities.coil import COIL
from motor.results.quantities.coil_field import COIL_CURRENT, INDUCTANCE, TONE
from motor.results.quantities.force import FORCE
from motor.results.quantities.heat import HEAT
from motor.results.quantities.joints import (
    JOINTS,
    force_quantities,
    force_quantity,
    part_forces,
)
from motor.results.quantities.motor import MOTOR, STRAY_DISTANCE
from motor.results.quantities.stroke import STROKE
from motor.results.quantities.temperature import AT_TEMPERATURE

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = [
    "ASSEMBLY",
    "AT_TEMPERATURE",
    "CENTRING",
    "COIL_CURRENT",
    "HEAT",
    "INDUCTANCE",
    "QUANTITIES",
    "STRAY_DISTANCE",
    "TONE",
    "all_quantities",
    "column_words",
    "force_quantities",
    "motor_quantities",
    "part_forces",
    "quantity_of",
]

QUANTITIES: tuple[Quantity[MotorResult], ...] = (*FORCE, *BAND, *STROKE, *COIL, *MOTOR, *JOINTS)
"""In the order of summary and table."""


def motor_quantities() -> tuple[Quantity[MotorResult], ...]:
    """Return every figure that is read off a solved motor."""
    return QUANTITIES


def all_quantities() -> list[Quantity[Any]]:
    """Return every figure that a study may hold, those of the motor first."""
    sides = (q for side in AT_TEMPERATURE.values() for q in side)
    asked = (HEAT, CENTRING, ASSEMBLY, INDUCTANCE, COIL_CURRENT, TONE)
    return [*motor_quantities(), *sides, *(q for group in asked for q in group)]


def column_words(regions: Sequence[Region] = ()) -> dict[str, tuple[str, str]]:
    """Return what each column of a study's figures holds, and its unit, for its metadata.

    With a motor's regions, the forces on them and their joints too.
    """
    return {
        key: (f"{words}: {q.criterion}" if key == q.key and q.criterion else words, unit)
        for q in (*all_quantities(), *force_quantities(regions))
        for key, words in q.keys.items()
        for unit in [COLUMN_UNITS[q.unit].plain]
    }


def quantity_of(key: str) -> Quantity[Any] | None:
    """Return the figure of a name with its unit, or None."""
    return _by_key().get(key) or force_quantity(key)


@functools.cache
def _by_key() -> dict[str, Quantity[Any]]:
    return {q.key: q for q in reversed(all_quantities())}
