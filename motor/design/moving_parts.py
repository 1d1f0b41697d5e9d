"""Sections [moving_parts], [box] and [amplifier] of a design file: reading and writing.

Stiffness and inductance are a quantity, a table or a polynomial::

    stiffness = "1.15 N/mm"
    stiffness = { x_mm = [-8, -4, 0, 4, 8], values_N_per_mm = [2.1, 1.4, 1.15, 1.3, 1.9] }
    stiffness = { coefficients_N_per_mm = [1.15, 0.0, 0.01], range_mm = [-8, 8] }
"""

from __future__ import annotations

from typing import Any

from geometries import InvalidInput
from motor.base.toml_records import check_keys, quantity, read_record, table_of
from motor.design.characteristic import Characteristic, Polynomial, Table
from motor.design.design import MovingParts

__all__ = ["characteristic_text", "read_moving_parts"]

SECTION = "moving_parts"
CURVES = {"stiffness": ("N_per_mm", 1e-3), "inductance": ("mH", 1e3)}
"""Unit in the file and its factor from SI, for the quantities that may depend on x."""


def _clean(value: float) -> float:
    """Drop the noise of a unit conversion."""
    return float(f"{value:.15g}")


def read_moving_parts(value: object) -> MovingParts:
    """Return the moving parts that a section describes."""
    table = dict(table_of(value, SECTION))
    ready: dict[str, Any] = {}
    for name in CURVES:
        if isinstance(table.get(name), dict):
            try:
                ready[name] = _characteristic(table.pop(name), name)
            except InvalidInput as error:
                raise error.within(f"{SECTION}.{name}") from None
    return read_record(MovingParts, table, SECTION, **ready)


def _characteristic(table: dict[str, Any], name: str) -> Characteristic:
    unit, factor = CURVES[name]
    tabulated, power = f"values_{unit}", f"coefficients_{unit}"
    check_keys(name, table, ["x_mm", tabulated, power, "range_mm"])
    if power in table:
        if "x_mm" in table or tabulated in table:
            raise InvalidInput("section", f"have either {power} or x_mm and {tabulated}", "both")
        c = _numbers(table, power, name)
        ends = _numbers(table, "range_mm", name)
        if len(ends) != 2:
            raise InvalidInput("range_mm", "have two ends", ends)
        scaled = tuple(_clean(v / factor * 1e3**k) for k, v in enumerate(c))
        return Polynomial(scaled, *(_clean(v * 1e-3) for v in ends))
    x, values = _numbers(table, "x_mm", name), _numbers(table, tabulated, name)
    return Table(tuple(_clean(v * 1e-3) for v in x), tuple(_clean(v / factor) for v in values))


def _numbers(table: dict[str, Any], key: str, where: str) -> list[float]:
    if not isinstance(table.get(key), list):
        raise InvalidInput(key, "be a list of numbers", repr(table.get(key, "nothing")))
    return [quantity(v, None, key, where) for v in table[key]]


def characteristic_text(name: str, curve: Characteristic) -> str:
    """Return a table or polynomial of a moving part as an inline TOML table."""
    unit, factor = CURVES[name]
    if isinstance(curve, Table):
        x = [_clean(v * 1e3) for v in curve.x]
        values = [_clean(v * factor) for v in curve.values]
        return f"{{ x_mm = {x}, values_{unit} = {values} }}"
    if isinstance(curve, Polynomial):
        c = [_clean(v * factor * 1e-3**k) for k, v in enumerate(curve.coefficients)]
        ends = [_clean(curve.low * 1e3), _clean(curve.high * 1e3)]
        return f"{{ coefficients_{unit} = {c}, range_mm = {ends} }}"
    raise InvalidInput(name, "be a table or polynomial to be written", type(curve).__name__)
