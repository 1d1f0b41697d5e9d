"""Reading frozen records from TOML tables: known keys, units, and errors that name the place."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any, TypeVar

from geometries import InvalidInput, UnknownKey
from motor.base.names import near_names
from motor.base.units import UNITS, parse_quantity

__all__ = ["check_keys", "quantity", "read_record", "required", "string", "table_of", "whole"]

T = TypeVar("T")


def check_keys(where: str, table: Mapping[str, Any], allowed: tuple[str, ...] | list[str]) -> None:
    """Raise InvalidInput, with the near keys, for a key that is not allowed."""
    for key in table:
        if key not in allowed:
            hint = near_names(key, list(allowed))
            raise UnknownKey(key, hint, repr(key), where)


def table_of(value: object, where: str) -> dict[str, Any]:
    """Return a value that must be a table."""
    if not isinstance(value, dict):
        raise InvalidInput(where, f"be a section [{where}]", repr(value))
    return value


def string(value: object, field: str, where: str) -> str:
    """Return a value that must be text."""
    if not isinstance(value, str):
        raise InvalidInput(field, "be text in quotes", repr(value), where)
    return value


def read_record(cls: type[T], value: object, where: str, **ready: Any) -> T:
    """Build a record from a table; ``ready`` holds fields that were read already."""
    table = table_of(value, where)
    fields = {f.name: f for f in dataclasses.fields(cls)}  # type: ignore[arg-type]
    check_keys(where, table, list(fields))
    values = dict(ready)
    for name, field in fields.items():
        if name in table:
            values[name] = _value(field, table[name], where)
        elif name not in ready and required(field):
            raise InvalidInput(
                name, f"be given ({field.metadata.get('doc', name)})", "nothing", where
            )
    try:
        return cls(**values)
    except InvalidInput as error:
        raise error.within(where) from None


def required(field: dataclasses.Field[Any]) -> bool:
    """Return whether a record's field has no default."""
    return field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING


def _value(field: dataclasses.Field[Any], value: object, where: str) -> Any:
    quantity = field.metadata.get("quantity")
    if quantity in UNITS:
        try:
            return parse_quantity(value, quantity, field.name)
        except InvalidInput as error:
            raise error.within(where) from None
    if quantity == "count":
        if isinstance(value, bool) or not isinstance(value, int):
            raise InvalidInput(field.name, "be a whole number", repr(value), where)
        return value
    if quantity == "number":
        return _plain(value, field.name, where)
    return string(value, field.name, where)


def _plain(value: object, field: str, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidInput(field, "be a plain number", repr(value), where)
    return float(value)


def whole(value: object, field: str, low: int, high: int, where: str = "") -> int:
    """Return a value that must be a whole number between two limits, ends included."""
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        limit = f"be a whole number from {low} to {high}"
        raise InvalidInput(field, limit, repr(value), where)
    return value


def quantity(value: object, kind: str | None, field: str, where: str) -> float:
    """Return a quantity in SI, or a plain number where ``kind`` is None."""
    try:
        if kind is not None:
            return parse_quantity(value, kind, field)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InvalidInput(field, "be a plain number", repr(value))
        return float(value)
    except InvalidInput as error:
        raise error.within(where) from None
