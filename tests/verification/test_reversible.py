"""Reversible permeability: Gans' curve, its limits, and initial permeabilities in print.

Sources: R. Gans' universal curve of the reversible susceptibility (Annalen der Physik, 1910 and
1911; the formula from memory, its values at seven magnetisations computed independently);
initial permeabilities: the Modelica Standard Library's records (200, 400, 2666), and the first
row of the table of TEAM workshop problem 13 (0.0025 T at 16 A/m).
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from geometries import InvalidInput
from motor.base.constants import MU0
from motor.materials import steel_named, steel_names
from motor.materials.reversible import ReversibleLaw, gans_ratios
from motor.materials.steel import MOST_PERMEABLE_AT
from tests.verification.checks import check, other_route, transcription

SOURCE = other_route("Gans' universal curve (1911, from memory), computed independently")
RATIOS = {
    0.1: 0.982041,
    0.2: 0.928675,
    0.4: 0.723663,
    0.6: 0.420315,
    0.8: 0.119562,
    0.9: 0.030000,
    0.95: 0.007500,
}
PRINTED = {"mild-steel-1008": 200.0, "free-cutting-steel": 400.0, "pure-iron": 2666.0}


@pytest.mark.parametrize(("share", "expected"), RATIOS.items())
def test_course_along_the_magnetisation(share: float, expected: float) -> None:
    along, _ = gans_ratios(np.array([share]))
    check(f"chi_rev/chi_initial at M/Ms {share:g}", SOURCE, expected, float(along[0]), 3e-5)


def test_limits_of_the_curve() -> None:
    share = np.linspace(0.0, 1.0, 2001)
    along, across = gans_ratios(share)
    assert along[0] == pytest.approx(1.0, abs=1e-6)
    assert across[0] == pytest.approx(1.0, abs=1e-6)
    assert along[-1] == across[-1] == 0.0
    assert (np.diff(along) < 1e-9).all()
    assert (np.diff(across) < 1e-9).all()
    assert (along <= across + 1e-9).all()


def test_initial_permeability_in_print() -> None:
    for name, expected in PRINTED.items():
        got = steel_named(name).initial_permeability
        what = f"initial permeability of {name}"
        check(
            what, transcription("Modelica Standard Library, mu_i"), expected, got or math.nan, 1e-9
        )
    first = 0.0025 / (16 * MU0)
    got = steel_named("low-carbon-a").initial_permeability
    what = "initial permeability of low-carbon-a"
    check(what, transcription("TEAM workshop problem 13, first row"), first, got or math.nan, 5e-3)


@pytest.mark.parametrize("record", [(10, 0.94, 5900, 4.19, 6.4), (500, 1.036, 43414, 35.8, 14)])
def test_coercivity_of_free_cutting_steel_from_its_siblings(record: tuple[float, ...]) -> None:
    """12L14 and 9SMn28k of the Modelica Standard Library: where each is most permeable."""
    first, scale, a, b, n = record
    flux = np.linspace(0.01, 1.8, 4000)
    x = flux / scale
    mu = 1 + (first - 1 + a * x) / (1 + b * x + x**n)
    field = flux[mu.argmax()] / (MU0 * mu.max())
    got = steel_named("free-cutting-steel").curve().coercivity
    assert got == pytest.approx(field / MOST_PERMEABLE_AT, rel=0.01)


@pytest.mark.parametrize("name", steel_names())
def test_never_more_permeable_than_the_magnetising_curve(name: str) -> None:
    steel = steel_named(name)
    curve = steel.curve()
    b = np.linspace(0.001, 3.0, 3000)
    h, slope = curve.field_and_slope(b)
    assert curve.law is not None
    across, along = curve.law.reluctivities(b, h / b, slope, curve.saturation)
    assert (across >= h / b).all()
    assert (along >= slope).all()
    assert along[-1] * MU0 == pytest.approx(1.0, rel=0.02)
    assert along[0] * MU0 * curve.law.initial == pytest.approx(1.0, rel=0.01)
    doubled, _ = curve.law.reluctivities(b, h / b, slope, curve.saturation, scale=2.0)
    assert (doubled <= across).all()


def test_the_share_of_saturation_is_that_of_the_polarisation() -> None:
    """1 T at H/B = nu0/2: half of it is free space's, so J = 0.5 T of 1 T."""
    law = ReversibleLaw(200.0)
    b, nu = np.array([1.0]), np.array([0.5 / MU0])
    low = np.array([1e-3])
    ratio = float(gans_ratios(np.array([0.5]))[0][0])
    _, along = law.reluctivities(b, nu, low, 1.0)
    assert 1 / (MU0 * along[0]) == pytest.approx(1 + 199 * ratio)


def test_a_measured_curve_takes_the_place_of_gans() -> None:
    rows = ((0.0, 300.0), (1.0, 150.0), (2.0, 5.0))
    steel = dataclasses.replace(steel_named("low-carbon-a"), reversible_permeability=rows)
    curve, b = steel.curve(), np.array([0.5])
    h, slope = curve.field_and_slope(b)
    assert curve.law is not None
    _, along = curve.law.reluctivities(b, h / b, slope, curve.saturation)
    assert 1 / (MU0 * along[0]) == pytest.approx(225.0)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"initial": 0.5}, "initial_permeability must be at least 1"),
        ({"initial": math.nan}, "initial_permeability must be at least 1"),
        ({"initial": 100.0, "spread": 0.9}, "initial_spread must be at least 1"),
        ({"initial": 100.0, "measured": ((1.0, 5.0), (0.5, 9.0))}, "must rise in flux density"),
        ({"initial": 100.0, "measured": ((0.0, 0.5),)}, "permeabilities of at least 1"),
    ],
)
def test_wrong_values_are_refused(values: dict[str, float], message: str) -> None:
    with pytest.raises(InvalidInput, match=message):
        ReversibleLaw(**values)


def test_hot_steel_conducts_less() -> None:
    steel = steel_named("pure-iron")
    assert steel.conductivity_at(293.15) == steel.conductivity
    assert steel.conductivity_at(393.15) == pytest.approx(steel.conductivity / 1.6)
