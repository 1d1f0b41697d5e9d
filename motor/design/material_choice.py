"""What a motor's parts are made of: names of the tables, or the designer's own records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from geometries import InvalidInput, Region, Role
from geometries.errors import shortened
from motor.materials import (
    Conductor,
    Former,
    Magnet,
    Steel,
    conductor_named,
    magnet_named,
    steel_named,
)

__all__ = ["Materials"]

DEAREST = 1e9
"""Price per kilogram."""
VALUES = ("typical", "minimum", "worst")
DEMAGNETISATION = ("included", "ignored")


def _own_or_named(
    own: Mapping[str, Magnet | Steel], wanted: str | Magnet | Steel
) -> str | Magnet | Steel:
    """Return the designer's own material of a name; any other as it is."""
    return own.get(wanted, wanted) if isinstance(wanted, str) else wanted


@dataclass(frozen=True, kw_only=True)
class Materials:
    """Names of magnet grade and steel, for all parts or part by part.

    Parameters
    ----------
    magnet : str or Magnet
        Grade of every magnet: a name from the tables, or a record.
    steel : str or Steel
        Steel of every steel part: a name from the tables, or a record.
    values : str
        "typical", "minimum" (least remanence and coercivity) or "worst" (greatest remanence with
        least coercivity, the first to lose remanence): which of a grade's values to use.
    demagnetisation : str
        "included": what magnets lose for good at the design's temperature is lost; "ignored":
        remanence is held whatever the field.
    parts : mapping of region name to str, Magnet or Steel
        Exceptions for single parts.
    temperatures : mapping of region name to float
        Of parts warmer or colder than the design, kelvin.
    prices : mapping of material name to float
        Per kilogram, instead of the tables' invented defaults.
    own : mapping of name to Magnet or Steel
        The designer's own, by name before the tables; records given above are among them.
    """

    magnet: str | Magnet = field(metadata={"doc": "grade of every magnet"})
    steel: str | Steel = field(metadata={"doc": "steel of every plate, pole and cup"})
    values: str = field(
        default="typical",
        metadata={"doc": "of the magnets' tables", "options": VALUES},
    )
    demagnetisation: str = field(
        default="included",
        metadata={"doc": "what magnets lose for good", "options": DEMAGNETISATION},
    )
    parts: Mapping[str, str | Magnet | Steel] = field(default_factory=dict)
    temperatures: Mapping[str, float] = field(default_factory=dict)
    prices: Mapping[str, float] = field(default_factory=dict)
    own: Mapping[str, Magnet | Steel] = field(default_factory=dict)

    def __post_init__(self) -> None:
        given = (self.magnet, self.steel, *self.parts.values())
        used = {record.name: record for record in given if not isinstance(record, str)}
        own = {**self.own, **used}
        object.__setattr__(self, "own", own)
        for key in ("magnet", "steel"):
            object.__setattr__(self, key, _own_or_named(own, getattr(self, key)))
        parts = {part: _own_or_named(own, wanted) for part, wanted in self.parts.items()}
        object.__setattr__(self, "parts", parts)
        for name, price in self.prices.items():
            number = isinstance(price, int | float) and not isinstance(price, bool)
            if not (number and 0 < price <= DEAREST):
                limit = f"be greater than 0 and at most {DEAREST:g} per kg"
                raise InvalidInput(f"prices.{name}", limit, shortened(price))
        for name, known in (("values", VALUES), ("demagnetisation", DEMAGNETISATION)):
            if getattr(self, name) not in known:
                raise InvalidInput(name, f"be {' or '.join(known)}", repr(getattr(self, name)))

    def magnet_of(self, region: str) -> Magnet:
        """Return the grade of a magnet part."""
        wanted = self.parts.get(region, self.magnet)
        grade = magnet_named(wanted) if isinstance(wanted, str) else wanted
        if not isinstance(grade, Magnet):
            raise InvalidInput(f"material of {region}", "be a magnet grade", grade.name)
        if self.values == "worst":
            return grade.worst()
        return grade.least() if self.values == "minimum" else grade

    def material_of(self, region: Region) -> Magnet | Steel | Conductor:
        """Return what a part is made of."""
        if region.role is Role.MAGNET:
            return self.magnet_of(region.name)
        if region.role is Role.STEEL:
            return self.steel_of(region.name)
        return conductor_named(region.material or "copper")

    def price_of(self, material: Magnet | Steel | Conductor | Former) -> float:
        """Return the price per kilogram of a material."""
        return self.prices.get(material.name, material.price)

    def steel_of(self, region: str) -> Steel:
        """Return the steel of a steel part."""
        wanted = self.parts.get(region, self.steel)
        if isinstance(wanted, str):
            return steel_named(wanted)
        if not isinstance(wanted, Steel):
            raise InvalidInput(f"material of {region}", "be a steel", wanted.name)
        return wanted
