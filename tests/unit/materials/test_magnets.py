"""Magnet grades: published bands, what heat does, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometries import InvalidInput
from motor.base.units import format_quantity
from motor.materials import Magnet, magnet_named
from motor.materials.magnet import _magnets


@pytest.mark.parametrize(
    ("grade", "low", "high"),
    [
        ("Y25", 0.360, 0.400),
        ("Y30", 0.370, 0.400),
        ("Y30H-1", 0.380, 0.400),
        ("Y33", 0.410, 0.420),
        ("Y35", 0.400, 0.410),
        ("N35", 1.205, 1.215),
        ("N42", 1.310, 1.320),
    ],
)
def test_remanence_lies_in_the_published_band(grade: str, low: float, high: float) -> None:
    assert low <= magnet_named(grade).remanence <= high


@pytest.mark.parametrize("grade", sorted(_magnets()))
def test_magnet_row_is_physical_and_has_a_source(grade: str) -> None:
    magnet = magnet_named(grade)
    assert 1.0 <= magnet.recoil_permeability < (4.0 if magnet.family == "alnico" else 1.3)
    assert -0.003 < magnet.temperature_coefficient < 0
    assert 4500 < magnet.density < 8500
    assert magnet.source


@pytest.mark.parametrize(("grade", "per_kelvin"), [("Y30", -0.0020), ("N42", -0.0012)])
def test_remanence_falls_with_temperature(grade: str, per_kelvin: float) -> None:
    magnet = magnet_named(grade)
    assert magnet.remanence_at(293.15) == magnet.remanence
    warm, cold = magnet.remanence_at(343.15), magnet.remanence_at(253.15)
    assert warm == pytest.approx(magnet.remanence * (1 + 50 * per_kelvin))
    assert cold == pytest.approx(magnet.remanence * (1 - 40 * per_kelvin))


@pytest.mark.parametrize("grade", sorted(_magnets()))
def test_invented_prices_follow_their_law(grade: str) -> None:
    """More than in proportion to the energy product; the heat's classes cost more besides."""
    magnet = magnet_named(grade)
    middle = sum(magnet.energy_product_band) / 2e3
    if magnet.family == "neodymium":
        classes = {"": 0.75, "M": 0.8, "H": 0.88, "SH": 1.0, "UH": 1.2}
        law = 80 * classes[grade.lstrip("N0123456789")] * (middle / 330) ** 1.5
    elif magnet.family == "ferrite":
        law = 5 * (middle / 29.5) ** 1.5 * (magnet.intrinsic_coercivity / 262e3) ** 0.25
    else:
        assert magnet.price > 0
        return
    assert magnet.price == pytest.approx(law, rel=0.015)


def test_the_strongest_grade_is_not_the_cheapest_joule() -> None:
    for family in ("neodymium", "ferrite"):
        grades = [m for m in _magnets().values() if m.family == family]
        per_joule = {m.name: m.price / m.energy_product_band[1] for m in grades}
        strongest = max(grades, key=lambda m: m.energy_product_band[1])
        assert per_joule[strongest.name] > 1.1 * min(per_joule.values())


@pytest.mark.parametrize("share", [-0.2, 0.3, 0.9, 1.05, 1.4])
def test_field_of_the_curve_is_its_inverse_on_both_sides_of_the_remanence(share: float) -> None:
    curve = magnet_named("N42").curve_at(293.15)
    assert curve is not None
    wanted = np.array(share * curve.remanence)
    assert curve.flux_density(curve.field_at(wanted)) == pytest.approx(wanted, abs=2e-4)


def test_magnet_without_remanence_is_refused() -> None:
    with pytest.raises(
        InvalidInput, match=r"temperature must stay below 460 degC, .* received 526.9 degC"
    ):
        magnet_named("Y30").remanence_at(800.0)


@pytest.mark.parametrize("remanence", [0.0, -1.0, 3.5, math.nan])
def test_impossible_remanence_is_refused(remanence: float) -> None:
    with pytest.raises(InvalidInput, match=r"remanence of mine must lie between 0\.01 and 3 T"):
        Magnet("mine", remanence, 1.05)


@pytest.mark.parametrize("permeability", [0.9, 25.0, math.nan])
def test_impossible_recoil_is_refused(permeability: float) -> None:
    with pytest.raises(InvalidInput, match="recoil_permeability of mine must lie between 1 and 20"):
        Magnet("mine", 0.4, permeability)


def test_coercivities_are_in_ampere_per_metre() -> None:
    """N42 without a suffix: HcJ of at least 12 kOe, 955 kA/m; Y30: 180 to 220 kA/m."""
    oersted = 1e3 / (4 * math.pi)
    assert magnet_named("N42").intrinsic_coercivity == pytest.approx(12e3 * oersted, rel=1e-3)
    assert 180e3 <= (magnet_named("Y30").intrinsic_coercivity or 0) <= 220e3


def test_range_of_use_is_in_kelvin() -> None:
    """N42 without a suffix is for use up to 80 degC."""
    grade = magnet_named("N42")
    assert grade.range_note(273.15 + 79) == ""
    assert "80 degC" in grade.range_note(273.15 + 81)
    assert grade.range_note(273.15 - 39) == ""
    assert "-40" in grade.range_note(273.15 - 41)


def test_limits_of_every_grade_are_written_in_degrees() -> None:
    for magnet in _magnets().values():
        for kelvin in (magnet.coldest, magnet.hottest, magnet.curie):
            assert format_quantity(kelvin, "temperature").endswith(" degC")
