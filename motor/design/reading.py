"""Design files: TOML in which every quantity carries its unit, read and written."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from geometries import Geometry, InvalidInput, Outlines, Ring, geometry_from_file, registered
from motor.base.names import pick
from motor.base.toml_records import check_keys, quantity, read_record, string, table_of
from motor.base.units import parse_quantity
from motor.base.user_files import parse_toml, read_text
from motor.base.whole_files import whole_file
from motor.design.coil import Coil
from motor.design.design import Design, Materials
from motor.design.enclosure import Amplifier, Box
from motor.design.heat_rules import HeatRules
from motor.design.moving_parts import read_moving_parts
from motor.design.outline_text import materials_of_parts, read_outlines
from motor.design.stroke_rules import StrokeRules
from motor.design.winding_part import WindingPart
from motor.design.wire import FlatWire, Wire, wire_of_size
from motor.design.writing import design_to_toml
from motor.materials import Magnet, Steel
from motor.materials.own import own_magnet, own_steel, table_rows

__all__ = ["design_from_toml", "design_to_toml", "read_design", "write_design"]

TOP_LEVEL = (
    "name",
    "notes",
    "temperature",
    "geometry",
    "materials",
    "coil",
    "moving_parts",
    "stroke",
    "box",
    "amplifier",
    "heat",
)
STUDY_KEYS = ("sweep", "target", "tolerances", "free", "limits", "design")
"""Keys that a study file has and a design has not."""


def read_design(path: str | Path) -> Design:
    """Read a design file.

    Raises
    ------
    InvalidInput
        With the field, the limit and what was found, if the file cannot be used.
    """
    path = Path(path)
    text = read_text(path, "design file")
    return design_from_toml(text, folder=path.parent)


def write_design(design: Design, path: str | Path) -> None:
    """Write a design file that reads back as the same design."""
    with whole_file(path) as hidden:
        hidden.write_text(design_to_toml(design), encoding="utf-8")


def design_from_toml(text: str, *, folder: str | Path = ".") -> Design:
    """Return the design that a TOML text describes; InvalidInput if it cannot be used.

    ``folder`` is where tables named in the text lie.
    """
    data = parse_toml(text, "design file")
    studies = [key for key in STUDY_KEYS if key in data]
    if studies and "geometry" not in data:
        raise InvalidInput(
            "design file", "be a design, not a study (run it with motor study)", f"[{studies[0]}]"
        )
    check_keys("", data, TOP_LEVEL)
    for section in ("geometry", "materials", "coil"):
        if section not in data:
            raise InvalidInput("design file", f"have a section [{section}]", "none")
    optional: dict[str, Any] = {}
    if "moving_parts" in data:
        optional["moving_parts"] = read_moving_parts(data["moving_parts"])
    for section, record in (("box", Box), ("amplifier", Amplifier), ("heat", HeatRules)):
        if section in data:
            optional[section] = read_record(record, data[section], section)
    if "stroke" in data:
        optional["stroke"] = _stroke(table_of(data["stroke"], "stroke"))
    if "temperature" in data:
        optional["temperature"] = parse_quantity(data["temperature"], "temperature", "temperature")
    for key in ("name", "notes"):
        if key in data:
            optional[key] = string(data[key], key, "")
    geometry = _geometry(table_of(data["geometry"], "geometry"), Path(folder))
    materials = dict(table_of(data["materials"], "materials"))
    if isinstance(geometry, Outlines):
        drawn = materials_of_parts(data["geometry"])
        materials["parts"] = drawn | table_of(materials.get("parts", {}), "materials.parts")
    return Design(
        geometry=geometry,
        materials=_materials(materials, Path(folder)),
        coil=_coil(table_of(data["coil"], "coil")),
        **optional,
    )


def _geometry(table: dict[str, Any], folder: Path) -> Geometry:
    table = dict(table)
    kinds = registered()
    if "kind" not in table:
        raise InvalidInput("kind", f"be given (one of {', '.join(kinds)})", "nothing", "geometry")
    kind = string(table.pop("kind"), "kind", "geometry")
    code = string(table.pop("code", ""), "code", "geometry")
    try:
        cls = geometry_from_file(folder / code, kind) if code else pick(kinds, kind, "kind")
    except InvalidInput as error:
        raise error.within("geometry") from None
    ready = {}
    if "rings" in table and any(f.name == "rings" for f in dataclasses.fields(cls)):
        rings = table.pop("rings")
        if not isinstance(rings, list):
            raise InvalidInput("rings", "be a list [[geometry.rings]]", repr(rings), "geometry")
        ready["rings"] = tuple(read_record(Ring, ring, "geometry.rings") for ring in rings)
    if cls is Outlines:
        return read_outlines(table, ready.get("rings", ()))
    return read_record(cls, table, "geometry", **ready)


def _materials(table: dict[str, Any], folder: Path) -> Materials:
    table = dict(table)
    where = "materials"
    own: dict[str, Magnet | Steel] = {}
    for row in table_rows(table.pop("own_magnets", []), "materials.own_magnets"):
        magnet = own_magnet(row)
        own[magnet.name] = magnet
    for row in table_rows(table.pop("own_steels", []), "materials.own_steels"):
        steel = own_steel(row, folder)
        own[steel.name] = steel
    parts = table_of(table.pop("parts", {}), "materials.parts")
    prices = table_of(table.pop("prices", {}), "materials.prices")
    warm = table_of(table.pop("temperatures", {}), f"{where}.temperatures")
    ready: dict[str, Any] = {
        "parts": {k: string(v, k, "materials.parts") for k, v in parts.items()},
        "prices": prices,
        "temperatures": {
            k: quantity(v, "temperature", k, f"{where}.temperatures") for k, v in warm.items()
        },
        "own": own,
    }
    fields = [f.name for f in dataclasses.fields(Materials) if f.name not in ready]
    check_keys(where, table, fields)
    return read_record(Materials, table, where, **ready)


def _coil(table: dict[str, Any]) -> Coil:
    table = dict(table)
    if "wire" not in table:
        raise InvalidInput("wire", "be given as a section [coil.wire]", "nothing", "coil")
    wire = _wire(table_of(table.pop("wire"), "coil.wire"), "coil.wire")
    parts = table.pop("parts", [])
    if not isinstance(parts, list):
        raise InvalidInput("parts", "be a list [[coil.parts]]", repr(parts)[:80], "coil")
    return read_record(Coil, table, "coil", wire=wire, parts=tuple(map(_winding_part, parts)))


def _winding_part(value: object) -> WindingPart:
    where = "coil.parts"
    table = dict(table_of(value, where))
    wire = None
    if "wire" in table:
        wire = _wire(table_of(table.pop("wire"), f"{where}.wire"), f"{where}.wire")
    return read_record(WindingPart, table, where, wire=wire)


def _wire(table: dict[str, Any], where: str) -> Wire | FlatWire:
    """Read round wire by dimensions or by size and grade, or flat wire."""
    if "size" in table:
        check_keys(where, table, ["material", "size", "grade", "overall"])
        grade = table.get("grade", 1)
        if isinstance(grade, bool) or not isinstance(grade, int):
            raise InvalidInput("grade", "be 1 or 2", repr(grade), where)
        material = string(table.get("material", "copper"), "material", where)
        size = string(table["size"], "size", where)
        overall = string(table.get("overall", "greatest"), "overall", where)
        try:
            return wire_of_size(size, grade=grade, material=material, overall=overall)
        except InvalidInput as error:
            raise error.within(where) from None
    if {"thickness", "width", "insulation"} & set(table):
        return read_record(FlatWire, table, where)
    return read_record(Wire, table, where)


def _stroke(table: dict[str, Any]) -> StrokeRules:
    check_keys("stroke", table, ["limits", "band"])
    limits = table.get("limits", list(StrokeRules().limits))
    if not isinstance(limits, list):
        raise InvalidInput("limits", "be a list of names", repr(limits), "stroke")
    names = tuple(string(v, "limits", "stroke") for v in limits)
    band = quantity(table["band"], "length", "band", "stroke") if "band" in table else None
    try:
        return StrokeRules(limits=names, band=band)
    except InvalidInput as error:
        raise error.within("stroke") from None
