"""The blocked coil's impedance: limits, power balance, passivity, input and hand-over."""

from __future__ import annotations

import dataclasses
import functools
import math
from pathlib import Path

import numpy as np
import pytest

import motor
from geometries import InvalidInput, Ring
from motor.base.arrays import Floats
from motor.design.characteristic import Table
from motor.design.design import Design, Materials, MovingParts
from motor.design.moving_parts import characteristic_text
from motor.design.reading import read_design, write_design
from motor.field.eddy_currents import Harmonic
from motor.field.field import FieldOnMesh
from motor.materials import TabulatedSteel, magnet_named, steel_named
from motor.results.impedance import (
    FREQUENCIES,
    IMAGINARY_FLOOR,
    POSITIONS,
    REAL_FLOOR,
    BlockedImpedance,
    blocked_impedance,
    conductivity_of,
    linkage_errors,
)
from motor.results.loaded import coil_load
from motor.results.motor_field import field_materials
from motor.results.motor_result import MotorResult, solve

KINDS = ("outside-magnet", "inside-magnet")


def sleeved() -> Design:
    """Return an outside-magnet motor with a copper sleeve on its pole."""
    design = motor.starter("outside-magnet")
    sleeve = Ring(
        name="sleeve", inner_diameter=31e-3, outer_diameter=31.3e-3, bottom=-4e-3, height=8e-3
    )
    return design.replace(geometry=dataclasses.replace(design.geometry, rings=(sleeve,)))


def insulating() -> Design:
    """Return a motor whose steel and magnets carry no current."""
    materials = Materials(
        magnet=dataclasses.replace(magnet_named("N42"), conductivity=0.0),
        steel=dataclasses.replace(steel_named("low-carbon-a"), conductivity=0.0),
    )
    return motor.starter("inside-magnet").replace(materials=materials)


DESIGNS = {
    "outside-magnet": lambda: motor.starter("outside-magnet"),
    "inside-magnet": lambda: motor.starter("inside-magnet"),
    "sleeved": sleeved,
    "insulating": insulating,
}


@functools.cache
def solved(name: str) -> MotorResult:
    return solve(DESIGNS[name]())


@functools.cache
def solved_in(steel: str) -> MotorResult:
    design = solved("outside-magnet").design
    return solve(design.replace(materials=dataclasses.replace(design.materials, steel=steel)))


@functools.cache
def found(name: str) -> BlockedImpedance:
    return blocked_impedance(solved(name))


def harmonic_of(result: MotorResult) -> Harmonic:
    """Return the equations on the solved field's own mesh."""
    design, level = result.design, result.field.fine
    steels, magnets = field_materials(design)
    conductivity = {region.name: conductivity_of(design, region) for region in design.regions}
    return Harmonic(level.system.mesh, steels, magnets, conductivity, level, "slope")


def loads_at(level: FieldOnMesh, design: Design, positions: list[float]) -> Floats:
    coil = design.coil
    turns = coil.turns_in_series
    return np.stack(
        [coil_load(level, coil, coil.rest_position + x, turns) for x in positions], axis=1
    )


@pytest.mark.parametrize("kind", KINDS)
def test_at_no_frequency_it_is_the_static_inductance(kind: str) -> None:
    result = solved(kind)
    level, current = result.field.fine, 0.02
    positions = [-2e-3, 0.0, 3e-3]
    loads = loads_at(level, result.design, positions)
    linked = []
    for load in loads.T:
        plus, minus = (
            level.solver.solve(
                level.solution.reduced, extra_load=sign * current * load, tolerance=1e-13
            ).reduced
            for sign in (1, -1)
        )
        linked.append(2 * math.pi * float(load @ (plus - minus)) / (2 * current))
    amplitudes = harmonic_of(result).potentials(0.0, loads)
    got = 2 * np.pi * np.einsum("nk,nk->k", loads, amplitudes)
    np.testing.assert_allclose(got.real, linked, rtol=1e-5)
    np.testing.assert_allclose(got.imag, 0.0, atol=1e-15)
    whole = blocked_impedance(result, positions, [0.0], permeability="slope")
    assert (whole.eddy_resistance == 0).all()
    assert (np.abs(whole.inductance[0] - linked) <= 0.02 * whole.inductance[0]).all()
    low = blocked_impedance(result, [-2e-3, 0.0, 3e-3], [0.0, 0.01])
    np.testing.assert_allclose(low.inductance[1], low.inductance[0], rtol=1e-4)


@pytest.mark.parametrize("name", ["outside-magnet", "sleeved"])
@pytest.mark.parametrize("frequency", [50.0, 3000.0])
def test_what_the_coil_takes_up_turns_to_heat(name: str, frequency: float) -> None:
    result = solved(name)
    harmonic = harmonic_of(result)
    loads = loads_at(harmonic.level, result.design, [-3e-3, 0.0, 2e-3])
    amplitudes = harmonic.potentials(frequency, loads)
    omega = 2 * math.pi * frequency
    taken = -omega * 2 * math.pi * np.einsum("nk,nk->k", loads, amplitudes).imag / 2
    losses = [harmonic.losses(amplitudes[:, [k]]) for k in range(3)]
    heat = 2 * math.pi * omega**2 / 2 * np.sum(losses, axis=1)
    np.testing.assert_allclose(taken, heat, rtol=1e-8)
    np.testing.assert_allclose(harmonic.losses(amplitudes), np.sum(losses, axis=0), rtol=1e-9)
    assert not losses[0][harmonic.conductivity == 0].any()


def test_coils_at_two_places_act_on_each_other_alike() -> None:
    result = solved("sleeved")
    harmonic = harmonic_of(result)
    loads = loads_at(harmonic.level, result.design, [-4e-3, 5e-3])
    linked = loads.T @ harmonic.potentials(700.0, loads)
    assert linked[0, 1] == pytest.approx(linked[1, 0], rel=1e-9)
    assert abs(linked[0, 1]) ** 2 < abs(linked[0, 0] * linked[1, 1])


@pytest.mark.parametrize("name", ["outside-magnet", "inside-magnet", "sleeved"])
def test_passive_at_every_position(name: str) -> None:
    impedance = found(name)
    assert impedance.inductance.shape == (len(FREQUENCIES), POSITIONS + 1)
    assert (impedance.eddy_resistance > 0).all()
    assert (impedance.inductance > 0).all()
    assert (np.diff(impedance.eddy_resistance, axis=0) > 0).all()
    assert (np.diff(impedance.inductance, axis=0) < 0).all()
    assert (np.diff(np.abs(impedance.impedance), axis=0) > 0).all()
    assert impedance.position[impedance.rest] == 0.0
    for part, least in (("inductance", REAL_FLOOR), ("eddy_resistance", IMAGINARY_FLOOR)):
        stated = getattr(impedance, f"{part}_uncertainty") / getattr(impedance, part)
        assert (stated[:-1] < 0.08).all()
        assert (stated >= least * (1 - 1e-9)).all()


def test_uncertainty_of_impedance_by_hand() -> None:
    """L from the whole change of the complex linkage, the resistance from its own part and that."""
    real, imaginary = linkage_errors(np.array([2.0 - 0.5j]), np.array([0.03 + 0.04j]))
    assert real == pytest.approx(math.hypot(1.05 * 0.05, 5e-4 * 2.0))
    assert imaginary == pytest.approx(math.hypot(1.5 * 0.04, 0.5 * 0.05, 2e-3 * 0.5))


def test_inwards_there_is_more_steel_and_more_inductance() -> None:
    inductance = found("outside-magnet").inductance[0]
    assert inductance[0] > 1.3 * inductance[-1]


def test_without_conductivity_nothing_depends_on_frequency() -> None:
    impedance = found("insulating")
    np.testing.assert_allclose(impedance.eddy_resistance, 0.0, atol=1e-9)
    np.testing.assert_allclose(impedance.inductance[1:], impedance.inductance[:-1], rtol=1e-9)
    conducting = found("inside-magnet").inductance
    assert (conducting < impedance.inductance * 1.002).all()


def test_a_copper_sleeve_shorts_the_inductance() -> None:
    frequency = FREQUENCIES.index(1000.0)
    plain, sleeve = (found(n) for n in ("outside-magnet", "sleeved"))
    ratio = sleeve.inductance[frequency, sleeve.rest] / plain.inductance[frequency, plain.rest]
    assert 0.25 < ratio < 0.75


def test_the_mesh_is_fine_wherever_the_winding_stands() -> None:
    result = solved("outside-magnet")
    at = result.bl_curve.x[[0, -1]].tolist()
    default = blocked_impedance(result, at, [30.0])
    finer = blocked_impedance(result, at, [30.0], at_coil=0.15)
    assert finer.unknowns > 1.2 * default.unknowns
    np.testing.assert_allclose(default.inductance, finer.inductance, rtol=3e-3)


@pytest.mark.parametrize("steel", ["low-carbon-a", "pure-iron"])
def test_thinner_skins_stay_within_the_uncertainty(steel: str) -> None:
    result = solved_in(steel)
    default = blocked_impedance(result, [0.0], [3000.0])
    finer = blocked_impedance(result, [0.0], [3000.0], skin=0.2)
    assert finer.unknowns > 1.2 * default.unknowns
    for part in ("inductance", "eddy_resistance"):
        change = np.abs(getattr(finer, part) - getattr(default, part))
        assert (change <= getattr(default, f"{part}_uncertainty")).all()
        assert (change > 0).all()


def test_on_one_mesh_the_uncertainty_is_unknown() -> None:
    whole = solved("inside-magnet")
    rough, fine = (
        blocked_impedance(result, [0.0], [300.0])
        for result in (solve(whole.design, uncertainty=False), whole)
    )
    np.testing.assert_allclose(rough.inductance, fine.inductance, rtol=0.03)
    assert np.isnan(rough.inductance_uncertainty).all()
    assert np.isnan(rough.eddy_resistance_uncertainty).all()
    assert np.isfinite(fine.inductance_uncertainty).all()


def test_windings_in_parallel() -> None:
    design = motor.starter("inside-magnet")
    series, parallel = (
        blocked_impedance(
            solve(
                design.replace(
                    coil=dataclasses.replace(design.coil, windings=2, connection=connection)
                )
            ),
            [0.0, 1e-3],
            [300.0],
        )
        for connection in ("series", "parallel")
    )
    np.testing.assert_allclose(parallel.impedance, series.impedance / 4, rtol=1e-9)


@pytest.mark.parametrize(
    ("positions", "frequencies", "message"),
    [
        ([], [100.0], r"positions must be one or more within the coil's travel, .*received none"),
        ([0.1], [100.0], r"positions must be .* mm to .* mm; received 100 mm"),
        ([0.0, -0.1], [100.0], r"positions must be .*travel"),
        ([math.nan], [100.0], r"positions must be .*travel"),
        ([0.0, math.nan], [100.0], r"positions must be .*travel"),
        ([0.0], [], r"frequency must lie between 0 and 20000 Hz; received none"),
        ([0.0], [-1.0, 100.0], r"frequency must lie .*received .*-1"),
        ([0.0], [math.nan], r"frequency must lie .*received .*nan"),
        ([0.0], [100.0, math.inf], r"frequency must lie .*received .*inf"),
    ],
)
def test_wrong_input_is_refused(
    positions: list[float], frequencies: list[float], message: str
) -> None:
    with pytest.raises(InvalidInput, match=message):
        blocked_impedance(solved("inside-magnet"), positions, frequencies)


def test_unknown_permeability_is_refused() -> None:
    with pytest.raises(InvalidInput, match="permeability must be reversible or slope; received"):
        blocked_impedance(solved("inside-magnet"), permeability="full")


def test_minor_loops_give_less_inductance_and_a_smaller_swing() -> None:
    plain = found("outside-magnet")
    slope = blocked_impedance(solved("outside-magnet"), permeability="slope")
    assert (plain.inductance < slope.inductance).all()
    swings = [np.ptp(one.inductance, axis=1) for one in (plain, slope)]
    assert (swings[0] < swings[1]).all()


@pytest.mark.parametrize("name", ["outside-magnet", "sleeved"])
def test_material_uncertainty_covers_materials_at_the_end_of_their_spread(name: str) -> None:
    design, plain = DESIGNS[name](), found(name)
    steel = design.materials.steel_of("top_plate")
    assert isinstance(steel, TabulatedSteel)
    assert steel.initial_permeability is not None
    rows, at = [0, 2, 4], [plain.rest]
    where = np.ix_(rows, at)
    frequencies, positions = plain.frequency[rows], plain.position[at]
    for scale in (steel.initial_spread**0.9, steel.initial_spread**-0.9):
        other = dataclasses.replace(steel, initial_permeability=steel.initial_permeability * scale)
        materials = dataclasses.replace(design.materials, steel=other)
        got = blocked_impedance(solve(design.replace(materials=materials)), positions, frequencies)
        for part in ("inductance", "eddy_resistance"):
            change = np.abs(getattr(got, part) - getattr(plain, part)[where])
            stated = getattr(plain, f"{part}_material_uncertainty")[where]
            assert (change < 1.5 * stated).all()
            assert (stated < 0.4 * getattr(plain, part)[where]).all()
        assert (np.sign(got.inductance - plain.inductance[where]) == np.sign(scale - 1)).all()


def test_unknown_frequency_of_a_curve_is_refused() -> None:
    with pytest.raises(InvalidInput, match=r"frequency must be one of 30, 100, .*; received 31 Hz"):
        found("inside-magnet").characteristic(31.0)


def test_inductance_goes_into_a_design_file_and_back(tmp_path: Path) -> None:
    impedance = found("inside-magnet")
    curve = impedance.characteristic(1000.0)
    np.testing.assert_allclose(curve(impedance.position), impedance.inductance[3], rtol=1e-12)
    text = characteristic_text("inductance", curve)
    assert text.startswith("{ x_mm = [")
    assert "values_mH" in text
    parts = MovingParts(mass=10e-3, stiffness=2000.0, inductance=curve)
    path = tmp_path / "design.toml"
    write_design(impedance.design.replace(moving_parts=parts), path)
    assert text in path.read_text(encoding="utf-8")
    read = read_design(path).moving_parts
    assert read is not None
    assert isinstance(read.inductance, Table)
    np.testing.assert_allclose(read.inductance.x, curve.x, rtol=1e-13)
    np.testing.assert_allclose(read.inductance.values, curve.values, rtol=1e-13)


def test_rows_carry_units() -> None:
    impedance = found("sleeved")
    row = impedance.rows()[-1]
    assert len(impedance.rows()) == impedance.inductance.size
    assert row["frequency_Hz"] == FREQUENCIES[-1]
    assert row["displacement_mm"] == pytest.approx(impedance.position[-1] * 1e3)
    material = impedance.inductance_material_uncertainty[-1, -1]
    assert row["inductance_material_uncertainty_mH"] == pytest.approx(material * 1e3)
    assert row["inductance_mH"] == pytest.approx(impedance.inductance[-1, -1] * 1e3)
    reactance = 2 * math.pi * 3000 * row["inductance_mH"] * 1e-3
    resistance = impedance.coil_resistance + row["eddy_resistance_ohm"]
    assert row["impedance_ohm"] == pytest.approx(math.hypot(resistance, reactance))
    summary = impedance.summary()
    assert summary["rows"] == impedance.rows()
    assert summary["coil_resistance_ohm"] == solved("sleeved").resistance
