"""The held coil's impedance during a fit, beside that of motors solved anew."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping

import numpy as np
import pytest

import motor
import motor.study.predicted as offered
from motor.base.arrays import Complexes
from motor.field.eddy_currents import SKIN
from motor.results.at_coil import AT_COIL
from motor.results.impedance import COARSER, blocked_impedance
from motor.results.motor_result import MotorResult
from motor.study.fitting import fit
from motor.study.forward import around, built, wound
from motor.study.held_coil import HeldCoil, held_coil, meshing, permeable
from motor.study.measurements import Measurement, Measurements
from motor.study.parameters import parameter_named
from motor.study.predicted import candidates
from motor.study.unknowns import PERMEABILITY, TURNS, Unknown, smooth_parameter, with_motion

FREQUENCY = np.array([30.0, 200.0, 1000.0])
GAP = "geometry.gap_width"


@pytest.fixture(scope="module")
def result(solved: Callable[[str], MotorResult]) -> MotorResult:
    """Return a motor that moves, on its coarser mesh."""
    found = solved("outside-magnet")
    parts = motor.MovingParts(mass=0.01, stiffness=1000.0, mechanical_resistance=1.0)
    field = dataclasses.replace(found.field, fine=found.field.coarse)
    design = wound(found.design.replace(moving_parts=parts))
    return dataclasses.replace(found, design=design, field=field)


@pytest.fixture(scope="module")
def unknowns(result: MotorResult) -> tuple[Unknown, ...]:
    gap = parameter_named(result.design, GAP)
    return (
        Unknown(gap, result.design.geometry.gap.width, 0.1e-3),
        Unknown(smooth_parameter(result.design, PERMEABILITY), 1.0, 0.2),
        Unknown(smooth_parameter(result.design, TURNS), 1.0, 0.01),
    )


@pytest.fixture(scope="module")
def held(result: MotorResult, unknowns: tuple[Unknown, ...]) -> HeldCoil:
    values = {u.name: u.prior for u in unknowns}
    meshes = meshing(result, FREQUENCY)
    sides = around(result, unknowns, values)
    return held_coil(result, unknowns, sides, FREQUENCY, meshes, 0.02, np.zeros(3))


def _linkage(result: MotorResult, changes: Mapping[str, float]) -> Complexes:
    """Return the logarithm of the linkage of a motor solved anew, on a mesh of its own."""
    found = motor.solve(built(result.design, changes), uncertainty=False)
    coarse = {"skin": COARSER * SKIN, "at_coil": COARSER * AT_COIL}
    z = blocked_impedance(found, [0.0], FREQUENCY.tolist(), **coarse)
    return np.log((z.impedance[:, 0] - z.coil_resistance) / (2j * np.pi * FREQUENCY))


@pytest.mark.parametrize(("name", "place"), [(GAP, 0), (PERMEABILITY, 1)])
def test_slopes_are_those_between_motors_solved_anew(
    result: MotorResult, unknowns: tuple[Unknown, ...], held: HeldCoil, name: str, place: int
) -> None:
    one = unknowns[place]
    low, high = (_linkage(result, {name: one.prior + k * one.deviation}) for k in (-1, 1))
    change = (high - low) / 2
    assert np.abs(change).max() > 3e-3
    meshes = 2 * np.sqrt((np.abs(held.slopes[:, 4:8]) ** 2).sum(axis=1))
    assert (np.abs(held.slopes[:, place] - change) < meshes + 0.03 * np.abs(change)).all()


def test_turns_go_in_by_their_square(held: HeldCoil) -> None:
    assert held.slopes[:, 2] == pytest.approx(np.full(3, 2 * 0.01), rel=1e-6)
    s = np.zeros(len(held.at))
    s[2] = 100.0
    assert np.abs(held.impedance(s) / held.impedance(held.at)) == pytest.approx([4.0] * 3)


def test_derivatives_are_those_of_the_impedance(held: HeldCoil) -> None:
    s = np.linspace(-1.5, 2.0, len(held.at))
    step = 1e-5
    for k, row in enumerate(np.eye(len(s))):
        change = (held.impedance(s + step * row) - held.impedance(s - step * row)) / (2 * step)
        assert held.derivatives(s)[:, k] == pytest.approx(change, rel=1e-5, abs=1e-9)


def test_what_the_meshes_leave_open_is_small_and_there(held: HeldCoil) -> None:
    """A factor first, four numerical terms, then conductivities."""
    own = np.abs(held.slopes[:, 3:])
    assert own[:, 0] == pytest.approx(0.02)
    numerical = np.sqrt((own[:, 1:5] ** 2).sum(axis=1))
    assert (numerical > 2e-4).all()
    assert (numerical < 1e-2).all()
    assert own.shape[1] > 5
    assert (own[:, 5:].max(axis=0) > 1e-6).all()


def test_a_fit_finds_permeability_and_what_moves_from_an_impedance(
    result: MotorResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sample's held coil at every frequency by itself; the motion by the textbook.

    Before, the impedance is what to measure next, and it shrinks as that foretold.
    """
    monkeypatch.setattr(offered, "POINTS", 9)
    monkeypatch.setattr(offered, "BAND", (20.0, 1000.0))
    steel = Unknown(smooth_parameter(result.design, PERMEABILITY), 1.0, 0.2)
    meter = Measurement("meter", "resistance", {}, np.array([result.resistance]), 0.01)
    meter = dataclasses.replace(meter, settings={"temperature": result.design.temperature})
    further = candidates(fit(result.design, Measurements("one", (steel,), (meter,))))
    assert further[0].words.startswith("impedance")
    frequency = np.geomspace(*offered.BAND, offered.POINTS)
    sample = motor.solve(permeable(result.design, 1.3), uncertainty=False)
    blocked = blocked_impedance(sample, [0.0], frequency.tolist()).impedance[:, 0]
    omega = 2 * np.pi * frequency
    moving = 1.2 + 1j * (omega * result.moving_mass - 1100.0 / omega)
    z = blocked + result.bl_curve.at_rest.value**2 / moving
    along = {"frequency": np.tile(frequency, 2), "part": np.repeat([0.0, 1.0], len(frequency))}
    bridge = Measurement(
        "bridge",
        "impedance",
        along,
        np.concatenate([z.real, z.imag]),
        np.tile(offered.METER * np.abs(z), 2),
        settings={"inductance": offered.MODEL},
    )
    unknowns = with_motion(result.design, (steel,))
    found = fit(result.design, Measurements("one", unknowns, (meter, bridge)))
    assert found.warnings() == []
    known, stiffness, mass, losses = found.unknowns
    for one, true in ((known, 1.3), (stiffness, 1.1), (losses, 1.2)):
        assert abs(one.estimate - true) < 2 * one.deviation, one
        assert one.left < 0.7
    assert abs(mass.pull) < 2
    assert known.deviation == pytest.approx(further[0].deviations[0], rel=0.4)
    assert found.rigs[0].name == "bridge.inductance"
    assert not [one for one in candidates(found) if one.words.startswith("impedance")]
