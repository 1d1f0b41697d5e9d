"""Derivatives of L(x) and eddy resistance: similarity, motors solved anew, rings, files."""

from __future__ import annotations

import csv
import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest

import motor
from geometries import Ring
from motor.base.arrays import Complexes, Floats
from motor.results.impedance import BlockedImpedance, blocked_impedance
from motor.results.motor_result import MotorResult
from motor.study.derivatives import Derivatives
from motor.study.parameters import Draft, known_parameters
from tests.unit.cli.running import ran

FREQUENCIES = (300.0, 1000.0)
POLE, SLEEVE = "geometry.pole_plate_diameter", "geometry.rings.sleeve."


@pytest.fixture(scope="module")
def found(result: MotorResult) -> Derivatives:
    return motor.derivatives(result, inductance=FREQUENCIES)


def linkage(impedance: BlockedImpedance) -> Complexes:
    omega = 2 * np.pi * impedance.frequency[:, None]
    return np.asarray(impedance.inductance - 1j * impedance.eddy_resistance / omega)


def test_lengths_scaled_together(result: MotorResult, found: Derivatives) -> None:
    """The sum of p dL/dp over all lengths p is L + 2 f dL/df, in phase and out of phase.

    Linkage over size is a function of frequency times size squared, as the skin depth says.
    """
    design, held = result.design, found.inductance
    assert held is not None
    assert not held.refused
    near, rest = 0.02, int(np.abs(held.position).argmin())
    wide = [f * s for f in FREQUENCIES for s in (1 - near, 1, 1 + near)]
    here = linkage(blocked_impedance(result, [0.0], wide)).reshape(2, 3)
    wanted = here[:, 1] + 2 * (here[:, 2] - here[:, 0]) / (2 * near)
    total = np.zeros_like(wanted)
    for name, parameter in known_parameters(design).items():
        if parameter.kind == "length" and name in held.inductance:
            size, omega = 1e3 * Draft(design).get(name), 2 * np.pi * held.frequency
            change = (slopes[name][0, :, rest] for slopes in (held.inductance, held.resistance))
            in_phase, lost = change
            total += size * (in_phase - 1j * lost / omega)
    assert total.real == pytest.approx(wanted.real, rel=3e-3)
    assert total.imag == pytest.approx(wanted.imag, rel=3e-3)


def differenced(design: motor.Design, name: str, share: float) -> tuple[Floats, Floats]:
    """Return differences of L in mH and R in ohm per mm at rest between motors solved anew."""
    value = Draft(design).get(name)
    sides = []
    for sign in (-1, 1):
        side = Draft(design, {name: value * (1 + sign * share)}).design()
        solved = motor.solve(side, accuracy=1e-4)
        sides.append(blocked_impedance(solved, [0.0], FREQUENCIES, skin=0.5, at_coil=0.2))
    step = 2e3 * share * value
    low, high = sides
    return (
        (high.inductance - low.inductance)[:, 0] * 1e3 / step,
        (high.eddy_resistance - low.eddy_resistance)[:, 0] / step,
    )


@pytest.mark.parametrize("name", ["geometry.magnet_thickness", "geometry.pole_plate_diameter"])
def test_against_motors_solved_anew(result: MotorResult, found: Derivatives, name: str) -> None:
    held = found.inductance
    assert held is not None
    rest = int(np.abs(held.position).argmin())
    inductance, resistance = differenced(result.design, name, 0.01)
    mine = [slopes[name][0, :, rest] for slopes in held.by_key().values()]
    assert mine[0] == pytest.approx(inductance, rel=0.03)
    assert mine[1] == pytest.approx(resistance, rel=0.03)


def test_rings_are_dimensions_of_the_inductance() -> None:
    """A sleeve's own sizes; a pole under a sleeve moves with the sleeve's bore, else refused."""
    bare = motor.starter("inside-magnet")
    plate = Draft(bare).get(POLE)
    sleeve = Ring(
        name="sleeve",
        inner_diameter=plate,
        outer_diameter=plate + 0.4e-3,
        bottom=-1.5e-3,
        height=3e-3,
    )
    design = bare.replace(geometry=dataclasses.replace(bare.geometry, rings=(sleeve,)))  # type: ignore[call-arg]
    both = f"{POLE} + {SLEEVE}inner_diameter"
    names = [f"{SLEEVE}outer_diameter", f"{SLEEVE}height", POLE, both]
    found = motor.derivatives(motor.solve(design), names, inductance=FREQUENCIES)
    held = found.inductance
    assert held is not None
    assert set(held.refused) == {POLE}
    rest = int(np.abs(held.position).argmin())
    inductance, resistance = differenced(design, names[0], 0.002)
    assert 1e3 * held.inductance[names[0]][0, :, rest] == pytest.approx(inductance, rel=0.03)
    assert held.resistance[names[0]][0, :, rest] == pytest.approx(resistance, rel=0.03)
    assert (inductance < 0).all()
    assert (held.inductance[both][0, :, rest] > 0).all(), "less copper, more iron"
    assert found.of("bl_at_rest_Tm", names[1]).derivative == 0.0
    assert found.of("motor_mass_g", names[1]).derivative > 0


def test_uncertainties_are_small_beside_the_largest(found: Derivatives) -> None:
    held = found.inductance
    assert held is not None
    for slopes in held.by_key().values():
        largest = max(np.abs(line).max() for line, _ in slopes.values())
        doubts = np.array([doubt for line, doubt in slopes.values() if line.any()])
        assert 0 < doubts.min() < doubts.max() < 0.1 * largest


def test_nothing_of_what_carries_no_flux(found: Derivatives) -> None:
    held = found.inductance
    assert held is not None
    for name in ("materials.prices.N42", "coil.travel_margin", "factors.coercivity"):
        assert not held.inductance[name].any(), name


def test_the_command_writes_tables(tmp_path: Path) -> None:
    design, out = tmp_path / "design.toml", tmp_path / "out"
    assert ran("new", "inside-magnet", design).exit_code == 0
    done = ran("derivatives", design, "--inductance", "1 kHz", "--out", out)
    assert done.exit_code == 0
    assert "L mH at" in done.stdout
    assert "R ohm at" in done.stdout
    record = json.loads((out / "derivatives.json").read_text(encoding="utf-8"))
    curve = record["curves"]["inductance_mH"]
    mine = curve["derivatives"]["geometry.magnet_thickness"]
    assert curve["frequency_Hz"] == [1000]
    assert mine["per"] == "mm"
    assert np.shape(mine["derivative"]) == (1, len(curve["x_mm"]))
    with (out / "inductance_derivatives.csv").open(encoding="utf-8") as stream:
        rows = [row for row in csv.DictReader(stream) if row["parameter"].endswith("thickness")]
    read = [float(row["inductance_mH_change"]) for row in rows if "magnet" in row["parameter"]]
    assert read == pytest.approx(mine["derivative"][0], rel=1e-6)


def test_frequencies_out_of_reach_are_refused(result: MotorResult) -> None:
    with pytest.raises(motor.InvalidInput, match="Hz"):
        motor.derivatives(result, ["temperature"], inductance=[1e6])
