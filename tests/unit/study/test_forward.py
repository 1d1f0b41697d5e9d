"""What measurements would read on a solved motor, against its own results and closed forms."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest

import motor
from motor.base.errors import InvalidInput
from motor.results.motor_result import MotorResult
from motor.study.forward import around, built, numerical, parts_of, reading, wound
from motor.study.measurements import Measurement
from motor.study.parameters import Parameter
from motor.study.unknowns import PERMEABILITY, TURNS, Unknown


@pytest.fixture(scope="module")
def result(solved: Callable[[str], MotorResult]) -> MotorResult:
    found = solved("outside-magnet")
    parts = motor.MovingParts(mass=0.01, stiffness=1000.0, mechanical_resistance=1.0)
    return dataclasses.replace(found, design=wound(found.design.replace(moving_parts=parts)))


def _taken(kind: str, role: str, places: list[float], **settings: float) -> Measurement:
    at = np.array(places)
    return Measurement("m", kind, {role: at}, at, 1.0, settings=settings)


def test_bl_is_the_curve(result: MotorResult) -> None:
    x = [-4e-3, 0.0, 3e-3]
    rig = _taken("bl", "x", x)
    assert reading(result, rig) == pytest.approx(result.bl_curve(x), rel=1e-4)
    assert reading(result, rig, 1e-3) == pytest.approx(
        result.bl_curve(np.array(x) + 1e-3), rel=1e-4
    )
    force = _taken("force", "x", x, current=2.0)
    assert reading(result, force) == pytest.approx(2 * result.bl_curve(x), rel=1e-4)


def test_a_small_probe_reads_the_gap_profile(result: MotorResult) -> None:
    profile = result.gap_profile
    middle = len(profile.z) // 2
    scan = _taken(
        "gap_scan", "z", [profile.z[middle]], radius=profile.coil_radius, probe_height=2e-4
    )
    assert reading(result, scan) == pytest.approx([profile.at_coil[middle]], rel=5e-3)


def test_bl_of_a_coil_of_parts_is_the_sum_of_theirs() -> None:
    found = motor.solve(motor.starter("two-gap"), uncertainty=False)
    assert found.design.coil.parts
    x = [-3e-3, 0.0, 2e-3]
    assert reading(found, _taken("bl", "x", x)) == pytest.approx(found.bl_curve(x), rel=1e-4)


def test_a_search_coil_links_the_flux_through_its_disc(result: MotorResult) -> None:
    gap = result.design.geometry.gap
    coil = _taken("flux", "z", [gap.bottom, gap.top], radius=gap.mean_radius, turns=10.0)
    linked = reading(result, coil)
    psi = result.field.flux_function(gap.mean_radius, np.array([gap.bottom, gap.top]))
    assert linked == pytest.approx(20 * math.pi * np.abs(psi))


def test_impedance_at_resonance_is_re_and_the_motion(result: MotorResult) -> None:
    """Re + Bl^2/Rms where mass and stiffness cancel (Small 1972), and L far above."""
    assert result.resonance is not None
    at = np.array([result.resonance, 5000.0])
    taken = dataclasses.replace(
        _taken("impedance", "frequency", at.tolist()),
        held=2j * math.pi * at * 1e-3,
        along={"frequency": at, "part": np.array([0.0, 1.0])},
    )
    bl = result.bl_curve.at_rest.value
    peak, above = reading(result, taken)
    assert peak == pytest.approx(result.resistance + bl**2 / 1.0, rel=1e-4)
    assert above == pytest.approx(2 * math.pi * 5000 * 1e-3, rel=0.01)
    size = dataclasses.replace(taken, along={"frequency": at, "part": np.full(2, 2.0)})
    assert reading(result, size)[1] == pytest.approx(math.hypot(result.resistance, above), rel=0.01)
    share = result.bl_curve.at_rest.uncertainty / bl
    doubt = numerical(result, taken)[0]
    assert doubt == pytest.approx(2 * share * bl**2 / 2, rel=0.3)
    twice = built(result.design, {TURNS: 2.0})
    assert twice.coil.resistance() == pytest.approx(2 * result.design.coil.resistance())


def test_turns_go_into_bl_in_proportion(result: MotorResult) -> None:
    turns = Unknown(Parameter(TURNS, "number"), 1.0, 0.01)
    side = around(result, [turns], {TURNS: 1.0})[TURNS]
    ends = [reading(r, _taken("bl", "x", [0.0]))[0] for r in (side.low, side.high)]
    bl = result.bl_curve.at_rest.value
    assert (ends[1] - ends[0]) / side.step == pytest.approx(bl, rel=1e-4)


def test_winding_height_leaves_counted_turns(result: MotorResult) -> None:
    taller = built(result.design, {"coil.winding_height": 1.1 * result.design.coil.winding_height})
    assert taller.coil.turns == result.design.coil.turns


def test_factors_stay_positive(result: MotorResult) -> None:
    for name in (TURNS, PERMEABILITY):
        with pytest.raises(InvalidInput, match="greater than 0"):
            built(result.design, {name: -1.0})


def test_what_is_read_of_an_impedance_changes_with_it() -> None:
    """Real part, imaginary part and magnitude, against their differences."""
    taken = Measurement("m", "impedance", {"part": np.array([0, 1, 2])}, np.zeros(3), 1.0)
    z, change = np.full(3, 5.0 + 3.0j), np.array([[1.0 - 2.0j]] * 3)
    near = 1e-6 * change[:, 0]
    expected = (parts_of(taken, z + near) - parts_of(taken, z - near)) / 2e-6
    np.testing.assert_allclose(parts_of(taken, z, change)[:, 0], expected, rtol=1e-6)
