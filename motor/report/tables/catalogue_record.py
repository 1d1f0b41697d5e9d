"""The material tables as records for scripts, units in the names."""

from __future__ import annotations

from typing import Any

from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.base.names import near_names
from motor.design.wire import round_sizes
from motor.materials import (
    conductor_named,
    conductor_names,
    former_named,
    former_names,
    magnet_named,
    magnet_names,
    steel_named,
    steel_names,
)

__all__ = [
    "KINDS",
    "STATES",
    "catalogue_record",
    "families",
    "material_names",
    "material_record",
    "unknown",
]

KINDS = ("magnets", "steels", "conductors", "formers", "wire")
STATES = (233.15, 293.15, 378.15)
"""Temperatures in kelvin at which a magnet's curve is described."""


def material_names() -> list[str]:
    """Return the names of all magnets, steels, conductors and formers."""
    return [*magnet_names(), *steel_names(), *conductor_names(), *former_names()]


def material_record(name: str) -> dict[str, Any]:
    """Return everything known of one material; InvalidInput with near names if none has it."""
    if name in magnet_names():
        return _magnet(name)
    if name in steel_names():
        return _steel(name)
    if name in conductor_names():
        c = conductor_named(name)
        return {
            "name": c.name,
            "kind": "conductor",
            "resistivity_ohm_m": c.resistivity,
            "temperature_coefficient_per_K": c.temperature_coefficient,
            "density_kg_per_m3": c.density,
            "price_per_kg": c.price,
            "source": c.source,
        }
    if name in former_names():
        f = former_named(name)
        return {
            "name": f.name,
            "kind": "former",
            "density_kg_per_m3": f.density,
            "conductivity_S_per_m": f.conductivity,
            "hottest_degC": round(f.hottest - ZERO_CELSIUS, 6),
            "price_per_kg": f.price,
            "source": f.source,
        }
    raise unknown(name)


def unknown(name: str) -> InvalidInput:
    """Return the error for a material that no table has, with near names."""
    near = near_names(name, [*material_names(), *families()])
    return InvalidInput("material", f"be a known one ({near})", repr(name))


def _magnet(name: str) -> dict[str, Any]:
    m = magnet_named(name)
    low, high = m.energy_product_band
    states = []
    for kelvin in STATES:
        curve = m.curve_at(kelvin)
        assert curve is not None
        states.append(
            {
                "temperature_degC": round(kelvin - ZERO_CELSIUS, 6),
                "remanence_T": curve.remanence,
                "coercivity_kA_per_m": curve.coercivity / 1e3,
                "intrinsic_coercivity_kA_per_m": curve.intrinsic_coercivity / 1e3,
                "knee_kA_per_m": curve.knee / 1e3,
                "energy_product_kJ_per_m3": curve.energy_product / 1e3,
            }
        )
    least = m.intrinsic_coercivity_min
    return {
        "name": m.name,
        "kind": "magnet",
        "family": m.family,
        "states": states,
        "published_energy_product_kJ_per_m3": [low / 1e3, high / 1e3],
        "least_remanence_T": m.remanence_min,
        "least_intrinsic_coercivity_kA_per_m": None if least is None else least / 1e3,
        "remanence_coefficient_per_K": m.temperature_coefficient,
        "coercivity_coefficient_per_K": m.coercivity_coefficient,
        "recoil_permeability": m.recoil_permeability,
        "squareness": m.squareness,
        "density_kg_per_m3": m.density,
        "conductivity_S_per_m": m.conductivity,
        "coldest_degC": round(m.coldest - ZERO_CELSIUS, 6),
        "hottest_degC": round(m.hottest - ZERO_CELSIUS, 6),
        "curie_degC": round(m.curie - ZERO_CELSIUS, 6),
        "price_per_kg": m.price,
        "source": m.source,
    }


def _steel(name: str) -> dict[str, Any]:
    s = steel_named(name)
    return {
        "name": s.name,
        "kind": "steel",
        "flux_density_T": list(s.flux_density),
        "field_A_per_m": list(s.field),
        "saturation_T": s.saturation,
        "density_kg_per_m3": s.density,
        "conductivity_S_per_m": s.conductivity,
        "conductivity_spread": s.conductivity_spread,
        "resistivity_coefficient_per_K": s.temperature_coefficient,
        "initial_permeability": s.initial_permeability,
        "initial_permeability_spread": s.initial_spread,
        "coercivity_A_per_m": s.curve().coercivity,
        "coercivity_guessed": s.coercivity is None,
        "price_per_kg": s.price,
        "source": s.source,
    }


def families() -> list[str]:
    """Return what narrows the catalogue: kinds of material, and families of magnets."""
    return [*KINDS, *dict.fromkeys(magnet_named(name).family for name in magnet_names())]


def catalogue_record(family: str = "") -> dict[str, Any]:
    """Return all materials by kind, and the sizes of round wire by series.

    ``family`` narrows it as in :func:`families`.
    """
    record = _catalogue()
    if family in record:
        record = {family: record[family]}
    elif family:
        record = {"magnets": [m for m in record["magnets"] if m["family"] == family]}
    return {"name": family or "materials"} | record


def _catalogue() -> dict[str, Any]:
    kinds = {
        "magnets": magnet_names(),
        "steels": steel_names(),
        "conductors": conductor_names(),
        "formers": former_names(),
    }
    record: dict[str, Any] = {
        kind: [material_record(name) for name in names] for kind, names in kinds.items()
    }
    record["wire"] = {series: list(round_sizes(series, 1)) for series in ("metric", "awg")}
    return record
