"""Parameters of a design by dotted name, and drafts: designs with some of them changed.

A name is a section and a key of the design file, e.g. ``geometry.gap_depth``,
``geometry.rings.sleeve.height`` of a ring of that name, ``coil.winding_height``,
``coil.parts.lower.place`` of a part of that name, ``coil.wire.size``, ``materials.magnet``,
``materials.parts.yoke`` or ``temperature``.  Materials are those of the tables and of the design
file.  Five more stand for scatter:
``factors.remanence``, ``factors.recoil_permeability`` and ``factors.coercivity`` multiply every
magnet's, ``factors.steel`` the flux density of every steel's curve, and ``factors.stiffness`` the
suspension's stiffness.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from geometries import Geometry, Role
from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.base.quantity import COLUMN_UNITS
from motor.base.units import UNITS, format_quantity, parse_quantity
from motor.design.characteristic import Characteristic, Polynomial, Table
from motor.design.coil import Coil
from motor.design.design import Design, Materials, MovingParts
from motor.design.heat_rules import HeatRules
from motor.design.winding_part import WindingPart
from motor.design.wire import wire_of_size
from motor.materials import Magnet, TabulatedSteel, magnet_named, steel_named

__all__ = [
    "ENDINGS",
    "OF_MATERIALS",
    "TOGETHER",
    "Draft",
    "Parameter",
    "known_parameters",
    "parameter_named",
]

PARTS = "materials.parts."
WINDINGS = "coil.parts."
TOGETHER = " + "
"""Between the names of parameters that count as one: equal dimensions, correlated tolerances."""
OF_MATERIALS = (
    "factors.remanence",
    "factors.recoil_permeability",
    "factors.coercivity",
    "factors.steel",
)
FACTORS = (*OF_MATERIALS, "factors.stiffness")
ENDINGS = {
    "length": "mm",
    "angle": "deg",
    "mass": "g",
    "area": "cm2",
    "stiffness": "N_per_mm",
    "mechanical_resistance": "kg_per_s",
    "power": "W",
}
"""Unit at the end of a column's name, by kind of quantity."""


@dataclass(frozen=True)
class Parameter:
    """One parameter.

    Parameters
    ----------
    name : str
        Dotted.
    kind : str
        A key of ``motor.base.units.UNITS``, "count", "number" or "text".
    """

    name: str
    kind: str

    def read(self, value: object, *, bare: bool = False) -> Any:
        """Return a value in SI.

        Parameters
        ----------
        value : object
            Text with its unit; a whole number for a count; text for a name.
        bare : bool
            True to accept SI floats for quantities, as from Python.

        Raises
        ------
        InvalidInput
        """
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if self.kind == "text":
            if isinstance(value, str) or (bare and isinstance(value, Magnet | TabulatedSteel)):
                return value
            raise InvalidInput(self.name, "be text in quotes", repr(value))
        if self.kind == "count":
            if isinstance(value, bool) or not isinstance(value, int):
                raise InvalidInput(self.name, "be a whole number", repr(value))
            return value
        if self.kind == "number" or (bare and number):
            if not isinstance(value, int | float) or not number or not math.isfinite(value):
                raise InvalidInput(self.name, "be a finite number", repr(value))
            return float(value)
        return parse_quantity(value, self.kind, self.name)

    @property
    def column(self) -> str:
        """Name of a column of values, with the unit."""
        if self.kind == "temperature":
            return f"{self.name}_degC"
        end = ENDINGS.get(self.kind)
        return self.name if end is None else f"{self.name}_{end}"

    def shown(self, value: Any) -> Any:
        """Return an SI value in the column's unit."""
        if self.kind == "temperature":
            return round(value - ZERO_CELSIUS, 9)
        if self.kind in ENDINGS:
            return float(f"{COLUMN_UNITS[ENDINGS[self.kind]].of_si(value):.12g}")
        return value if isinstance(value, str | int | float) else value.name

    def text(self, value: Any) -> str:
        """Return a value as text with its unit, rounded for reading."""
        if self.kind not in UNITS:
            return str(self.shown(value))
        return format_quantity(float(f"{value:.6g}"), self.kind)


def known_parameters(design: Design) -> dict[str, Parameter]:
    """Return every parameter of a design by name."""
    found: dict[str, str] = {"temperature": "temperature"}
    drawing = design.geometry.changeable()
    found |= {f"geometry.{name}": entry.quantity for name, entry in drawing.items()}
    sections: dict[str, Any] = {
        "coil": design.coil,
        "coil.wire": design.coil.wire,
        "moving_parts": design.moving_parts,
        "heat": design.heat,
        **{f"{WINDINGS}{part.name}": part for part in design.coil.parts},
    }
    for section, record in sections.items():
        for item in dataclasses.fields(record) if record is not None else ():
            kind = item.metadata.get("quantity")
            if item.name in ("wire", "parts") or (item.name, section[:11]) == ("name", WINDINGS):
                continue
            found[f"{section}.{item.name}"] = (
                kind if kind in (*UNITS, "count", "number") else "text"
            )
    found |= {"coil.wire.size": "text"}
    found |= {f"materials.{key}": "text" for key in ("magnet", "steel", "values")}
    drawn = (region.name for region in design.regions if region.role is not Role.CONDUCTOR)
    found |= {f"{PARTS}{name}": "text" for name in drawn}
    found |= dict.fromkeys(FACTORS, "number")
    return {name: Parameter(name, kind) for name, kind in found.items()}


def parameter_named(design: Design, name: str) -> Parameter:
    """Return a design's parameter; InvalidInput with the near names if there is none."""
    known = known_parameters(design)
    if name not in known:
        hint = near_names(name, list(known))
        raise InvalidInput("parameter", f"be one of the design's ({hint})", repr(name))
    return known[name]


@dataclass(frozen=True)
class Draft:
    """A design in the making: a base design and changed parameters, checked only when built.

    Parameters
    ----------
    base : Design
    changes : mapping of dotted name to SI value
    """

    base: Design
    changes: Mapping[str, Any] = field(default_factory=dict)

    def get(self, name: str) -> Any:
        """Return a parameter's value in SI, changed or the base's."""
        if name in self.changes:
            return self.changes[name]
        if name in FACTORS:
            return 1.0
        if name == "coil.wire.size":
            return None
        if name.startswith("geometry."):
            return self.base.geometry.changeable()[name.removeprefix("geometry.")].value
        if name.startswith(PARTS):
            return self._part_material(name.removeprefix(PARTS))
        value: Any = self.base
        keys = name.split(".")
        if name.startswith(WINDINGS):
            value = next(part for part in self.base.coil.parts if part.name == keys[2])
            keys = keys[3:]
        for key in keys:
            value = getattr(value, key)
        return value

    def having(self, changes: Mapping[str, Any]) -> Draft:
        """Return the draft with further changes."""
        return Draft(self.base, {**self.changes, **changes})

    def _section(self, section: str) -> dict[str, Any]:
        """Return the changes of one section by key."""
        return {
            name[len(section) + 1 :]: value
            for name, value in self.changes.items()
            if name.rpartition(".")[0] == section
        }

    def _part_material(self, part: str) -> Any:
        """Return a part's material in the base: its own, or that of all magnets or steels."""
        materials = self.base.materials
        role = next(r.role for r in self.base.regions if r.name == part)
        usual = materials.magnet if role is Role.MAGNET else materials.steel
        return materials.parts.get(part, usual)

    def geometry(self) -> Geometry:
        """Return the geometry as changed; InvalidInput if it contradicts itself."""
        changes = {
            name.removeprefix("geometry."): value
            for name, value in self.changes.items()
            if name.startswith("geometry.")
        }
        if not changes:
            return self.base.geometry
        try:
            return self.base.geometry.changed(changes)
        except InvalidInput as error:
            raise error.within("geometry") from None

    def coil(self) -> Coil:
        """Return the coil as changed; InvalidInput if it contradicts itself."""
        wire = self._section("coil.wire")
        size = wire.pop("size", None)
        changes = self._section("coil")
        try:
            drawn = self.base.coil.wire
            if size is not None:
                drawn = wire_of_size(size, material=wire.get("material", drawn.material))
            if wire:
                drawn = dataclasses.replace(drawn, **wire)
            parts = tuple(self._winding_part(part) for part in self.base.coil.parts)
            return dataclasses.replace(self.base.coil, wire=drawn, parts=parts, **changes)
        except InvalidInput as error:
            raise error.within("coil") from None

    def _winding_part(self, part: WindingPart) -> WindingPart:
        """Return a part of the winding as changed, with a wire of its own if it has one."""
        changes, wire = (self._section(f"{WINDINGS}{part.name}{end}") for end in ("", ".wire"))
        if wire and part.wire is not None:
            changes["wire"] = dataclasses.replace(part.wire, **wire)
        return dataclasses.replace(part, **changes)

    def moving_parts(self) -> MovingParts | None:
        """Return the moving parts as changed; None if the base has none."""
        parts, changes = self.base.moving_parts, self._section("moving_parts")
        if parts is None:
            return None
        parts = dataclasses.replace(parts, **changes)
        factor = self.get("factors.stiffness")
        if factor == 1.0:
            return parts
        return dataclasses.replace(parts, stiffness=_stiffer(parts.stiffness, factor))

    def _materials(self) -> Materials:
        materials = self.base.materials
        parts = {**materials.parts, **self._section("materials.parts")}
        materials = dataclasses.replace(materials, parts=parts, **self._section("materials"))
        *of_magnets, steel = (self.get(name) for name in OF_MATERIALS)
        if steel == 1.0 and all(factor == 1.0 for factor in of_magnets):
            return materials
        return dataclasses.replace(
            materials,
            magnet=_scaled(materials.magnet, of_magnets, steel, magnet=True),
            steel=_scaled(materials.steel, of_magnets, steel, magnet=False),
            parts={
                name: _scaled(part, of_magnets, steel, magnet=None)
                for name, part in materials.parts.items()
            },
        )

    def _heat(self) -> HeatRules:
        try:
            return dataclasses.replace(self.base.heat, **self._section("heat"))
        except InvalidInput as error:
            raise error.within("heat") from None

    def design(self) -> Design:
        """Return the design; InvalidInput if it cannot be built."""
        return self.base.replace(
            geometry=self.geometry(),
            materials=self._materials(),
            coil=self.coil(),
            temperature=self.get("temperature"),
            moving_parts=self.moving_parts(),
            heat=self._heat(),
        )


def _stiffer(stiffness: float | Characteristic, factor: float) -> float | Characteristic:
    """Return a stiffness, number or curve, multiplied."""
    if isinstance(stiffness, Polynomial):
        scaled = tuple(c * factor for c in stiffness.coefficients)
        return dataclasses.replace(stiffness, coefficients=scaled)
    if isinstance(stiffness, Table):
        return dataclasses.replace(stiffness, values=tuple(v * factor for v in stiffness.values))
    if isinstance(stiffness, Characteristic):
        raise InvalidInput("factors.stiffness", "meet a number, polynomial or table", stiffness)
    return stiffness * factor


def _scaled(
    material: Any, of_magnets: Sequence[float], steel: float, *, magnet: bool | None
) -> Any:
    """Return a magnet with remanence, recoil permeability and coercivity multiplied, or a steel.

    Of a steel its flux density.
    """
    record = material
    if isinstance(material, str):
        if magnet is None:
            try:
                record, magnet = magnet_named(material), True
            except InvalidInput:
                record, magnet = steel_named(material), False
        else:
            record = magnet_named(material) if magnet else steel_named(material)
    if isinstance(record, Magnet):
        remanence, recoil, coercivity = of_magnets
        factors = {
            "remanence": remanence,
            "remanence_min": remanence,
            "recoil_permeability": recoil,
            "intrinsic_coercivity": coercivity,
            "intrinsic_coercivity_min": coercivity,
        }
        now = {key: getattr(record, key) for key, factor in factors.items() if factor != 1.0}
        found = {key: v * factors[key] for key, v in now.items() if v is not None}
        return dataclasses.replace(record, **found)
    if not isinstance(record, TabulatedSteel):
        raise InvalidInput("factors.steel", "meet a steel given by a table", record.name)
    return dataclasses.replace(
        record,
        flux_density=tuple(b * steel for b in record.flux_density),
        saturation=None if record.saturation is None else record.saturation * steel,
    )
