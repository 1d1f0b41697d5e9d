"""The contract between a geometry and the rest of the project.

A geometry is a frozen record of drawing dimensions that can say which regions it consists of.
It knows shapes and names only: no physics, no mesh, no solver.

Conventions: cylindrical half plane, r to the right, z up and out of the box towards the
listener, z = 0 in the middle of the gap.  All lengths in metres, all outlines in (r, z).
"""

from __future__ import annotations

import dataclasses
import enum
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from geometries.errors import InvalidInput, millimetres

__all__ = [
    "AXIAL_DOWN",
    "AXIAL_UP",
    "RADIAL_IN",
    "RADIAL_OUT",
    "Gap",
    "Geometry",
    "Point",
    "Region",
    "Role",
    "choice",
    "length",
    "needs",
    "registered",
]

Point = tuple[float, float]

AXIAL_UP: Point = (0.0, 1.0)
AXIAL_DOWN: Point = (0.0, -1.0)
RADIAL_OUT: Point = (1.0, 0.0)
RADIAL_IN: Point = (-1.0, 0.0)

GRID_DIGITS = 9
"""Outlines are rounded to 1e-9 m, so that faces drawn to touch really coincide."""

SMALLEST = 10e-6
LARGEST = 1.0
"""Lengths of a drawing lie between 0.01 mm and 1 m."""


class Role(enum.StrEnum):
    """What a region does in the magnetic circuit."""

    MAGNET = "magnet"
    STEEL = "steel"
    CONDUCTOR = "conductor"


def _clean_outline(outline: Sequence[Point]) -> tuple[Point, ...]:
    """Return the outline rounded to the grid, without repeated or collinear points."""
    grid = [(round(float(r), GRID_DIGITS), round(float(z), GRID_DIGITS)) for r, z in outline]
    points = [p for i, p in enumerate(grid) if p != grid[i - 1]]
    changed = True
    while changed and len(points) >= 3:
        changed = False
        for i, (r, z) in enumerate(points):
            (r0, z0), (r1, z1) = points[i - 1], points[(i + 1) % len(points)]
            cross = (r - r0) * (z1 - z) - (z - z0) * (r1 - r)
            size = math.hypot(r - r0, z - z0) * math.hypot(r1 - r, z1 - z)
            if abs(cross) <= 1e-9 * size:
                del points[i]
                changed = True
                break
    return tuple(points)


@dataclass(frozen=True)
class Region:
    """One part of the motor in the r-z half plane.

    Parameters
    ----------
    name : str
        Lower-case identifier, the one key that ties outline, role, material and mesh size.
    role : Role
        Magnet, steel or conductor.  Air is whatever no region covers.
    outline : sequence of (r, z)
        Closed polygon in metres; the last point joins the first.  Repeated and collinear
        points are dropped.
    magnetisation : (r, z) or None
        Direction of the magnetisation, needed for a magnet, none otherwise; scaled to length 1.
    material : str or None
        Material of a conductor, e.g. "copper".  Magnets and steel get theirs from the design.
    """

    name: str
    role: Role
    outline: tuple[Point, ...]
    magnetisation: Point | None = None
    material: str | None = None

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[a-z][a-z0-9_]*", self.name) or self.name == "air":
            raise InvalidInput(
                "region name", "be a lower-case identifier other than 'air'", repr(self.name)
            )
        if not all(math.isfinite(c) for p in self.outline for c in p):
            raise InvalidInput(f"{self.name} outline", "consist of finite numbers", self.outline)
        points = _clean_outline(self.outline)
        if len(points) < 3:
            raise InvalidInput(
                self.name, "have a thickness in both directions", f"the outline {list(points)}"
            )
        if min(r for r, _ in points) < 0:
            raise InvalidInput(
                self.name, "stay at radii of 0 or more", millimetres(min(r for r, _ in points))
            )
        object.__setattr__(self, "outline", points)
        if (self.role is Role.MAGNET) != (self.magnetisation is not None):
            raise InvalidInput(
                f"magnetisation of {self.name}",
                "be given for a magnet and only for a magnet",
                f"{self.magnetisation} for the role {self.role}",
            )
        if self.magnetisation is not None:
            size = math.hypot(*self.magnetisation)
            if not size > 0:
                raise InvalidInput(
                    f"magnetisation of {self.name}", "have a direction", self.magnetisation
                )
            mr, mz = self.magnetisation
            object.__setattr__(self, "magnetisation", (mr / size, mz / size))


@dataclass(frozen=True)
class Gap:
    """The air gap between steel and steel, before any sleeve narrows it.  Metres.

    Rounded to the same grid as the outlines.
    """

    inner_radius: float
    outer_radius: float
    bottom: float
    top: float

    def __post_init__(self) -> None:
        for name in ("inner_radius", "outer_radius", "bottom", "top"):
            object.__setattr__(self, name, round(float(getattr(self, name)), GRID_DIGITS))

    @property
    def width(self) -> float:
        """Radial width of the gap in metres."""
        return self.outer_radius - self.inner_radius

    @property
    def depth(self) -> float:
        """Axial depth of the gap in metres."""
        return self.top - self.bottom

    @property
    def mean_radius(self) -> float:
        """Radius of the middle of the gap in metres."""
        return 0.5 * (self.inner_radius + self.outer_radius)


def length(
    doc: str, *, default: float | None = None, optional: bool = False, zero: bool = False
) -> Any:
    """Declare a length of the drawing.

    Parameters
    ----------
    doc : str
        One line for the design file and the documentation.
    default : float or None
        Value in metres when the designer gives none; None makes the length required.
    optional : bool
        True for a length whose absence (None) has a meaning of its own.
    zero : bool
        True if 0 is allowed (the option is then off).
    """
    metadata = {"doc": doc, "quantity": "length", "zero": zero}
    if optional:
        return dataclasses.field(default=None, metadata=metadata)
    if default is None:
        return dataclasses.field(metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


def choice(doc: str, options: tuple[str, ...]) -> Any:
    """Declare a choice between words; the first option is the default."""
    metadata = {"doc": doc, "quantity": "choice", "options": options}
    return dataclasses.field(default=options[0], metadata=metadata)


def needs(record: object, field: str, partner: str) -> None:
    """Raise InvalidInput if a dimension is given although the option it belongs to is off."""
    value = getattr(record, field)
    if value and not getattr(record, partner):
        raise InvalidInput(field, f"be left out where {partner} is 0", millimetres(value))


_registry: dict[str, type[Geometry]] = {}


def registered() -> dict[str, type[Geometry]]:
    """Return every known geometry class by its kind, sorted by name."""
    return dict(sorted(_registry.items()))


@dataclass(frozen=True, kw_only=True)
class Geometry:
    """Base of all geometries.

    A subclass is a frozen dataclass declared with ``kind="some-name"``; that registers it.  It
    provides :meth:`regions`, :attr:`gap` and :meth:`example`, and may refine :meth:`check`.
    Creating an instance checks it: an instance that exists can be meshed.
    """

    kind: ClassVar[str] = ""
    title: ClassVar[str] = ""

    def __init_subclass__(cls, *, kind: str = "", **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        if kind:
            cls.kind = kind
            _registry[kind] = cls

    def __post_init__(self) -> None:
        self._check_fields()
        self.check()
        from geometries.checks import check_regions

        check_regions(self.regions(), self.gap)

    def _check_fields(self) -> None:
        for field in dataclasses.fields(self):
            value = getattr(self, field.name)
            quantity = field.metadata.get("quantity")
            if quantity == "choice" and value not in field.metadata["options"]:
                options = ", ".join(field.metadata["options"])
                raise InvalidInput(field.name, f"be one of {options}", repr(value))
            if quantity != "length" or (value is None and field.default is None):
                continue
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise InvalidInput(field.name, "be a length in metres", repr(value))
            if not math.isfinite(value):
                raise InvalidInput(field.name, "be a finite length", value)
            if value == 0 and field.metadata["zero"]:
                continue
            if not SMALLEST <= value <= LARGEST:
                zero = "0 or " if field.metadata["zero"] else ""
                raise InvalidInput(
                    field.name,
                    f"be {zero}between {millimetres(SMALLEST)} and {millimetres(LARGEST)}",
                    millimetres(value),
                )

    def check(self) -> None:
        """Raise InvalidInput if the dimensions contradict one another."""

    def regions(self) -> tuple[Region, ...]:
        """Return the named parts of the motor."""
        raise NotImplementedError

    @property
    def gap(self) -> Gap:
        """The air gap between steel and steel."""
        raise NotImplementedError

    @classmethod
    def example(cls) -> Self:
        """Return a plausible motor (invented dimensions) for starter files and tests."""
        raise NotImplementedError

    def _repr_svg_(self) -> str:
        from geometries.drawing import section_svg

        return section_svg(self.regions(), gap=self.gap, title=self.title)
