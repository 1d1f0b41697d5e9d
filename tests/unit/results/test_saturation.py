"""What a coil's steady current does to the steel, against the map of force over current."""

from __future__ import annotations

import numpy as np
import pytest

from geometries import InvalidInput
from motor.design.starters import starter
from motor.results.coil_map import CoilMap, coil_map
from motor.results.motor_result import MotorResult, solve
from motor.results.saturation import PLACES, Saturation, saturation

LARGEST, BETWEEN = 16.0, 12.0


@pytest.fixture(scope="module")
def woofer() -> MotorResult:
    return solve(starter("outside-magnet"))


@pytest.fixture(scope="module")
def law(woofer: MotorResult) -> Saturation:
    return saturation(woofer, LARGEST)


@pytest.fixture(scope="module")
def direct(woofer: MotorResult, law: Saturation) -> CoilMap:
    """Return fields of their own, half-way between two of the law's places."""
    middles = (law.position[1:2] + law.position[2:3]) / 2
    return coil_map(woofer, middles, [BETWEEN, LARGEST])


def test_odd_force_left_is_the_map_s(law: Saturation, direct: CoilMap) -> None:
    """Places, currents and mesh are other ones; the flux in steel stands for the current."""
    left = (direct.odd / BETWEEN - direct.bl[:, None])[:, 0]
    small = np.interp(direct.position, law.position, law.inductance)
    found = []
    for sign in (1.0, -1.0):
        s = sign * BETWEEN * np.ones(len(small))
        for _ in range(20):
            s = sign * BETWEEN + law.at(direct.position, s).by_s / small
        found.append(law.at(direct.position, s).by_x)
    assert (np.abs(left) > 3e-3 * direct.bl).all()
    np.testing.assert_allclose((found[0] - found[1]) / 2 / BETWEEN, left, rtol=0.06)


def test_force_and_flux_linkage_come_from_one_energy(law: Saturation) -> None:
    """The slope of the linkages' factors between places against those found from forces."""
    inner = slice(1, -1)
    step = law.position[2:] - law.position[:-2]
    slope = (law.linkage[2:] - law.linkage[:-2]) / step[:, None]
    mean = (law.force[2:] + 4 * law.force[inner] + law.force[:-2]) / 6
    np.testing.assert_allclose(slope[:, 0], mean[:, 0], atol=0.05 * np.abs(law.force[:, 0]).max())


def test_it_says_what_bl_does(law: Saturation) -> None:
    assert len(law.position) == PLACES
    assert law.largest == LARGEST
    assert (law.bl_change[:4] < -1e-3).all()
    assert law.misfit < 0.05


def test_change_of_bl_is_the_map_s_within_its_uncertainty(law: Saturation, direct: CoilMap) -> None:
    value, doubt = law.change_of_bl(direct.position)
    assert (np.abs(value - direct.saturation[:, 1]) < doubt).all()
    assert (doubt < 0.3 * np.abs(value)).all()
    assert law.law_uncertainty > 0.05 * np.abs(law.bl_change).max()


def test_what_is_no_saturation_is_refused(law: Saturation) -> None:
    with pytest.raises(InvalidInput, match="force must be of shape"):
        Saturation(
            law.position, 1.0, law.inductance, law.linkage, law.force[1:], 0.0, law.bl_change
        )
    nowhere = law.linkage * np.nan
    with pytest.raises(InvalidInput, match="saturation must be finite"):
        Saturation(law.position, 1.0, law.inductance, nowhere, law.force, 0.0, law.bl_change)
