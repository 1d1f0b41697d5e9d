"""The summary: every figure in the unit of its name, by hand or by its definition."""

from __future__ import annotations

import math

import pytest

from geometries import Role, volume
from motor.base.constants import MU0
from motor.design.stroke_rules import StrokeRules
from motor.results.motor_result import MotorResult, read_off, solve
from tests.unit.design.drawn import drawn_design

MM = 1e-3


@pytest.fixture(scope="module")
def warm() -> MotorResult:
    """Return the drawn motor solved at 100 degC."""
    return solve(drawn_design().replace(temperature=373.15))


@pytest.mark.parametrize(
    ("key", "expected"),
    {
        "temperature_degC": 100,
        "gap_width_mm": 1.6,
        "gap_depth_mm": 6,
        "winding_height_mm": 12,
        "winding_build_up_mm": 0.6,
        "rest_position_mm": 1,
        "overhang_mm": 3,
        "clearance_inner_mm": 0.3,
        "clearance_outer_mm": 0.6,
        "mechanical_limit_mm": 7.3,
        "mechanical_limit_inward_mm": 8.3,
        "mechanical_limit_outward_mm": 7.3,
        "turns": 80,
        "wire_length_m": 2 * math.pi * 16.2e-3 * 80,
        "coil_mass_g": 2 * math.pi * 16.2e-3 * 80 * 8890 * math.pi / 4 * 0.25e-3**2 * 1e3,
        "coil_resistance_ohm": 1.3144 * 1.7241e-8 * 2 * 16.2e-3 * 80 * 4 / 0.25e-3**2,
    }.items(),
)
def test_summary_is_in_the_units_of_its_names(warm: MotorResult, key: str, expected: float) -> None:
    assert warm.summary()[key] == pytest.approx(expected)


def test_figures_of_the_summary_fit_each_other(warm: MotorResult) -> None:
    """Each by its definition from others, in the units of the names."""
    record = warm.summary()
    around = 2 * math.pi * 16.2e-3
    flux = record["mean_gap_flux_density_T"] * around * record["gap_depth_mm"] * MM
    assert record["gap_flux_mWb"] == pytest.approx(flux * 1e3)
    assert record["leakage_factor"] == pytest.approx(
        record["magnet_flux_mWb"] / record["gap_flux_mWb"]
    )
    assert 1.0 < record["leakage_factor"] < 5.0
    assert record["other_flux_mWb"] == pytest.approx(
        record["magnet_flux_mWb"] - record["gap_flux_mWb"]
    )
    assert record["motor_constant_N2_per_W"] == pytest.approx(
        record["bl_at_rest_Tm"] ** 2 / record["coil_resistance_ohm"]
    )
    margin = warm.demagnetisation_margin
    assert margin is not None
    assert record["demagnetisation_margin_kA_per_m"] == pytest.approx(margin.value / 1e3)
    spread = record["demagnetisation_margin_uncertainty_kA_per_m"]
    assert spread == pytest.approx(margin.uncertainty / 1e3)
    curve = warm.bl_curve
    for name, share in (("82", 0.82), ("70", 0.70)):
        inward, outward = (record[f"stroke_{name}_{side}_mm"] for side in ("inward", "outward"))
        assert record[f"stroke_{name}_mm"] == min(inward, outward)
        for x in (-inward * MM, outward * MM):
            assert float(curve(x)) == pytest.approx(share * record["bl_at_rest_Tm"], rel=1e-4)
    assert float(curve(record["bl_peak_position_mm"] * MM)) == pytest.approx(record["bl_peak_Tm"])
    limits = ("stroke_82_mm", "mechanical_limit_mm")
    assert record["usable_stroke_mm"] == min(record[name] for name in limits)
    around_motor = math.pi / 4 * record["outer_diameter_mm"] ** 2 * record["height_mm"]
    assert record["volume_cm3"] == pytest.approx(around_motor * 1e-3)
    best = record["best_rest_position_mm"]
    assert -6 < best < 6
    assert record["best_rest_position_stroke_82_mm"] > 0.9 * record["stroke_82_mm"]


def test_ferrite_is_weaker_when_warm(warm: MotorResult) -> None:
    """The working point lies on the recoil line of Br (1 - 0.2 % per kelvin), 80 K up."""
    (point,) = warm.summary()["working_points"]
    remanence = point["flux_density_T"] - MU0 * 1.07 * point["field_kA_per_m"] * 1e3
    assert remanence == pytest.approx(0.385 * (1 - 0.002 * 80), rel=1e-6)
    assert point["field_kA_per_m"] < 0 < point["flux_density_T"]
    permeance = -point["flux_density_T"] / (MU0 * point["field_kA_per_m"] * 1e3)
    assert point["permeance"] == pytest.approx(permeance)


def test_usable_stroke_asks_only_the_limits_that_the_design_names(warm: MotorResult) -> None:
    for limits, value in (
        (("mechanical",), 7.3 * MM),
        (("overhang",), 2 * MM),
        (("overhang", "mechanical"), 2 * MM),
        (("bl_82",), warm.stroke_82.symmetric.value),
        (("bl_70", "mechanical"), min(warm.stroke_70.symmetric.value, 7.3 * MM)),
    ):
        design = warm.design.replace(stroke=StrokeRules(limits=limits))
        usable = read_off(design, warm.field).usable_stroke
        assert usable.value == pytest.approx(value)
        assert usable.limited_by in limits


def test_leakage_factor_to_the_coil(warm: MotorResult) -> None:
    """Magnet flux over the flux between the winding's ends: Bl by the length of wire a metre."""
    record = warm.summary()
    cut = record["bl_at_rest_Tm"] * record["winding_height_mm"] / record["turns"]
    assert record["leakage_factor_to_coil"] == pytest.approx(
        record["magnet_flux_mWb"] / cut, rel=1e-5
    )
    assert 1.0 < record["leakage_factor_to_coil"] < record["leakage_factor"]
    assert 0 < record["leakage_factor_to_coil_uncertainty"] < 0.01


def test_utilisation(warm: MotorResult) -> None:
    """Energy of the gap, by hand from its mean field, over V (BH)max / 2 = V Br^2 / 8 mu0 mu_r."""
    gap, profile = warm.design.geometry.gap, warm.gap_profile
    middle = abs(profile.z) <= gap.depth / 2
    ring = math.pi * (gap.outer_radius**2 - gap.inner_radius**2) * gap.depth
    energy = ring * float((profile.at_middle[middle] ** 2).mean()) / (2 * MU0)
    (name,) = [r.name for r in warm.design.regions if r.role is Role.MAGNET]
    grade = warm.design.materials.magnet_of(name)
    product = grade.remanence_at(warm.design.temperature) ** 2 / (
        4 * MU0 * grade.recoil_permeability
    )
    expected = energy / (volume(warm.field.region(name)) * product / 2)
    assert warm.utilisation.value == pytest.approx(expected, rel=0.05)


def test_stray_field(warm: MotorResult) -> None:
    """As a dipole it falls with the third power of the distance from the middle."""
    record, reach = warm.summary(), warm.field.fine.system.mesh.partition.reach
    near, far = warm.stray_field(0.1), warm.stray_field(1.0)
    assert record["stray_field_at_100_mm_uT"] == near.value * 1e6
    assert record["stray_field_at_100_mm_uncertainty_uT"] == near.uncertainty * 1e6
    assert 0 < near.uncertainty < 5e-3 * near.value
    assert near.value / far.value == pytest.approx(((reach + 1.0) / (reach + 0.1)) ** 3, rel=0.1)
