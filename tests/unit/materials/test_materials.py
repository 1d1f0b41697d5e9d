"""Materials: spot values of the sources, and curves that obey physics."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest

from geometries import InvalidInput
from motor.base.constants import MU0, NU0
from motor.design.reading import design_from_toml
from motor.design.starters import starter
from motor.design.writing import design_to_toml
from motor.materials import (
    BHCurve,
    LinearSteel,
    TabulatedSteel,
    conductor_named,
    magnet_named,
    steel_named,
)
from motor.materials.conductor import _conductors
from motor.materials.steel import B_END, _steels

GRID_ERROR = 5e-4
"""A curve is read from a table with a row every millitesla; rows between are interpolated."""
STEELS = sorted(_steels())
PUBLISHED = {
    "low-carbon-a": {0.0025: 16, 0.1: 191, 1.0: 342, 1.5: 933, 1.6: 1934, 1.8: 9423},
    "low-carbon-b": {0.1: 153, 0.5: 285, 1.0: 555, 1.5: 2130, 1.8: 10100, 2.0: 26300},
}
"""Rows of two published test problems' tables: B in tesla to H in A/m."""
SATURATED_A = (-2.381e-10, 2.327e-5, 1.590)
"""Published branch above 1.8 T of the first: B = mu0 H + a H^2 + b H + c."""


@pytest.mark.parametrize(
    ("name", "b", "h"), [(n, b, h) for n, rows in PUBLISHED.items() for b, h in rows.items()]
)
def test_steel_passes_through_published_rows(name: str, b: float, h: float) -> None:
    field, _ = steel_named(name).curve().field_and_slope(np.array([b]))
    assert field[0] == pytest.approx(h, rel=GRID_ERROR)


@pytest.mark.parametrize("b", [1.85, 1.95, 2.05, 2.15])
def test_saturated_branch_is_the_published_formula(b: float) -> None:
    field, _ = steel_named("low-carbon-a").curve().field_and_slope(np.array([b]))
    h = float(field[0])
    a, slope, start = SATURATED_A
    assert MU0 * h + a * h**2 + slope * h + start == pytest.approx(b, abs=2e-5)


@pytest.mark.parametrize("name", STEELS)
def test_curve_passes_through_its_whole_table(name: str) -> None:
    steel = steel_named(name)
    h, _ = steel.curve().field_and_slope(np.array(steel.flux_density))
    np.testing.assert_allclose(h, steel.field, rtol=GRID_ERROR)


FLUX = np.concatenate([np.geomspace(1e-6, 0.99e-2, 500), np.linspace(1e-2, 12.0, 40_001)])


@pytest.mark.parametrize("name", STEELS)
def test_field_rises_strictly_from_nothing(name: str) -> None:
    h, slope = steel_named(name).curve().field_and_slope(FLUX)
    assert (np.diff(h) > 0).all()
    assert (slope > 0).all()
    origin, _ = steel_named(name).curve().field_and_slope(np.array([0.0]))
    assert origin[0] == 0.0


@pytest.mark.parametrize("name", STEELS)
def test_steel_ends_like_free_space(name: str) -> None:
    curve = steel_named(name).curve()
    b = np.array([B_END - 1, B_END - 1e-4, B_END + 1e-4, 2 * B_END, 50.0])
    h, slope = curve.field_and_slope(b)
    np.testing.assert_allclose(slope, NU0, rtol=1e-6)
    polarisation = b - MU0 * h
    np.testing.assert_allclose(polarisation, polarisation[0], atol=1e-5)
    assert polarisation[0] == pytest.approx(steel_named(name).saturation, abs=2e-3)


@pytest.mark.parametrize("name", STEELS)
def test_steel_conducts_flux_better_than_air(name: str) -> None:
    steel = steel_named(name)
    b = np.linspace(1e-3, max(steel.flux_density), 5001)
    h, slope = steel.curve().field_and_slope(b)
    assert (h < NU0 * b).all()
    assert (slope <= NU0 * (1 + 1e-3)).all()


@pytest.mark.parametrize("name", STEELS)
def test_slope_is_the_derivative(name: str) -> None:
    curve = steel_named(name).curve()
    b = np.linspace(0.01, 8.0, 1601) + 0.37e-3
    step = 1e-5
    difference = (curve.field_and_slope(b + step)[0] - curve.field_and_slope(b - step)[0]) / (
        2 * step
    )
    np.testing.assert_allclose(curve.field_and_slope(b)[1], difference, rtol=2e-3)


@pytest.mark.parametrize("name", STEELS)
def test_slope_has_no_jumps(name: str) -> None:
    b = np.linspace(0.01, 8.0, 320_001)
    _, slope = steel_named(name).curve().field_and_slope(b)
    assert (np.abs(np.diff(slope)) / slope[1:]).max() < 0.02


@pytest.mark.parametrize("name", STEELS)
@pytest.mark.parametrize("top", [0.01, 0.5, 1.5, 2.0, 3.0, B_END, 8.0])
def test_energy_is_the_integral_of_the_field(name: str, top: float) -> None:
    curve = steel_named(name).curve()
    b = np.linspace(0.0, top, 200_001)
    h, _ = curve.field_and_slope(b)
    integral = float(np.sum((h[1:] + h[:-1]) / 2) * (b[1] - b[0]))
    assert curve.energy(np.array([top]))[0] == pytest.approx(integral, rel=1e-6)


def test_energy_of_nothing_is_nothing() -> None:
    assert steel_named("low-carbon-a").curve().energy(np.array([0.0]))[0] == 0.0


def test_linear_steel_is_its_closed_form() -> None:
    curve = LinearSteel("linear", 7850.0, "", relative_permeability=500.0).curve()
    b = np.array([0.0, 1e-4, 0.7531, 2.0, 5.9])
    h, slope = curve.field_and_slope(b)
    np.testing.assert_allclose(h, b / (500 * MU0), rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(slope, 1 / (500 * MU0), rtol=1e-9)
    np.testing.assert_allclose(curve.energy(b), b**2 / (1000 * MU0), rtol=1e-9, atol=1e-12)


def test_magnetisation_curve_below_the_first_row_is_linear() -> None:
    curve = steel_named("low-carbon-a").curve()
    b = np.array([0.5e-3, 1e-3, 2e-3])
    h, _ = curve.field_and_slope(b)
    np.testing.assert_allclose(h, 16 / 0.0025 * b, rtol=1e-3)


# tables that no steel can have


GOOD = TabulatedSteel(
    name="mine",
    density=7850.0,
    source="",
    flux_density=(0.0, 0.5, 1.0, 1.5, 1.8),
    field=(0.0, 100.0, 300.0, 2000.0, 9000.0),
)

BAD: dict[str, tuple[dict[str, Any], str]] = {
    "B falls": (
        {"flux_density": (0.0, 0.5, 0.4, 1.5, 1.8)},
        "steel mine, row 3 must rise in B; received 0.4 after 0.5",
    ),
    "B stays": (
        {"flux_density": (0.0, 0.5, 1.0, 1.0, 1.8)},
        "steel mine, row 4 must rise in B; received 1.0 after 1.0",
    ),
    "H falls": (
        {"field": (0.0, 100.0, 300.0, 200.0, 9000.0)},
        "steel mine, row 4 must rise in H; received 200.0 after 300.0",
    ),
    "H stays": (
        {"field": (0.0, 100.0, 300.0, 2000.0, 2000.0)},
        "steel mine, row 5 must rise in H; received 2000.0 after 2000.0",
    ),
    "starts below nothing": (
        {"flux_density": (-0.1, 0.5, 1.0, 1.5, 1.8)},
        "steel mine, row 1 must rise in B; received -0.1 after 0.0",
    ),
    "less than free space": (
        {"field": (0.0, 100.0, 300.0, 2000.0, 9e5)},
        "steel mine, row 5 must rise at least as steeply as free space (mu0); received B 1.5 to",
    ),
    "unequal columns": (
        {"field": (0.0, 100.0, 300.0, 2000.0)},
        "steel mine must have at least 4 rows of B and H; received 5 and 4",
    ),
    "too short": (
        {"flux_density": (0.5, 1.0, 1.5), "field": (100.0, 300.0, 2000.0)},
        "steel mine must have at least 4 rows of B and H; received 3 and 3",
    ),
    "not a number": (
        {"field": (0.0, 100.0, math.nan, 2000.0, 9000.0)},
        "steel mine, row 3 must rise in H; received nan after 100.0",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_unphysical_table_is_refused_by_row(case: str) -> None:
    changes, message = BAD[case]
    with pytest.raises(InvalidInput) as caught:
        dataclasses.replace(GOOD, **changes)
    assert message in str(caught.value)


def test_own_table_gives_a_curve_like_any_other() -> None:
    curve = GOOD.curve()
    h, slope = curve.field_and_slope(FLUX)
    assert (np.diff(h) > 0).all()
    assert (slope > 0).all()
    np.testing.assert_allclose(
        curve.field_and_slope(np.array(GOOD.flux_density))[0],
        GOOD.field,
        rtol=GRID_ERROR,
        atol=1e-6,
    )
    assert slope[-1] == pytest.approx(NU0)


def test_curve_approaches_a_given_saturation() -> None:
    curve = dataclasses.replace(GOOD, saturation=2.1).curve()
    b = np.array([1.9, 2.0, 2.2, 2.5, 3.0, 4.0, 5.9, 9.0])
    h, slope = curve.field_and_slope(b)
    polarisation = b - MU0 * h
    assert (np.diff(polarisation) > -1e-6).all()
    assert polarisation.max() < 2.1 + 1e-5
    assert polarisation[-1] == pytest.approx(2.1, abs=1e-3)
    assert slope[-1] == pytest.approx(NU0, rel=1e-3)


def test_curves_of_one_steel_are_made_once() -> None:
    first, second = steel_named("low-carbon-a").curve(), steel_named("low-carbon-a").curve()
    assert first is second
    assert isinstance(first, BHCurve)


# conductors and names


def test_conductors_are_the_published_ones() -> None:
    copper, aluminium = conductor_named("copper"), conductor_named("aluminium")
    assert copper.resistivity == pytest.approx(1.7241e-8)
    assert copper.resistivity_at(393.15) == pytest.approx(1.7241e-8 * 1.393)
    assert copper.resistivity / aluminium.resistivity == pytest.approx(0.61, abs=1e-3)
    assert all(conductor.source for conductor in _conductors().values())


@pytest.mark.parametrize(
    ("find", "wrong", "near"),
    [
        (magnet_named, "y30", "Y30"),
        (magnet_named, "N42SJ", "N42SH"),
        (steel_named, "low-carbon-c", "low-carbon-a"),
        (conductor_named, "aluminum", "aluminium"),
    ],
)
def test_misspelt_material_is_told_the_near_one(find: Any, wrong: str, near: str) -> None:
    with pytest.raises(InvalidInput, match=f"did you mean .*{near}.*received '{wrong}'"):
        find(wrong)


def test_own_steel_keeps_what_small_alternating_fields_need() -> None:
    steel = dataclasses.replace(
        steel_named("low-carbon-a"),
        name="mine",
        initial_permeability=310.0,
        initial_spread=1.3,
        coercivity=250.0,
        temperature_coefficient=0.005,
        reversible_permeability=((0.0, 310.0), (1.5, 60.0), (2.1, 4.0)),
    )
    design = starter("outside-magnet")
    design = design.replace(materials=dataclasses.replace(design.materials, steel=steel))
    assert design_from_toml(design_to_toml(design)) == design
    assert steel.curve().coercivity == 250.0
