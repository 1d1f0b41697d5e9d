"""The starters of the built-in geometries, drawn once more as outlines over dimensions."""

from __future__ import annotations

from motor import starter
from motor.design.design import Design
from motor.design.reading import design_from_toml, design_to_toml

OUTSIDE = """
pole_diameter = "31 mm"
gap_width = "1.6 mm"
gap_depth = "6 mm"
plate_diameter = "84 mm"
magnet_inner_diameter = "44 mm"
magnet_outer_diameter = "90 mm"
magnet_thickness = { value = "15 mm", doc = "thickness of the magnet" }
back_plate_thickness = "6 mm"
pole_extension = "3 mm"

[geometry.formulas]
pole = "pole_diameter / 2"
bore = "pole + gap_width"
top = "gap_depth / 2"
face = "-top - magnet_thickness"
under = "face - back_plate_thickness"

[geometry.gap]
inner_radius = "pole"
outer_radius = "bore"
bottom = "-top"
top = "top"

[[geometry.parts]]
name = "yoke"
role = "steel"
outline = [
    [0, "under"], ["plate_diameter / 2", "under"], ["plate_diameter / 2", "face"],
    ["pole", "face"], ["pole", "top + pole_extension"], [0, "top + pole_extension"],
]
[[geometry.parts]]
name = "magnet"
role = "magnet"
magnetisation = "up"
outline = [
    ["magnet_inner_diameter / 2", "face"], ["magnet_outer_diameter / 2", "face"],
    ["magnet_outer_diameter / 2", "-top"], ["magnet_inner_diameter / 2", "-top"],
]
[[geometry.parts]]
name = "top_plate"
role = "steel"
outline = [
    ["bore", "-top"], ["plate_diameter / 2", "-top"], ["plate_diameter / 2", "top"],
    ["bore", "top"],
]
"""

INSIDE = """
magnet_outer_diameter = "29 mm"
magnet_thickness = "6 mm"
pole_plate_diameter = "31 mm"
pole_plate_thickness = "5 mm"
cup_inner_diameter = "36.2 mm"
cup_outer_diameter = "46 mm"
floor_thickness = "5 mm"
lip_step = "1.5 mm"

[geometry.formulas]
top = "pole_plate_thickness / 2"
floor = "-top - magnet_thickness"
wall = "cup_inner_diameter / 2"
rim = "cup_outer_diameter / 2"

[geometry.gap]
inner_radius = "pole_plate_diameter / 2"
outer_radius = "wall - lip_step"
bottom = "-top"
top = "top"

[[geometry.parts]]
name = "cup"
role = "steel"
outline = [
    [0.0, "floor - floor_thickness"], ["rim", "floor - floor_thickness"], ["rim", "top"],
    ["wall - lip_step", "top"], ["wall - lip_step", "-top"], ["wall", "-top"], ["wall", "floor"],
    [0, "floor"],
]
[[geometry.parts]]
name = "magnet"
role = "magnet"
magnetisation = 90
outline = [
    [0, "floor"], ["magnet_outer_diameter / 2", "floor"], ["magnet_outer_diameter / 2", "-top"],
    [0, "-top"],
]
[[geometry.parts]]
name = "pole_plate"
role = "steel"
outline = [
    [0, "-top"], ["pole_plate_diameter / 2", "-top"], ["pole_plate_diameter / 2", "top"],
    [0, "top"],
]
"""
DRAWN = {"outside-magnet": OUTSIDE, "inside-magnet": INSIDE}


def twin(kind: str) -> Design:
    """Return a starter with its geometry drawn as outlines."""
    text = design_to_toml(starter(kind))
    head, _, rest = text.partition("[geometry]\n")
    tail = rest[rest.index("[materials]") :]
    return design_from_toml(f'{head}[geometry]\nkind = "outlines"\n{DRAWN[kind]}\n{tail}')
