"""Designs as TOML text, plain or with every key explained."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import Any

from geometries import InvalidInput, Outlines, Ring
from motor.base.media import toml_text
from motor.base.units import UNITS, format_quantity
from motor.design.design import Design, MovingParts
from motor.design.enclosure import Amplifier, Box
from motor.design.file_lines import (
    Line,
    Section,
    name_of,
    plain_text,
    record_lines,
    text_of,
)
from motor.design.heat_rules import HeatRules
from motor.design.outline_text import outline_sections
from motor.design.stroke_rules import StrokeRules
from motor.design.winding_part import WindingPart
from motor.materials import Magnet, TabulatedSteel
from motor.materials.own import OWN_MAGNET, OWN_STEEL

__all__ = ["design_sections", "design_to_toml"]

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
    sections = design_sections(design)
    if not comments:
        return text_of([s.plain for s in sections]) + "\n"
    caution = "\n".join(f"# {line}" for line in CAUTION)
    options = "\n".join(_optional_sections(design))
    return f"{caution}\n\n{text_of(sections)}\n\n{options}\n"


def design_sections(design: Design) -> list[Section]:
    """Return all sections of a design's file, with the lines that are left out as usual ones."""
    found = [_head(design), *_geometry_sections(design), *_material_sections(design)]
    found += _coil_sections(design)
    for name in ("moving_parts", "box", "amplifier"):
        record = getattr(design, name)
        if record is not None:
            found.append(_section(f"[{name}]", record_lines(record)))
    if design.heat != HeatRules():
        found.append(_section("[heat]", record_lines(design.heat)))
    if design.stroke != StrokeRules():
        found.append(_stroke_section(design.stroke))
    return found


def _section(head: str, lines: Iterable[Line]) -> Section:
    return Section(head, tuple(lines))


def _head(design: Design) -> Section:
    lines = [Line("name", toml_text(design.name))]
    if design.notes:
        lines.append(Line("notes", toml_text(design.notes)))
    temperature = format_quantity(design.temperature, "temperature")
    return _section("", [*lines, Line("temperature", f'"{temperature}"', "of magnet and coil")])


def _geometry_sections(design: Design) -> list[Section]:
    geometry = design.geometry
    lines = [Line("kind", toml_text(geometry.kind))]
    if geometry.code_file:
        lines.append(Line("code", toml_text(geometry.code_file)))
    if isinstance(geometry, Outlines):
        own, *more = outline_sections(geometry)
        found = [_section(own.head, [*lines, *own.lines]), *more]
    else:
        found = [_section("[geometry]", [*lines, *record_lines(geometry, skip=("rings",))])]
    rings = getattr(geometry, "rings", ())
    return [*found, *(_section("[[geometry.rings]]", record_lines(ring)) for ring in rings)]


def _material_sections(design: Design) -> list[Section]:
    materials = design.materials
    chosen = record_lines(materials, skip=("parts", "temperatures", "prices", "own"))
    found = [_section("[materials]", chosen)]
    if materials.prices:
        prices = materials.prices.items()
        lines = [Line(toml_text(k), plain_text(v)) for k, v in prices]
        found.append(_section("[materials.prices]", lines))
    found.extend(_own_section(own) for own in materials.own.values())
    if materials.parts:
        lines = [Line(k, toml_text(name_of(v))) for k, v in materials.parts.items()]
        found.append(_section("[materials.parts]", lines))
    if materials.temperatures:
        lines = [_quantity(k, v, "temperature") for k, v in materials.temperatures.items()]
        found.append(_section("[materials.temperatures]", lines))
    return found


def _coil_sections(design: Design) -> list[Section]:
    coil = design.coil
    found = [_section("[coil]", record_lines(coil, skip=("wire", "parts")))]
    found.append(_section("[coil.wire]", record_lines(coil.wire)))
    for part in coil.parts:
        found.append(_section("[[coil.parts]]", record_lines(part, skip=("wire",))))
        if part.wire is not None:
            found.append(_section("[coil.parts.wire]", record_lines(part.wire)))
    return found


def _stroke_section(stroke: StrokeRules) -> Section:
    limits = ", ".join(map(toml_text, stroke.limits))
    lines = [Line("limits", f"[{limits}]")]
    if stroke.band is not None:
        lines.append(_quantity("band", stroke.band, "length"))
    return _section("[stroke]", lines)


def _quantity(key: str, value: float, kind: str | None) -> Line:
    text = plain_text(value) if kind is None else f'"{format_quantity(value, kind)}"'
    return Line(key, text)


def _own_section(own: Any) -> Section:
    """Return the section of one of the designer's own magnets and steels."""
    lines = [Line("name", toml_text(own.name))]
    if isinstance(own, Magnet):
        head = "[[materials.own_magnets]]"
        fresh = Magnet("", own.remanence, own.recoil_permeability)
        for key, kind in OWN_MAGNET.items():
            value = getattr(own, key)
            needed = key in ("remanence", "recoil_permeability")
            if needed or value != getattr(fresh, key):
                lines.append(_quantity(key, value, kind))
    elif isinstance(own, TabulatedSteel):
        head = "[[materials.own_steels]]"
        lines.append(_quantity("density", own.density, "density"))
        if own.conductivity:
            lines.append(_quantity("conductivity", own.conductivity, "conductivity"))
        if own.saturation is not None:
            lines.append(_quantity("saturation", own.saturation, "flux_density"))
        for key, kind in OWN_STEEL.items():
            value = getattr(own, key)
            if value not in (None, getattr(TabulatedSteel, key)):
                lines.append(_quantity(key, value, kind))
        if own.reversible_permeability:
            b, mu = map(plain_text, zip(*own.reversible_permeability, strict=True))
            curve = f"{{ flux_density_T = {b}, relative = {mu} }}"
            lines.append(Line("reversible_permeability", curve))
        lines.append(Line("flux_density_T", plain_text(own.flux_density)))
        lines.append(Line("field_A_per_m", plain_text(own.field)))
    else:
        raise InvalidInput(f"steel {own.name}", "have a table to be written", type(own).__name__)
    if own.source:
        lines.append(Line("source", toml_text(own.source)))
    return Section(head, tuple(lines))


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
        '# coercivity = "280 A/m"   # of larger ones',
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
    lines += ["# [stroke]", f"# limits = [{limits}]   # what the usable stroke respects"]
    lines += ['# band = "... mm"   # to either side, where deviation of Bl(x) is read', "#"]
    return [*lines, "# [heat]", *(line.written for line in record_lines(HeatRules()))]
