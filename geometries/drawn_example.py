"""An invented motor drawn with outlines: what a starter file shows."""

from __future__ import annotations

from geometries.drawn_parts import Corner, Dimension, DrawnPart
from geometries.formulas import Formula
from geometries.regions import Role

__all__ = ["DIMENSIONS", "FORMULAS", "GAP", "PARTS"]


def _outline(*corners: Corner | tuple[Formula, Formula]) -> tuple[Corner, ...]:
    return tuple(c if isinstance(c, Corner) else Corner(c) for c in corners)


DIMENSIONS = (
    Dimension("pole_diameter", 31.0e-3, doc="outer diameter of the pole"),
    Dimension("gap_width", 1.6e-3, doc="radial width of the gap"),
    Dimension("gap_depth", 6.0e-3, doc="axial depth of the gap, and the top plate's thickness"),
    Dimension("plate_diameter", 84.0e-3, doc="outer diameter of both plates"),
    Dimension("magnet_bore", 44.0e-3, doc="inner diameter of the magnet"),
    Dimension("magnet_diameter", 90.0e-3, doc="outer diameter of the magnet"),
    Dimension("magnet_thickness", 15.0e-3, doc="thickness of the magnet"),
    Dimension("back_thickness", 6.0e-3, doc="thickness of the back plate"),
    Dimension(
        "tip_height",
        4.0e-3,
        doc="height of the conical pole tip above the gap",
        ends=(("tip / 2 + vent / 2", "top"), ("tip / 2 + vent / 2", "top + tip_height")),
    ),
    Dimension("tip_angle", 1.0471975511966, "angle", "slope of the tip, 90 deg: a cylinder"),
    Dimension("vent_diameter", 8.0e-3, doc="bore through the pole"),
)
FORMULAS: tuple[tuple[str, Formula], ...] = (
    ("pole", "pole_diameter / 2"),
    ("vent", "vent_diameter / 2"),
    ("rim", "plate_diameter / 2"),
    ("top", "gap_depth / 2"),
    ("face", "-top - magnet_thickness"),
    ("tip", "pole - tip_height / tan(tip_angle)"),
)
GAP: tuple[Formula, Formula, Formula, Formula] = ("pole", "pole + gap_width", "-top", "top")
PARTS = (
    DrawnPart(
        "yoke",
        Role.STEEL,
        _outline(
            ("vent", "face - back_thickness"),
            Corner(("rim", "face - back_thickness"), round=2.0),
            ("rim", "face"),
            ("pole", "face"),
            ("pole", "top"),
            ("tip", "top + tip_height"),
            ("vent", "top + tip_height"),
        ),
    ),
    DrawnPart(
        "magnet",
        Role.MAGNET,
        _outline(
            ("magnet_bore / 2", "face"),
            ("magnet_diameter / 2", "face"),
            ("magnet_diameter / 2", "-top"),
            ("magnet_bore / 2", "-top"),
        ),
        magnetisation="up",
    ),
    DrawnPart(
        "top_plate",
        Role.STEEL,
        _outline(
            ("pole + gap_width", "-top"),
            ("rim", "-top"),
            Corner(("rim", "top"), chamfer=1.0),
            ("pole + gap_width", "top"),
        ),
    ),
)
