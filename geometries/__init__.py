"""Parametric axisymmetric motor geometries: pure shapes with named regions.

Every module of this package that declares a :class:`Geometry` with a ``kind`` is found by
itself: to add a topology, add one file.  Other installed packages bring theirs by an entry point
(:mod:`geometries.installed`).
"""

from __future__ import annotations

import importlib
import pkgutil

from geometries.changing import Changeable
from geometries.checks import free_gap
from geometries.contour import Contour
from geometries.contract import Geometry, registered
from geometries.drawn import Outlines
from geometries.drawn_parts import Corner, Dimension, DrawnPart
from geometries.errors import InvalidInput, UnknownKey, millimetres
from geometries.from_file import code_permitted, geometry_from_file, running_code
from geometries.installed import load_installed
from geometries.regions import AXIAL_DOWN, AXIAL_UP, RADIAL_IN, RADIAL_OUT, Gap, Point, Region, Role
from geometries.rings import Ring
from geometries.roles import Roles
from geometries.shapes import (
    chords,
    outer_size,
    polygon,
    radial_room,
    solid_bounds,
    vertical_stops,
    volume,
)

__all__ = [
    "AXIAL_DOWN",
    "AXIAL_UP",
    "RADIAL_IN",
    "RADIAL_OUT",
    "Changeable",
    "Contour",
    "Corner",
    "Dimension",
    "DrawnPart",
    "Gap",
    "Geometry",
    "InvalidInput",
    "Outlines",
    "Point",
    "Region",
    "Ring",
    "Role",
    "Roles",
    "UnknownKey",
    "chords",
    "code_permitted",
    "free_gap",
    "geometry_from_file",
    "millimetres",
    "outer_size",
    "polygon",
    "radial_room",
    "registered",
    "running_code",
    "solid_bounds",
    "vertical_stops",
    "volume",
]

for _module in pkgutil.iter_modules(__path__):
    importlib.import_module(f"geometries.{_module.name}")
load_installed()
