"""Designs as TOML text, plain or with every key explained."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from geometries import InvalidInput, Outlines, Ring
from motor.base.media import toml_text
from motor.base.toml_records import required
from motor.base.units import UNITS, format_quantity
from motor.design.characteristic import Characteristic
from motor.design.design import Design, Materials, MovingParts
from motor.design.enclosure import Amplifier, Box
from motor.design.heat_rules import HeatRules
from motor.design.moving_parts import characteristic_text
from motor.design.outline_text import outline_lines
from motor.design.stroke_rules import StrokeRules
from motor.design.winding_part import WindingPart
from motor.materials import Magnet, TabulatedSteel
from motor.materials.own import OWN_MAGNET, OWN_STEEL

__all__ = ["design_to_toml"]

CAUTION = (
    "Magnets attract suddenly, pinch, shatter and disturb pacemakers; coils get hot.",
    "Follow local rules for handling, magnetising and testing.",
)


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
    lines += [f"name = {toml_text(design.name)}"]
    if design.notes:
        lines += [f"notes = {toml_text(design.notes)}"]
    temperature = format_quantity(design.temperature, "temperature")
    note = "   # of magnet and coil" if comments else ""
    lines += [f'temperature = "{temperature}"{note}', "", "[geometry]"]
    lines += [f"kind = {toml_text(design.geometry.kind)}"]
    if design.geometry.code_file:
        lines += [f"code = {toml_text(design.geometry.code_file)}"]
    if isinstance(design.geometry, Outlines):
        lines += outline_lines(design.geometry, comments=comments)
    else:
        lines += _lines(design.geometry, comments, skip=("rings",))
    for ring in getattr(design.geometry, "rings", ()):
        lines += ["", "[[geometry.rings]]", *_lines(ring, comments)]
    lines += [
        "",
        "[materials]",
        *_lines(design.materials, comments, skip=("parts", "temperatures", "prices", "own")),
    ]
    if design.materials.prices:
        lines += ["", "[materials.prices]"]
        lines += [f"{toml_text(k)} = {_plain(v)}" for k, v in design.materials.prices.items()]
    lines += _own_lines(design.materials)
    if design.materials.parts:
        lines += ["", "[materials.parts]"]
        lines += [f"{k} = {toml_text(_name(v))}" for k, v in design.materials.parts.items()]
    if design.materials.temperatures:
        lines += ["", "[materials.temperatures]"]
        warm = design.materials.temperatures.items()
        lines += [f'{k} = "{format_quantity(v, "temperature")}"' for k, v in warm]
    lines += ["", "[coil]", *_lines(design.coil, comments, skip=("wire", "parts"))]
    lines += ["", "[coil.wire]", *_lines(design.coil.wire, comments)]
    for part in design.coil.parts:
        lines += ["", "[[coil.parts]]", *_lines(part, comments, skip=("wire",))]
        if part.wire is not None:
            lines += ["", "[coil.parts.wire]", *_lines(part.wire, comments)]
    if design.moving_parts is not None:
        lines += ["", "[moving_parts]", *_lines(design.moving_parts, comments)]
    for section, record in (("box", design.box), ("amplifier", design.amplifier)):
        if record is not None:
            lines += ["", f"[{section}]", *_lines(record, comments)]
    if design.heat != HeatRules():
        lines += ["", "[heat]", *_lines(design.heat, comments)]
    if design.stroke != StrokeRules():
        limits = ", ".join(map(toml_text, design.stroke.limits))
        lines += ["", "[stroke]", f"limits = [{limits}]"]
    if comments:
        lines += ["", *_optional_sections(design)]
    return "\n".join(lines) + "\n"


def _own_lines(materials: Materials) -> list[str]:
    """Return the sections of the designer's own magnets and steels."""
    lines: list[str] = []
    for own in materials.own.values():
        if isinstance(own, Magnet):
            lines += ["", "[[materials.own_magnets]]", f"name = {toml_text(own.name)}"]
            fresh = Magnet("", own.remanence, own.recoil_permeability)
            for key, kind in OWN_MAGNET.items():
                value = getattr(own, key)
                needed = key in ("remanence", "recoil_permeability")
                if needed or value != getattr(fresh, key):
                    text = _plain(value) if kind is None else f'"{format_quantity(value, kind)}"'
                    lines.append(f"{key} = {text}")
        elif isinstance(own, TabulatedSteel):
            lines += ["", "[[materials.own_steels]]", f"name = {toml_text(own.name)}"]
            lines += [f'density = "{format_quantity(own.density, "density")}"']
            if own.conductivity:
                conductivity = format_quantity(own.conductivity, "conductivity")
                lines += [f'conductivity = "{conductivity}"']
            if own.saturation is not None:
                saturation = format_quantity(own.saturation, "flux_density")
                lines += [f'saturation = "{saturation}"']
            for key, kind in OWN_STEEL.items():
                value = getattr(own, key)
                if value not in (None, getattr(TabulatedSteel, key)):
                    text = _plain(value) if kind is None else f'"{format_quantity(value, kind)}"'
                    lines += [f"{key} = {text}"]
            if own.reversible_permeability:
                b, mu = map(_plain, zip(*own.reversible_permeability, strict=True))
                lines += [f"reversible_permeability = {{ flux_density_T = {b}, relative = {mu} }}"]
            lines += [f"flux_density_T = {_plain(own.flux_density)}"]
            lines += [f"field_A_per_m = {_plain(own.field)}"]
        else:
            raise InvalidInput(
                f"steel {own.name}", "have a table to be written", type(own).__name__
            )
        if own.source:
            lines.append(f"source = {toml_text(own.source)}")
    return lines


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
    lines += [
        "# [materials.temperatures]   # of parts warmer or colder than the rest",
        f'# {design.regions[0].name} = "80 degC"',
        "#",
        "# [materials.prices]   # per kg, instead of the tables' invented defaults",
        "# N42 = 60.0",
        "#",
        "# [[materials.own_magnets]]   # a grade of your own",
        '# name = "mine"',
        '# remanence = "0.39 T"',
        "# recoil_permeability = 1.07",
        '# intrinsic_coercivity = "260 kA/m"',
        '# temperature_coefficient = "-0.2 %/K"',
        '# coercivity_coefficient = "0.27 %/K"',
        '# density = "4900 kg/m**3"',
        "#",
        "# [[materials.own_steels]]   # a steel of your own",
        '# name = "mine"',
        '# density = "7850 kg/m**3"',
        '# saturation = "2.1 T"',
        "# initial_permeability = 250   # of small alternating fields",
        '# table = "mine.csv"   # beside this file, columns b_T,h_A_m',
        "#",
    ]
    if design.moving_parts is None:
        lines += ["# [moving_parts]"]
        for f in dataclasses.fields(MovingParts):
            unit = UNITS[f.metadata["quantity"]][1]
            lines += [f'# {f.name} = "... {unit}"   # {f.metadata["doc"]}']
        lines += ["# stiffness and inductance may also be tables over displacement:"]
        lines += ["# stiffness = { x_mm = [-8, 0, 8, 9], values_N_per_mm = [2, 1, 2, 3] }", "#"]
    for section, record in (("box", Box), ("amplifier", Amplifier)):
        if getattr(design, section) is None:
            lines += [f"# [{section}]"]
            for f in dataclasses.fields(record):
                unit = UNITS[f.metadata["quantity"]][1]
                lines += [f'# {f.name} = "... {unit}"   # {f.metadata["doc"]}']
            lines += ["#"]
    lines += [
        "# [coil.wire] may also read:",
        '# size = "0.224 mm"   # or "AWG 32"; overall diameter from the series',
        "# grade = 1   # of the enamel, 1 or 2",
        '# overall = "greatest"   # or "least", the thinnest wire that the standard lets pass',
        "# or, for flat wire wound on edge:",
        '# thickness = "... mm"   # along the coil',
        '# width = "... mm"   # across',
        '# insulation = "... mm"   # added to both by the enamel',
        "#",
    ]
    lines += [
        "# [[coil.parts]]   # a further part of the winding on the same former; repeat for more"
    ]
    for f in dataclasses.fields(WindingPart):
        if f.name != "wire":
            options = f.metadata.get("options", ())
            value = '"... mm"' if f.metadata.get("quantity") == "length" else '"lower"'
            value = "2" if f.metadata.get("quantity") == "count" else value
            value = toml_text(options[0]) if options else value
            lines += [f"# {f.name} = {value}   # {f.metadata['doc']}"]
    lines += ["# wire = { ... }   # as in [coil.wire], where it is another", "#"]
    limits = ", ".join(map(toml_text, StrokeRules().limits))
    lines += ["# [stroke]", f"# limits = [{limits}]   # what the usable stroke respects", "#"]
    return [*lines, "# [heat]", *_lines(HeatRules(), comments=True)]


def _lines(record: Any, comments: bool, skip: tuple[str, ...] = ()) -> list[str]:
    lines = []
    for field in dataclasses.fields(record):
        value = getattr(record, field.name)
        if field.name in skip:
            continue
        default = None if required(field) else field.default
        is_default = not required(field) and value == default
        if is_default and not comments:
            continue
        text = f"{field.name} = {_text(field, value)}"
        if value is None:
            text = _missing(field)
        if comments:
            doc = field.metadata.get("doc", "")
            options = field.metadata.get("options")
            doc += f" ({', '.join(options)})" if options else ""
            text = f"{'# ' if is_default else ''}{text}" + (f"   # {doc}" if doc else "")
        lines.append(text)
    return lines


def _missing(field: dataclasses.Field[Any]) -> str:
    """Return how a value that is not given would look."""
    quantity = field.metadata["quantity"]
    if quantity == "number":
        return f"{field.name} = 0.0"
    return f'{field.name} = "... {UNITS[quantity][1]}"'


def _text(field: dataclasses.Field[Any], value: Any) -> str:
    quantity = field.metadata.get("quantity")
    if isinstance(value, Characteristic):
        return characteristic_text(field.name, value)
    if quantity in UNITS and value is not None:
        return f'"{format_quantity(value, quantity)}"'
    if isinstance(value, int | float | np.number):
        return _plain(value)
    return toml_text(_name(value))


def _plain(value: Any) -> str:
    """Return numbers as TOML, those of numpy too, whose ``repr`` names their type."""
    return repr(np.asarray(value).tolist())


def _name(value: Any) -> str:
    return value if isinstance(value, str) else str(getattr(value, "name", value))
