"""Design files: TOML in which every quantity carries its unit, read and written."""

from __future__ import annotations

import dataclasses
import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from geometries import Geometry, InvalidInput, Ring, registered
from motor.coil import Coil
from motor.design import Design, Materials, MovingParts, StrokeRules
from motor.materials.tables import near_names, pick
from motor.units import UNITS, format_quantity, parse_quantity
from motor.wire import FlatWire, Wire, wire_of_size

__all__ = ["design_from_toml", "design_to_toml", "read_design", "write_design"]

T = TypeVar("T")

CAUTION = (
    "Magnets attract suddenly, pinch, shatter and disturb pacemakers; coils get hot.",
    "Follow local rules for handling, magnetising and testing.",
)
TOP_LEVEL = (
    "name",
    "notes",
    "temperature",
    "geometry",
    "materials",
    "coil",
    "moving_parts",
    "stroke",
)


def read_design(path: str | Path) -> Design:
    """Read a design file.

    Raises
    ------
    InvalidInput
        With the field, the limit and what was found, if the file cannot be used.
    """
    path = Path(path)
    try:
        text = path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise InvalidInput("design file", "exist", str(path)) from None
    except UnicodeDecodeError as cause:
        raise InvalidInput("design file", "be UTF-8 text", f"{path}: {cause.reason}") from None
    except (OSError, ValueError) as cause:
        reason = getattr(cause, "strerror", None) or cause
        raise InvalidInput("design file", "be readable", f"{path}: {reason}") from None
    return design_from_toml(text)


def write_design(design: Design, path: str | Path) -> None:
    """Write a design file that reads back as the same design."""
    Path(path).write_text(design_to_toml(design), encoding="utf-8")


def design_from_toml(text: str) -> Design:
    """Return the design that a TOML text describes; InvalidInput if it cannot be used."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as cause:
        raise InvalidInput(
            "design file", "be valid TOML", str(cause) or "nesting too deep"
        ) from None
    _known("", data, TOP_LEVEL)
    for section in ("geometry", "materials", "coil"):
        if section not in data:
            raise InvalidInput("design file", f"have a section [{section}]", "none")
    optional: dict[str, Any] = {}
    if "moving_parts" in data:
        optional["moving_parts"] = _record(MovingParts, data["moving_parts"], "moving_parts")
    if "stroke" in data:
        optional["stroke"] = _stroke(_table(data["stroke"], "stroke"))
    if "temperature" in data:
        optional["temperature"] = parse_quantity(data["temperature"], "temperature", "temperature")
    for key in ("name", "notes"):
        if key in data:
            optional[key] = _string(data[key], key, "")
    geometry = _geometry(_table(data["geometry"], "geometry"))
    return Design(
        geometry=geometry,
        materials=_materials(_table(data["materials"], "materials")),
        coil=_coil(_table(data["coil"], "coil")),
        **optional,
    )


def _known(where: str, table: Mapping[str, Any], allowed: tuple[str, ...] | list[str]) -> None:
    for key in table:
        if key not in allowed:
            hint = near_names(key, list(allowed))
            raise InvalidInput(key, f"be a known key ({hint})", repr(key), where)


def _table(value: object, where: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise InvalidInput(where, f"be a section [{where}]", repr(value))
    return value


def _string(value: object, field: str, where: str) -> str:
    if not isinstance(value, str):
        raise InvalidInput(field, "be text in quotes", repr(value), where)
    return value


def _record(cls: type[T], value: object, where: str, **ready: Any) -> T:
    """Build a record from a table; ``ready`` holds fields that were read already."""
    table = _table(value, where)
    fields = {f.name: f for f in dataclasses.fields(cls)}  # type: ignore[arg-type]
    _known(where, table, [name for name in fields if name not in ready])
    values = dict(ready)
    for name, field in fields.items():
        if name in table:
            values[name] = _value(field, table[name], where)
        elif name not in ready and _required(field):
            raise InvalidInput(
                name, f"be given ({field.metadata.get('doc', name)})", "nothing", where
            )
    try:
        return cls(**values)
    except InvalidInput as error:
        raise error.within(where) from None


def _required(field: dataclasses.Field[Any]) -> bool:
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
    return _string(value, field.name, where)


def _geometry(table: dict[str, Any]) -> Geometry:
    table = dict(table)
    kinds = registered()
    if "kind" not in table:
        raise InvalidInput("kind", f"be given (one of {', '.join(kinds)})", "nothing", "geometry")
    try:
        cls = pick(kinds, _string(table.pop("kind"), "kind", "geometry"), "kind")
    except InvalidInput as error:
        raise error.within("geometry") from None
    ready = {}
    if "rings" in table and any(f.name == "rings" for f in dataclasses.fields(cls)):
        rings = table.pop("rings")
        if not isinstance(rings, list):
            raise InvalidInput("rings", "be a list [[geometry.rings]]", repr(rings), "geometry")
        ready["rings"] = tuple(_record(Ring, ring, "geometry.rings") for ring in rings)
    return _record(cls, table, "geometry", **ready)


def _materials(table: dict[str, Any]) -> Materials:
    table = dict(table)
    parts = _table(table.pop("parts", {}), "materials.parts")
    ready = {"parts": {k: _string(v, k, "materials.parts") for k, v in parts.items()}}
    return _record(Materials, table, "materials", **ready)


def _coil(table: dict[str, Any]) -> Coil:
    table = dict(table)
    if "wire" not in table:
        raise InvalidInput("wire", "be given as a section [coil.wire]", "nothing", "coil")
    wire = _wire(_table(table.pop("wire"), "coil.wire"))
    return _record(Coil, table, "coil", wire=wire)


def _wire(table: dict[str, Any]) -> Wire | FlatWire:
    """Read round wire by dimensions or by size and grade, or flat wire."""
    where = "coil.wire"
    if "size" in table:
        _known(where, table, ["material", "size", "grade"])
        grade = table.get("grade", 1)
        if isinstance(grade, bool) or not isinstance(grade, int):
            raise InvalidInput("grade", "be 1 or 2", repr(grade), where)
        material = _string(table.get("material", "copper"), "material", where)
        size = _string(table["size"], "size", where)
        try:
            return wire_of_size(size, grade=grade, material=material)
        except InvalidInput as error:
            raise error.within(where) from None
    if {"thickness", "width", "insulation"} & set(table):
        return _record(FlatWire, table, where)
    return _record(Wire, table, where)


def _stroke(table: dict[str, Any]) -> StrokeRules:
    _known("stroke", table, ["limits"])
    limits = table.get("limits", list(StrokeRules().limits))
    if not isinstance(limits, list):
        raise InvalidInput("limits", "be a list of names", repr(limits), "stroke")
    try:
        return StrokeRules(limits=tuple(_string(v, "limits", "stroke") for v in limits))
    except InvalidInput as error:
        raise error.within("stroke") from None


# writing


def design_to_toml(design: Design, *, comments: bool = False) -> str:
    """Return the design as TOML text.

    Parameters
    ----------
    design : Design
        With materials given by name.
    comments : bool
        True to explain every key and to list the options that are off.
    """
    lines = [f"# {line}" for line in CAUTION] + [""] if comments else []
    lines += [f"name = {_quoted(design.name)}"]
    if design.notes:
        lines += [f"notes = {_quoted(design.notes)}"]
    temperature = format_quantity(design.temperature, "temperature")
    note = "   # of magnet and coil" if comments else ""
    lines += [f'temperature = "{temperature}"{note}', "", "[geometry]"]
    lines += [f"kind = {_quoted(design.geometry.kind)}"]
    lines += _lines(design.geometry, comments, skip=("rings",))
    for ring in getattr(design.geometry, "rings", ()):
        lines += ["", "[[geometry.rings]]", *_lines(ring, comments)]
    lines += ["", "[materials]", *_lines(design.materials, comments, skip=("parts",))]
    if design.materials.parts:
        lines += ["", "[materials.parts]"]
        lines += [f"{k} = {_quoted(_name(v))}" for k, v in design.materials.parts.items()]
    lines += ["", "[coil]", *_lines(design.coil, comments, skip=("wire",))]
    lines += ["", "[coil.wire]", *_lines(design.coil.wire, comments)]
    if design.moving_parts is not None:
        lines += ["", "[moving_parts]", *_lines(design.moving_parts, comments)]
    if design.stroke != StrokeRules():
        limits = ", ".join(map(_quoted, design.stroke.limits))
        lines += ["", "[stroke]", f"limits = [{limits}]"]
    if comments:
        lines += ["", *_optional_sections(design)]
    return "\n".join(lines) + "\n"


def _optional_sections(design: Design) -> list[str]:
    """Return the sections that a starter file shows as comments."""
    lines = ["# Sections that may be added:", "#"]
    if hasattr(design.geometry, "rings"):
        lines += [
            "# [[geometry.rings]]   # a conducting sleeve or ring; repeat for more",
            '# name = "sleeve"',
        ]
        lines += [
            f'# {f.name} = "... mm"   # {f.metadata["doc"]}'
            for f in dataclasses.fields(Ring)
            if "doc" in f.metadata
        ]
        lines += ['# material = "copper"', "#"]
    regions = ", ".join(region.name for region in design.regions)
    lines += [f"# [materials.parts]   # another material for one of {regions}", "#"]
    if design.moving_parts is None:
        lines += ["# [moving_parts]"]
        for f in dataclasses.fields(MovingParts):
            unit = UNITS[f.metadata["quantity"]][1]
            lines += [f'# {f.name} = "... {unit}"   # {f.metadata["doc"]}']
        lines += ["#"]
    lines += [
        "# [coil.wire] may also read:",
        '# size = "0.224 mm"   # or "AWG 32"; overall diameter from the series',
        "# grade = 1   # of the enamel, 1 or 2",
        "# or, for flat wire wound on edge:",
        '# thickness = "... mm"   # along the coil',
        '# width = "... mm"   # across',
        '# insulation = "... mm"   # added to both by the enamel',
        "#",
    ]
    limits = ", ".join(map(_quoted, StrokeRules().limits))
    return [*lines, "# [stroke]", f"# limits = [{limits}]   # what the usable stroke respects"]


def _lines(record: Any, comments: bool, skip: tuple[str, ...] = ()) -> list[str]:
    lines = []
    for field in dataclasses.fields(record):
        value = getattr(record, field.name)
        if field.name in skip:
            continue
        default = None if _required(field) else field.default
        is_default = not _required(field) and value == default
        if is_default and not comments:
            continue
        text = f"{field.name} = {_text(field, value)}"
        if value is None:
            text = f'{field.name} = "... {UNITS[field.metadata["quantity"]][1]}"'
        if comments:
            doc = field.metadata.get("doc", "")
            options = field.metadata.get("options")
            doc += f" ({', '.join(options)})" if options else ""
            text = f"{'# ' if is_default else ''}{text}" + (f"   # {doc}" if doc else "")
        lines.append(text)
    return lines


def _text(field: dataclasses.Field[Any], value: Any) -> str:
    quantity = field.metadata.get("quantity")
    if quantity in UNITS and value is not None:
        return f'"{format_quantity(value, quantity)}"'
    if isinstance(value, int):
        return str(value)
    return _quoted(_name(value))


def _name(value: Any) -> str:
    return value if isinstance(value, str) else str(getattr(value, "name", value))


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
