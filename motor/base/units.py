"""Quantities with units: text such as "8 mm" or "-40 degC" to SI floats and back."""

from __future__ import annotations

import functools
import math
import re
from typing import Any

from geometries.errors import InvalidInput

__all__ = ["UNITS", "format_quantity", "parse_quantity", "parse_share"]

UNITS = {
    "length": ("m", "mm"),
    "acceleration": ("m/s**2", "m/s**2"),
    "acceleration_density": ("m**2/s**3", "m**2/s**3"),
    "force": ("N", "N"),
    "stress": ("Pa", "MPa"),
    "angle": ("rad", "deg"),
    "temperature": ("kelvin", "degC"),
    "mass": ("kg", "g"),
    "area": ("m**2", "cm**2"),
    "stiffness": ("N/m", "N/mm"),
    "mechanical_resistance": ("kg/s", "kg/s"),
    "current": ("A", "A"),
    "flux": ("Wb", "mWb"),
    "resistance": ("ohm", "ohm"),
    "flux_density": ("T", "T"),
    "field_strength": ("A/m", "kA/m"),
    "density": ("kg/m**3", "kg/m**3"),
    "conductivity": ("S/m", "S/m"),
    "force_factor": ("T*m", "T*m"),
    "motor_constant": ("N**2/W", "N**2/W"),
    "per_kelvin": ("1/K", "%/K"),
    "per_kelvin_squared": ("1/K**2", "%/K**2"),
    "inductance": ("H", "mH"),
    "voltage": ("V", "V"),
    "frequency": ("Hz", "Hz"),
    "volume": ("m**3", "litre"),
    "power": ("W", "W"),
    "time": ("s", "h"),
    "heat_transfer": ("W/m**2/K", "W/m**2/K"),
    "heat_resistance": ("K/W", "K/W"),
    "heat_capacity": ("J/K", "J/K"),
    "share": ("dimensionless", "%"),
}
"""For each kind of quantity: its SI unit and the unit in which files are written."""

COMMON = {
    ("length", "mm"): (1e-3, 0.0),
    ("length", "m"): (1.0, 0.0),
    ("length", "cm"): (1e-2, 0.0),
    ("temperature", "degC"): (1.0, 273.15),
    ("temperature", "kelvin"): (1.0, 0.0),
    ("mass", "g"): (1e-3, 0.0),
    ("mass", "kg"): (1.0, 0.0),
    ("area", "cm**2"): (1e-4, 0.0),
    ("stiffness", "N/mm"): (1e3, 0.0),
    ("stiffness", "N/m"): (1.0, 0.0),
    ("mechanical_resistance", "kg/s"): (1.0, 0.0),
    ("current", "A"): (1.0, 0.0),
    ("resistance", "ohm"): (1.0, 0.0),
    ("flux_density", "T"): (1.0, 0.0),
    ("voltage", "V"): (1.0, 0.0),
    ("power", "W"): (1.0, 0.0),
    ("frequency", "Hz"): (1.0, 0.0),
    ("inductance", "mH"): (1e-3, 0.0),
    ("volume", "litre"): (1e-3, 0.0),
    ("field_strength", "kA/m"): (1e3, 0.0),
    ("share", "%"): (1e-2, 0.0),
    ("share", "dimensionless"): (1.0, 0.0),
}
"""Factor and offset to SI of what nearly every file holds, so that only other units wait for pint:
importing it and reading its definitions takes longer than solving the field."""

LARGEST = 1e15
"""Largest number of any quantity in SI: nothing here reaches it, and what is beyond overflows."""

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*(.*?)\s*")
_UNIT = re.compile(r"(?:1/)?[A-Za-zµμΩ°%]+(?:\s*(?:\*\*|\^|[*/])\s*-?(?:[A-Za-zµμΩ°]+|[1-4]))*")


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)


@functools.lru_cache(maxsize=500)
def _unit(text: str) -> Any:
    """Return a unit; pint's error for none.  Reading one takes longer than converting with it."""
    return _registry().Unit(text)


def parse_quantity(text: object, kind: str, field: str) -> float:
    """Read a quantity with its unit and return it in SI.

    Parameters
    ----------
    text : object
        What the design file holds, e.g. "8 mm".
    kind : str
        A key of :data:`UNITS`.
    field : str
        Name of the field, for the error message.

    Raises
    ------
    InvalidInput
        For a bare number, an unknown unit, or a unit of another kind.

    Notes
    -----
    Converted values are rounded to 15 digits, so that "-40 degC" is 233.15 K and no noise.
    """
    si, usual = UNITS[kind]
    article = "an" if kind[0] in "aeiou" else "a"
    what = f'be {article} {kind.replace("_", " ")} with its unit, such as "8 {usual}"'
    if not isinstance(text, str):
        missing = "a bare number without a unit" if isinstance(text, int | float) else type(text)
        raise InvalidInput(field, what, f"{text!r} ({missing})")
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise InvalidInput(field, what, repr(text))
    if match[2].startswith(","):
        raise InvalidInput(field, f"{what}, with a decimal point and no comma", repr(text))
    number, unit = float(match[1]), match[2]
    if not unit:
        raise InvalidInput(field, what, f"{text!r} (no unit)")
    if len(unit) > 30 or not _UNIT.fullmatch(unit):
        raise InvalidInput(field, what, f"{text!r} (unknown unit {unit[:30]!r})")
    if (kind, unit) in COMMON:
        factor, offset = COMMON[kind, unit]
        value = number * factor + offset
    else:
        try:
            value = float(_registry().Quantity(number, _unit(unit)).to(_unit(si)).magnitude)
        except Exception as cause:  # pint raises many kinds of error for a malformed unit
            wrong = "Dimension" in type(cause).__name__
            problem = "wrong kind of unit" if wrong else "unknown unit"
            raise InvalidInput(field, what, f"{text!r} ({problem} {unit!r})") from None
    if not math.isfinite(value):
        raise InvalidInput(field, what, repr(text))
    if abs(value) > LARGEST:
        raise InvalidInput(field, f"be at most {LARGEST:g} {si}", repr(text))
    return value if unit == si else float(f"{value:.15g}")


def parse_share(text: str, field: str) -> float:
    """Read a share such as "0.1%" or "0.001"; InvalidInput unless it lies between 0 and 1."""
    number, percent = text.strip().removesuffix("%"), text.strip().endswith("%")
    match = _NUMBER.fullmatch(number)
    value = float(match[1]) * (0.01 if percent else 1.0) if match and not match[2] else -1.0
    if not 0 < value < 1:
        raise InvalidInput(field, 'be a share between 0 and 1, such as "0.1%"', repr(text))
    return value


@functools.lru_cache(maxsize=4096)
def format_quantity(value: float, kind: str) -> str:
    """Write an SI value with its usual unit, so that reading it back gives the same float."""
    si, usual = UNITS[kind]
    if (kind, usual) in COMMON:
        factor, offset = COMMON[kind, usual]
        scaled = (value - offset) / factor
        near = 1e-13 * (abs(scaled) + abs(offset / factor))
    else:
        scaled, near = float(_registry().Quantity(value, si).to(usual).magnitude), math.inf
    for digits in range(4, 18):
        number = f"{scaled:.{digits}g}"
        if abs(float(number) - scaled) > near:
            continue
        text = f"{number} {usual}"
        if "e" not in number and parse_quantity(text, kind, kind) == value:
            return text
    return f"{value!r} {si}"
