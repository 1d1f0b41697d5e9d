"""Motor of any shape: dimensions, formulas over them, and parts as closed outlines."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from geometries.changing import Changeable, changed_rings, of_rings
from geometries.contract import Geometry
from geometries.dimensions import Span
from geometries.drawn_checks import check_fine, check_gap_near, check_roles
from geometries.drawn_example import DIMENSIONS, FORMULAS, GAP, PARTS
from geometries.drawn_parts import (
    Dimension,
    DrawnPart,
    check_name,
    coordinate,
    direction,
    outline_of,
    place_of,
    span_of,
)
from geometries.errors import InvalidInput
from geometries.formulas import Formula, evaluate
from geometries.regions import Gap, Region
from geometries.rings import Ring, ring_regions
from geometries.roles import Roles

__all__ = ["GapFormulas", "Outlines"]

GapFormulas = tuple[Formula, Formula, Formula, Formula]

MOST = 2000
"""Points of a motor, and formulas, at most."""


@dataclass(frozen=True, kw_only=True)
class Outlines(Geometry, kind="outlines"):
    """Parts drawn as closed outlines whose points are formulas over named dimensions.

    ::

        r ->  pole         bore = pole + gap_width            dimensions, formulas, points
        +------+          +---------------------+  top
        | yoke |   gap    | top plate           |             z = 0 wherever the drawing has it:
        |      |          +--------+------------+  bottom     results count from the middle
        |      |                   | magnet     |             of the gap
        |      +-------------------+------------+---+  face
        |                                           |
        +-------------------------------------------+  under

    Parts may float in air.

    Parameters
    ----------
    dimensions : tuple of Dimension
    formulas : tuple of (name, formula)
        Each may use the dimensions and the formulas before it.
    gap_formulas : tuple of four formulas
        Inner radius, outer radius, bottom and top of the gap, mm.
    further_gaps : tuple of tuples of four formulas
        The same for more gaps.
    parts : tuple of DrawnPart
    declared : Roles
        What its dimensions are for, so that rules of studies know.
    rings : tuple of Ring
    """

    title: ClassVar[str] = "outlines of your own"
    joined: ClassVar[bool] = False

    dimensions: tuple[Dimension, ...] = ()
    formulas: tuple[tuple[str, Formula], ...] = ()
    gap_formulas: GapFormulas
    further_gaps: tuple[GapFormulas, ...] = ()
    parts: tuple[DrawnPart, ...]
    declared: Roles = dataclasses.field(default_factory=Roles)
    rings: tuple[Ring, ...] = ()

    def check(self) -> None:
        """Raise InvalidInput if names or points cannot be used."""
        names = [d.name for d in self.dimensions] + [name for name, _ in self.formulas]
        for name in names:
            check_name(name)
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise InvalidInput(twice, "be defined once", "a dimension or formula of that name")
        count = sum(len(part.outline) for part in self.parts)
        if len(names) > MOST or count > MOST:
            raise InvalidInput(
                "the drawing", f"have at most {MOST} points and formulas", max(count, len(names))
            )
        check_roles(self.declared, self.dimensions)
        _ = self.marked
        check_fine(self.regions())
        check_gap_near(self.regions(), self.gap)

    @property
    def roles(self) -> Roles:  # type: ignore[override]
        """What its dimensions are for, as declared."""
        return self.declared

    def with_gap(
        self, inner_radius: float, outer_radius: float, length: Callable[[str], float]
    ) -> dict[str, float]:
        """Return the two dimensions that are declared to set the gap, nothing if none are."""
        sizes = (2 * inner_radius, outer_radius - inner_radius)
        return dict(zip(self.declared.gap, sizes, strict=False))

    @functools.cached_property
    def numbers(self) -> Mapping[str, float]:
        """Every dimension and formula by name: mm, degrees, plain numbers."""
        found = {d.name: d.number for d in self.dimensions}
        for name, formula in self.formulas:
            found[name] = evaluate(formula, found, name)
        return found

    @functools.cached_property
    def _gaps(self) -> tuple[tuple[float, ...], ...]:
        """Inner radius, outer radius, bottom and top of every gap in mm, as drawn."""
        names = ("inner_radius", "outer_radius", "bottom", "top")
        whose = ("gap", *(f"further gap {k}" for k in range(1, len(self.further_gaps) + 1)))
        return tuple(
            tuple(
                coordinate(formula, self.numbers, f"{where}.{name}")
                for name, formula in zip(names, formulas, strict=True)
            )
            for where, formulas in zip(whose, (self.gap_formulas, *self.further_gaps), strict=True)
        )

    @property
    def _middle(self) -> float:
        return (self._gaps[0][2] + self._gaps[0][3]) / 2

    @functools.cached_property
    def gap(self) -> Gap:
        """The gap, from its own middle, and the further ones."""
        middle = self._middle
        first, *further = (
            Gap(inner * 1e-3, outer * 1e-3, (bottom - middle) * 1e-3, (top - middle) * 1e-3)
            for inner, outer, bottom, top in self._gaps
        )
        return dataclasses.replace(first, further=tuple(further))

    @functools.cached_property
    def _regions(self) -> tuple[Region, ...]:
        return tuple(self._region(part) for part in self.parts)

    def regions(self) -> tuple[Region, ...]:
        """Return the parts as drawn, heights from the middle of the gap, and any rings."""
        return (*self._regions, *ring_regions(self.rings))

    @functools.cached_property
    def marked(self) -> tuple[Span, ...]:
        """The dimensions that drawings show between points of the file."""
        marked = [d for d in self.dimensions if d.ends is not None]
        return tuple(span_of(d, self.numbers, self._middle) for d in marked)

    def _region(self, part: DrawnPart) -> Region:
        points = outline_of(part, self.numbers)
        middle = self._middle
        kept = [place_of(c, self.numbers, part.name) for c in part.outline if c.kept]
        return Region(
            part.name,
            part.role,
            tuple((r * 1e-3, (z - middle) * 1e-3) for r, z in points),
            magnetisation=direction(part, self.numbers),
            material=part.material or None,
            kept=tuple((r * 1e-3, (z - middle) * 1e-3) for r, z in kept),
        )

    def changeable(self) -> dict[str, Changeable]:
        """Return the dimensions by name, and the rings'."""
        own = {d.name: Changeable(d.value, d.quantity, d.doc) for d in self.dimensions}
        return own | of_rings(self.rings)

    def changed(self, changes: Mapping[str, Any]) -> Self:
        """Return the motor with other dimensions."""
        known = self.changeable()
        for name in changes:
            if name not in known:
                raise InvalidInput(name, f"be one of {', '.join(known)}", "another name")
        return dataclasses.replace(
            self,
            dimensions=tuple(
                dataclasses.replace(d, value=changes.get(d.name, d.value)) for d in self.dimensions
            ),
            rings=changed_rings(self.rings, changes),
        )

    @classmethod
    def example(cls) -> Self:
        """Return an invented ferrite motor with a conical pole tip and a rounded back plate."""
        return cls(dimensions=DIMENSIONS, formulas=FORMULAS, gap_formulas=GAP, parts=PARTS)
