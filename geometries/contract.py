"""The contract between a geometry and the rest of the project.

A geometry is a frozen record of drawing dimensions that can say which regions it consists of.
It knows shapes and names only: no physics, no mesh, no solver.

Conventions stand in :mod:`geometries.regions`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from geometries.changing import Changeable, changed_rings, of_fields, of_rings
from geometries.checks import check_regions
from geometries.dimensions import Span
from geometries.drawing import section_svg
from geometries.errors import InvalidInput, millimetres
from geometries.regions import Gap, Region
from geometries.roles import Roles

__all__ = [
    "Geometry",
    "choice",
    "length",
    "needs",
    "registered",
]

SMALLEST = 10e-6
LARGEST = 1.0
"""Lengths of a drawing lie between 0.01 mm and 1 m."""


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
    provides :meth:`regions`, :attr:`gap` and :meth:`example`, and may refine :meth:`check`; with
    :attr:`roles` and :meth:`with_gap` it opens itself to every rule of a study.
    Creating an instance checks it: an instance that exists can be meshed.
    """

    kind: ClassVar[str] = ""
    title: ClassVar[str] = ""
    roles: ClassVar[Roles] = Roles()
    """What its lengths are for, see :class:`geometries.roles.Roles`."""
    code_file: ClassVar[str] = ""
    """The Python file that a design took it from, if any."""
    joined: ClassVar[bool] = True
    """Whether all parts must hang together; otherwise they may float in air."""

    def __init_subclass__(cls, *, kind: str = "", **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        if kind:
            cls.kind = kind
            _registry[kind] = cls

    def __post_init__(self) -> None:
        self._check_fields()
        self.check()
        check_regions(self.regions(), self.gap, joined=self.joined)

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

    def with_gap(
        self, inner_radius: float, outer_radius: float, length: Callable[[str], float]
    ) -> dict[str, float]:
        """Return the lengths, by field, that put the gap's steel at two radii in metres.

        Nothing where a geometry cannot say.  ``length`` returns any other field's value: between
        the rules of a study the lengths together need not make a motor yet.
        """
        return {}

    @property
    def marked(self) -> tuple[Span, ...]:
        """Dimensions that drawings show beside those that every section has."""
        return ()

    def changeable(self) -> dict[str, Changeable]:
        """Return all that a study may change, by name; rings as ``rings.NAME.KEY``."""
        rings = getattr(self, "rings", ())
        return of_fields(self, skip=("rings",)) | of_rings(rings)

    def changed(self, changes: Mapping[str, Any]) -> Self:
        """Return the geometry with changes under the names of :meth:`changeable`."""
        fields = {name: value for name, value in changes.items() if "." not in name}
        if len(fields) < len(changes):
            fields["rings"] = changed_rings(getattr(self, "rings", ()), changes)
        return dataclasses.replace(self, **fields)

    @classmethod
    def example(cls) -> Self:
        """Return a plausible motor (invented dimensions) for starter files and tests."""
        raise NotImplementedError

    def _repr_svg_(self) -> str:
        return section_svg(self.regions(), gap=self.gap, title=self.title, marks=self.marked)
