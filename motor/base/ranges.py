"""Ranges of quantities: what is refused as it is read, with field, limit and value in their unit.

The ranges are wide: they keep out slips of unit and powers of ten, not unusual designs (common
practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.base.units import format_quantity

__all__ = ["check_number", "check_ranges"]


def check_number(name: str, value: object, low: float, high: float, kind: str | None) -> None:
    """Raise InvalidInput unless a value is a number between two limits, ends included.

    Parameters
    ----------
    name : str
    value : object
    low, high : float
        In the SI unit of the kind.
    kind : str or None
        A key of ``motor.base.units.UNITS``; None for a plain number.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidInput(name, "be a number in SI units" if kind else "be a number", repr(value))
    if low <= value <= high:
        return
    shown = [_text(v, kind) for v in (low, high, value)]
    if math.isinf(high):
        raise InvalidInput(name, f"be at least {shown[0]}", shown[2])
    raise InvalidInput(name, f"be between {shown[0]} and {shown[1]}", shown[2])


def check_ranges(record: object, ranges: Mapping[str, tuple[float, float, str | None]]) -> None:
    """Check the fields of a record that are named; those that are None are left out."""
    for name, (low, high, kind) in ranges.items():
        value = getattr(record, name)
        if value is not None:
            check_number(name, value, low, high, kind)


def _text(value: float, kind: str | None) -> str:
    if kind is None:
        return f"{value:.6g}"
    if kind == "temperature":
        return f"{value - ZERO_CELSIUS:.6g} degC"
    if value and not 1e-200 < abs(value) < 1e200:
        return f"{value:.6g} in its SI unit"
    return format_quantity(float(f"{value:.6g}"), kind)
