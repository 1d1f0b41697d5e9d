"""Steel beyond the last row of its table: told, guessed as stated, and uncertain by as much."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

import motor
from motor.base.constants import MU0
from motor.materials import TabulatedSteel, steel_named
from motor.materials.steel import FLAT, KNOWN_SPREAD, LEAST_TAIL, TAIL, TAIL_SPREAD
from motor.results.motor_result import MotorResult
from tests.verification.coverage_tables import cut, with_steel

KNEE = 12
"""Rows of the cut table."""


def polarisation(steel: TabulatedSteel, flux_density: float) -> float:
    """Return B - mu0 H in tesla."""
    return flux_density - MU0 * float(steel.curve().field_and_slope(np.array([flux_density]))[0][0])


@pytest.fixture(scope="module")
def short() -> TabulatedSteel:
    return cut(steel_named("low-carbon-a"), KNEE)


@pytest.fixture(scope="module")
def result(short: TabulatedSteel) -> MotorResult:
    return motor.solve(with_steel(motor.starter("outside-magnet"), short))


def test_an_unknown_saturation_follows_from_the_last_rows(short: TabulatedSteel) -> None:
    b, h = short.flux_density, short.field
    rise = (b[-1] - b[-2]) / (h[-1] - h[-2]) - MU0
    assert rise > FLAT * MU0
    expected = b[-1] - MU0 * h[-1] + TAIL * rise * h[-1]
    assert polarisation(short, 5.9) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("slope", [1.5, 10.0])
def test_less_is_left_where_the_curve_is_nearly_flat(slope: float) -> None:
    b, h = (0.5, 1.0, 1.5, 1.8), (200.0, 400.0, 2000.0, 20000.0)
    field = h[-1] + 0.01 / ((1 + slope) * MU0)
    steel = TabulatedSteel("own", 7850.0, "test", flux_density=(*b, 1.81), field=(*h, field))
    share = max(TAIL * slope / FLAT, LEAST_TAIL)
    left = share * slope * MU0 * field
    assert polarisation(steel, 5.9) == pytest.approx(1.81 - MU0 * field + left, rel=1e-3)


def test_tails_lie_to_either_side(short: TabulatedSteel) -> None:
    left = polarisation(short, 5.9) - (short.flux_density[-1] - MU0 * short.field[-1])
    for tail, share in zip(short.tails(), TAIL_SPREAD, strict=True):
        assert tail.saturation is not None
        assert tail.saturation - polarisation(short, 5.9) == pytest.approx(
            (share - 1) * left, rel=1e-3
        )
    iron = steel_named("pure-iron")
    last = iron.flux_density[-1] - MU0 * iron.field[-1]
    for tail, share in zip(iron.tails(), KNOWN_SPREAD, strict=True):
        assert tail.saturation == pytest.approx(last + share * (2.15 - last))


def test_a_table_that_is_passed_is_told_and_covers_the_truth(result: MotorResult) -> None:
    steel = steel_named("low-carbon-a")
    full = motor.solve(with_steel(result.design, steel), warm_start=result)
    parts = {p.region: p for p in result.beyond_tables}
    last = steel.flux_density[KNEE - 1]
    assert {load.region for load in result.steel_loads if load.peak.value > last} == set(parts)
    (note,) = (n for n in result.notes if "last row" in n)
    for part in parts.values():
        assert f"{part.peak:.3g} T" in note
        assert part.region.replace("_", " ") in note
    record = result.summary()
    stated = record["bl_at_rest_material_uncertainty_Tm"]
    error = abs(result.bl_curve.at_rest.value - full.bl_curve.at_rest.value)
    assert error <= stated <= 0.2 * result.bl_curve.at_rest.value
    assert record["motor_constant_material_uncertainty_N2_per_W"] == pytest.approx(
        2 * stated * result.bl_curve.at_rest.value / result.resistance, rel=0.1
    )
    for row in record["steel_beyond_table"]:
        assert row["last_row_T"] == last < row["peak_flux_density_T"]


def test_no_table_passed_leaves_nothing_open() -> None:
    design = motor.starter("inside-magnet")
    result = motor.solve(with_steel(design, steel_named("low-carbon-a")), uncertainty=False)
    assert result.beyond_tables == []
    assert result.material_uncertainty(lambda r: r.bl_curve.at_rest.value) == 0.0


def test_one_mesh_states_no_uncertainty(short: TabulatedSteel) -> None:
    one = motor.solve(with_steel(motor.starter("outside-magnet"), short), uncertainty=False)
    assert one.beyond_tables
    assert math.isnan(one.material_uncertainty(lambda r: r.bl_curve.at_rest.value))
    assert one.summary()["bl_at_rest_material_uncertainty_Tm"] is None
    assert dataclasses.asdict(one.beyond_tables[0])["last_row"] == short.flux_density[-1]
