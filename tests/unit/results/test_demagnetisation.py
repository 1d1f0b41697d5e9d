"""Knee, margin and irreversible loss: curves on their own, and motors that do demagnetise."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.optimize import brentq

from geometries import AXIAL_UP, Gap, InvalidInput, Region, Role
from geometries.inside_magnet import InsideMagnet
from geometries.outside_magnet import OutsideMagnet
from motor.base.constants import MU0
from motor.design.design import Design, Materials, MovingParts
from motor.design.starters import starter
from motor.driver.parts import driver_of
from motor.field.meshing import Sizing
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import DemagnetisationCurve, magnet_named, magnet_names, steel_names
from motor.results.demagnetisation import ThermalCycle, thermal_cycle
from motor.results.magnet_state import Conditions, settle
from motor.results.motor_result import MotorResult, solve
from motor.results.temperature_sweep import temperature_sweep
from motor.study.evaluate import job_of, solve_jobs

COLD, ROOM, HOT = 233.15, 293.15, 393.15


def thin(kind: str, grade: str) -> Design:
    """Return a starter whose magnet is far too thin for its grade."""
    design = starter(kind)
    if isinstance(design.geometry, OutsideMagnet):
        geometry: OutsideMagnet | InsideMagnet = dataclasses.replace(
            design.geometry,
            magnet_thickness=4.5e-3,
            back_plate_dish=5e-3,
            back_plate_dish_diameter=44e-3,
            back_plate_thickness=12e-3,
        )
    else:
        assert isinstance(design.geometry, InsideMagnet)
        geometry = dataclasses.replace(design.geometry, magnet_thickness=2e-3)
        design = design.replace(coil=dataclasses.replace(design.coil, winding_height=6e-3))
    materials = Materials(magnet=grade, steel="low-carbon-a")
    return design.replace(geometry=geometry, materials=materials)


@pytest.fixture(scope="module")
def cold_ferrite() -> tuple[MotorResult, ThermalCycle]:
    result = solve(thin("outside-magnet", "Y25"))
    return result, thermal_cycle(result, COLD)


@pytest.fixture(scope="module")
def hot_neodymium() -> tuple[MotorResult, ThermalCycle]:
    result = solve(thin("inside-magnet", "N42"))
    return result, thermal_cycle(result, HOT)


@pytest.mark.parametrize("grade", magnet_names())
def test_energy_product_lies_in_the_published_band(grade: str) -> None:
    """Bands beside each row of the table; 8 % either side, the spread between trade tables.

    AlNiCo 8 is left out: its curve bends all the way and its printed recoil permeability
    describes minor loops, so no curve with a straight start gives its energy product.
    """
    magnet = magnet_named(grade)
    curve = magnet.curve_at(ROOM)
    assert curve is not None
    low, high = magnet.energy_product_band
    spread = 0.15 if grade == "AlNiCo8" else 0.08
    assert (1 - spread) * low <= curve.energy_product <= (1 + spread) * high


def test_curve_passes_remanence_knee_and_coercivity() -> None:
    curve = DemagnetisationCurve(1.2, 900e3, 1.05, 0.92)
    hk = -0.92 * 900e3
    assert curve.polarisation(np.array(0.0)) == pytest.approx(1.2)
    assert curve.polarisation(np.array(hk)) == pytest.approx(0.9 * 1.2, rel=1e-9)
    assert curve.polarisation(np.array(-900e3)) == pytest.approx(0.0, abs=1e-9)
    assert curve.loss(np.array(curve.knee)) == pytest.approx(0.01, rel=1e-3)


def test_loss_is_where_the_recoil_line_meets_the_axis() -> None:
    curve = DemagnetisationCurve(0.4, 200e3, 1.1, 0.9)
    h = np.array([-190e3, -150e3, -20e3])
    back = curve.polarisation(h) - 0.1 * MU0 * h
    np.testing.assert_allclose(1 - back / 0.4, curve.loss(h), atol=1e-12)


def test_field_at_inverts_the_flux_density() -> None:
    curve = DemagnetisationCurve(1.2, 900e3, 1.05, 0.92)
    h = np.linspace(-880e3, 0.0, 41)
    np.testing.assert_allclose(curve.field_at(curve.flux_density(h)), h, atol=300.0)


def test_signs_of_the_coefficients() -> None:
    """Ferrite is weakest in the cold, neodymium in the heat (verification values, computed).

    Y30 with HcJ 180 kA/m and +0.3 %/K: 158.4 kA/m at -20 degC, Br 0.380 to 0.4104 T.
    N38 with HcJ 955 kA/m and -0.6 %/K: 382 kA/m at 120 degC.
    """
    ferrite = dataclasses.replace(
        magnet_named("Y30"),
        remanence=0.380,
        intrinsic_coercivity=180e3,
        coercivity_coefficient=0.003,
    )
    cold = ferrite.curve_at(253.15)
    assert cold is not None
    assert cold.intrinsic_coercivity == pytest.approx(158.4e3)
    assert cold.remanence == pytest.approx(0.4104)
    neodymium = dataclasses.replace(magnet_named("N38"), coercivity_coefficient=-0.006)
    hot = neodymium.curve_at(HOT)
    assert hot is not None
    assert hot.intrinsic_coercivity == pytest.approx(382e3)


def test_cold_ferrite_loses_bl_for_good(cold_ferrite: tuple[MotorResult, ThermalCycle]) -> None:
    result, cycle = cold_ferrite
    before, after = result.bl_curve.at_rest.value, cycle.after.at_rest.value
    assert not cycle.safe
    assert cycle.magnets[0].loss > 0.01
    assert after < 0.99 * before
    lost = cycle.magnets[0].loss
    assert 0.5 * lost < 1 - after / before < 2 * lost


def test_hot_neodymium_loses_bl_for_good(hot_neodymium: tuple[MotorResult, ThermalCycle]) -> None:
    result, cycle = hot_neodymium
    assert not cycle.safe
    assert cycle.magnets[0].share_past_knee > 0.5
    assert cycle.after.at_rest.value < 0.97 * result.bl_curve.at_rest.value
    assert any("80 degC" in note for note in cycle.notes)


@pytest.mark.parametrize("coercivity", [120e3, 200e3, 1000e3])
def test_sphere_settles_where_its_load_line_meets_the_curve(coercivity: float) -> None:
    """Closed form: in a uniformly magnetised sphere H = -J / (3 mu0) everywhere.

    Electromagnetic theory, any textbook; the state is where that line meets J(H).
    """
    remanence, recoil = 0.4, 1.07
    angles = np.linspace(-np.pi / 2, np.pi / 2, 97)
    outline = tuple((0.02 * np.cos(a), 0.02 * np.sin(a)) for a in angles)
    outline = ((0.0, -0.02), *outline[1:-1], (0.0, 0.02))
    sphere = Region("sphere", Role.MAGNET, outline, magnetisation=AXIAL_UP)
    gap = Gap(0.021, 0.024, -0.005, 0.005)
    magnets = {"sphere": MagnetState((0.0, remanence), recoil)}
    field = solve_field([sphere], gap, {}, magnets)
    curve = DemagnetisationCurve(remanence, coercivity, recoil, 0.9)
    home, shares = settle(Conditions(field.fine, {"sphere": curve}, {"sphere": 1.0}))
    h = brentq(lambda x: float(curve.polarisation(np.array(x))) + 3 * MU0 * x, -coercivity, 0.0)
    expected = 1 - float(curve.loss(np.array(h)))
    assert shares["sphere"].mean() == pytest.approx(expected, abs=2e-3)
    assert np.ptp(shares["sphere"]) < 0.02
    centre = float(home.flux_density(0.0, 0.0)[1])
    assert centre == pytest.approx(2 * expected * remanence / (recoil + 2), rel=3e-3)


@pytest.mark.parametrize(("kind", "there"), [("outside-magnet", HOT), ("inside-magnet", COLD)])
def test_a_safe_trip_costs_nothing(kind: str, there: float) -> None:
    result = solve(starter(kind))
    cycle = thermal_cycle(result, there)
    assert cycle.safe
    assert cycle.magnets[0].share_past_knee == 0.0
    assert cycle.after.at_rest.value == pytest.approx(result.bl_curve.at_rest.value, rel=1e-5)


def test_state_there_equals_a_solve_at_that_temperature() -> None:
    design = starter("outside-magnet")
    cycle = thermal_cycle(solve(design), 343.15)
    direct = solve(design.replace(temperature=343.15))
    assert cycle.there.at_rest.value == pytest.approx(direct.bl_curve.at_rest.value, rel=1e-6)
    assert cycle.resistance == pytest.approx(direct.resistance)


def test_opposing_current_costs_margin() -> None:
    result = solve(starter("outside-magnet"))
    without, with_current = (thermal_cycle(result, 253.15, coil_current=i) for i in (0.0, 30.0))
    assert with_current.margin < without.margin - 100.0
    assert thermal_cycle(result, 253.15, coil_current=-30.0).margin == pytest.approx(
        with_current.margin, rel=1e-6
    )


def test_sweep_marks_the_safe_range() -> None:
    sweep = temperature_sweep(thin("inside-magnet", "N42"), [HOT, ROOM, 333.15])
    assert list(sweep.temperatures) == [ROOM, 333.15, HOT]
    assert sweep.safe_range == (ROOM, 333.15)
    rows = sweep.rows()
    assert rows[0]["remanence_lost"] == pytest.approx(0.0, abs=1e-6)
    resistances = [row["coil_resistance_ohm"] for row in rows]
    assert resistances == sorted(resistances)
    assert resistances[2] / resistances[0] == pytest.approx(1 + 0.00393 * 100)


def test_past_the_curie_temperature_is_refused() -> None:
    result = solve(starter("inside-magnet"))
    with pytest.raises(InvalidInput, match="Curie temperature of magnet N42"):
        thermal_cycle(result, 600.0)


def test_a_trip_starts_at_20_degrees() -> None:
    result = solve(starter("inside-magnet").replace(temperature=313.15))
    with pytest.raises(InvalidInput, match="temperature of the design must be 20 degC"):
        thermal_cycle(result, HOT)


@pytest.mark.parametrize("kind", ["outside-magnet", "inside-magnet"])
@pytest.mark.parametrize("grade", magnet_names())
def test_every_grade_solves(kind: str, grade: str) -> None:
    steel = steel_names()[magnet_names().index(grade) % len(steel_names())]
    design = starter(kind).replace(materials=Materials(magnet=grade, steel=steel))
    result = solve(design)
    assert result.field.residual <= 1e-8
    assert result.bl_curve.at_rest.value > 0.3
    assert math.isfinite(result.working_points[0].permeance.value)


@pytest.mark.parametrize("kind", ["outside-magnet", "inside-magnet"])
@pytest.mark.parametrize("steel", steel_names())
def test_every_steel_solves(kind: str, steel: str) -> None:
    design = starter(kind).replace(materials=Materials(magnet="N42", steel=steel))
    assert solve(design).field.residual <= 1e-8


def test_least_values_give_less() -> None:
    design = starter("outside-magnet")
    least = design.replace(materials=dataclasses.replace(design.materials, values="minimum"))
    assert solve(least).bl_curve.at_rest.value < solve(design).bl_curve.at_rest.value


@pytest.mark.parametrize("kind", ["outside-magnet", "inside-magnet"])
def test_margin_is_known_as_well_as_stated(kind: str) -> None:
    """Against a mesh of five times the unknowns, past the knee and short of it."""
    design = starter(kind)
    coarse, fine = solve(design), solve(design, sizing=Sizing(0.15, 0.04, 0.3, 0.04, 3))
    for kelvin in (COLD, 373.15):
        found, finer = thermal_cycle(coarse, kelvin), thermal_cycle(fine, kelvin)
        assert 0 < found.margin_uncertainty < 20e3
        assert abs(found.margin - finer.margin) < found.margin_uncertainty
    assert 0 < finer.margin_uncertainty < found.margin_uncertainty


def test_margin_of_one_mesh_alone_has_no_uncertainty() -> None:
    alone = solve(starter("outside-magnet"), uncertainty=False)
    assert math.isnan(thermal_cycle(alone, COLD).margin_uncertainty)


def hot_n42() -> Design:
    design = starter("inside-magnet").replace(temperature=423.15)
    parts = MovingParts(mass=0.011, stiffness=1150.0, area=0.0137, mechanical_resistance=1.2)
    materials = Materials(magnet="N42", steel="low-carbon-a")
    return design.replace(materials=materials, moving_parts=parts)


def test_solve_driver_and_trip_agree_on_what_is_lost() -> None:
    """The same motor solved hot, taken there from 20 degC, and as a row of a study."""
    design = hot_n42()
    hot, home = solve(design), solve(design.replace(temperature=ROOM))
    cycle = thermal_cycle(home, design.temperature)
    rest = hot.bl_curve.at_rest.value
    assert hot.irreversible_loss.value > 0.3
    assert cycle.there.at_rest.value == pytest.approx(rest, rel=1e-3)
    assert cycle.margin == pytest.approx(hot.magnet_health[0].margin, abs=200.0)
    row = solve_jobs([job_of(design)])[0].results
    assert row is not None
    assert row["bl_at_rest_Tm"] == pytest.approx(rest, rel=1e-9)
    assert row["irreversible_loss_percent"] == pytest.approx(100 * hot.irreversible_loss.value)
    assert driver_of(hot).bl.at_rest == pytest.approx(rest, rel=1e-6)
    assert any("lost for good at 150 degC" in note for note in hot.notes)


def test_every_temperature_past_the_knee_settles() -> None:
    """Where triangles go past a steep knee one after another; each must stand on its curve."""
    design, last = hot_n42(), math.inf
    for celsius in (140, 151, 154, 158, 165):
        hot = solve(design.replace(temperature=celsius + 273.15))
        curve = magnet_named("N42").curve_at(celsius + 273.15)
        level = hot.field.fine
        (name,) = level.system.magnets
        here = level.system.mesh.triangles_of(name)
        weight = level.system.weight[here]
        b, h = (
            (values[here, :, 1] * weight).sum(axis=1) / weight.sum(axis=1)
            for values in (level.flux_densities, level.field_strengths)
        )
        inside = h > -curve.intrinsic_coercivity
        assert inside.mean() > 0.3
        error = b[inside] - curve.flux_density(h[inside])
        assert np.abs(error).max() < 2e-3 * curve.remanence
        assert hot.bl_curve.at_rest.value < last + 1e-3
        last = hot.bl_curve.at_rest.value


def test_remanence_can_be_held() -> None:
    """Held, Bl is what the loss refers to; the margin is then that of the undisturbed field."""
    design = hot_n42()
    held = design.replace(
        materials=dataclasses.replace(design.materials, demagnetisation="ignored")
    )
    lost, kept = solve(design), solve(held)
    before, after = kept.bl_curve.at_rest.value, lost.bl_curve.at_rest.value
    assert lost.irreversible_loss.value == pytest.approx(1 - after / before, rel=1e-4)
    assert kept.irreversible_loss.value == 0.0
    assert kept.magnet_health[0].loss == 0.0
    assert kept.magnet_health[0].margin < lost.magnet_health[0].margin < 0
    assert any("demagnetisation is ignored" in note for note in kept.notes)


def test_a_motor_short_of_its_knee_is_left_alone() -> None:
    result = solve(starter("inside-magnet"))
    assert result.field.before_loss is None
    assert result.demagnetisation_margin is not None
    assert result.demagnetisation_margin.value > 100e3
    assert result.summary()["irreversible_loss_percent"] == 0.0


def test_what_assembly_costs_stays_lost_in_the_heat() -> None:
    """Ferrite is weakest cold: a motor past its knee at 20 degC stays weak at 80 degC."""
    weak = dataclasses.replace(magnet_named("Y30"), name="weak", intrinsic_coercivity=110e3)
    design = thin("outside-magnet", "Y30")
    design = design.replace(materials=Materials(magnet=weak, steel="low-carbon-a"))
    home, hot = solve(design), solve(design.replace(temperature=353.15))
    assert home.irreversible_loss.value > 0.02
    assert hot.irreversible_loss.value == pytest.approx(home.irreversible_loss.value, rel=0.05)
    cycle = thermal_cycle(home, 353.15)
    assert cycle.there.at_rest.value == pytest.approx(hot.bl_curve.at_rest.value, rel=1e-3)


def test_worst_pair_has_most_remanence_and_least_coercivity() -> None:
    grade = magnet_named("Y30")
    worst = grade.worst()
    assert grade.remanence_min is not None
    assert worst.remanence - grade.remanence == pytest.approx(grade.remanence - grade.remanence_min)
    assert worst.intrinsic_coercivity == grade.intrinsic_coercivity_min
    sweep = temperature_sweep(starter("outside-magnet"), [COLD])
    row = sweep.rows()[0]
    assert row["worst_pair_margin_kA_per_m"] is not None
    assert row["demag_margin_kA_per_m"] is not None
    assert row["worst_pair_margin_kA_per_m"] < row["demag_margin_kA_per_m"]


def test_words_of_a_sweep_name_only_what_was_computed() -> None:
    past = temperature_sweep(hot_n42(), [HOT + 20])
    assert past.verdict.startswith("past the knee at 140 degC")
    safe = temperature_sweep(starter("inside-magnet"), [303.15, 333.15])
    assert safe.verdict == "short of the knee from 30 to 60 degC"
