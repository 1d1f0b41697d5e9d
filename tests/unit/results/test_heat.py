"""Where a driver's temperatures settle, what bears how much, what is refused."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from geometries import InvalidInput
from motor.design.reading import design_from_toml, read_design
from motor.design.writing import design_to_toml
from motor.materials.thermal import thermal_of
from motor.report.tables.heat import heat_record, heat_table
from motor.results.heat import CHARRED, Warmth, heat
from motor.results.motor_result import MotorResult, solve
from tests.unit.cli.running import DESIGN, piped

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
ZERO = 273.15


@pytest.fixture(scope="module")
def neodymium() -> MotorResult:
    return solve(read_design(DESIGNS / "door_woofer_neodymium.toml"))


@pytest.fixture(scope="module")
def warmth(neodymium: MotorResult) -> Warmth:
    return heat(neodymium, 15.0)


def with_rules(result: MotorResult, **changes: object) -> MotorResult:
    rules = dataclasses.replace(result.design.heat, **changes)  # type: ignore[arg-type]
    return dataclasses.replace(result, design=result.design.replace(heat=rules))


def test_what_the_coil_gives_arrives_at_the_air(warmth: Warmth) -> None:
    assert sum(warmth.ways.values()) == pytest.approx(warmth.settled.heat, rel=1e-9)
    assert all(heat >= 0 for heat in warmth.ways.values())
    drive = warmth.model.voltage(15.0)
    assert warmth.settled.heat == pytest.approx(drive**2 / warmth.resistance, rel=1e-6)


def test_heat_runs_downhill(warmth: Warmth) -> None:
    parts = {name: warmth.mean(name).value for name in warmth.model.reduced.mean}
    assert parts["coil-winding"] > parts["pole_plate"] > parts["magnet"] > parts["cup"]
    assert parts["cup"] > warmth.model.ambient
    assert warmth.hottest("coil-winding").value > warmth.coil.value
    assert warmth.coil.uncertainty < 0.02 * (warmth.coil.value - warmth.model.ambient)


def test_warm_magnets_have_less_bl(warmth: Warmth) -> None:
    grade = warmth.design.materials.magnet_of("magnet")
    rise = warmth.magnet.value - warmth.design.temperature
    lost = 1 - warmth.bl_at_rest.value / warmth.result.bl_curve.at_rest.value
    assert 0.5 < lost / (-grade.temperature_coefficient * rise) < 1.5
    direct = solve(warmth.design.replace(temperature=warmth.magnet.value))
    assert warmth.bl_at_rest.value == pytest.approx(direct.bl_curve.at_rest.value, rel=1e-6)


def test_largest_power_brings_the_first_to_its_limit(warmth: Warmth) -> None:
    largest, why = warmth.largest_power
    assert why == "wire"
    there = heat(warmth.result, largest.value)
    assert there.hottest("coil-winding").value == pytest.approx(ZERO + 155, abs=0.05)
    assert [x.power for x in warmth.limits] == sorted(x.power for x in warmth.limits)
    names = [x.name for x in warmth.limits]
    assert {"wire", "coil bond", "magnet", "magnet, Curie temperature"} <= set(names)
    assert all(x.source for x in warmth.limits)
    assert math.isinf(next(x.power for x in warmth.limits if "Curie" in x.name))


def test_what_passes_its_limit_is_told_and_what_burns_refused(neodymium: MotorResult) -> None:
    hot = heat(neodymium, 20.0)
    assert any("wire at" in text and "155 degC" in text for text in hot.cautions)
    with pytest.raises(InvalidInput, match="keep the coil below 300 degC"):
        heat(neodymium, 5000.0)
    weak = with_rules(neodymium, air_coefficient=0.0, ambient=ZERO + 149)
    limits = {x.name: x for x in heat(weak, 0.5).limits}
    assert limits["wire"].power < 1.0
    with pytest.raises(InvalidInput, match="power must be between 0"):
        heat(neodymium, math.nan)


def test_each_choice_of_the_heat_section_shows(neodymium: MotorResult, warmth: Warmth) -> None:
    coil = warmth.coil.value
    assert heat(with_rules(neodymium, ferrofluid="filled"), 15.0).coil.value < coil - 15
    assert heat(with_rules(neodymium, emissivity=0.05), 15.0).coil.value > coil + 1
    assert heat(with_rules(neodymium, basket=1.0), 15.0).coil.value < coil - 5
    assert heat(neodymium, 15.0, ambient=ZERO + 60).coil.value > coil + 20
    upright = heat(with_rules(neodymium, axis="vertical"), 15.0).coil.value
    assert 0.1 < abs(upright - coil) < 15
    still = heat(neodymium, 15.0, displacement=0.0)
    assert still.hottest("coil-winding").value > warmth.hottest("coil-winding").value


def test_the_band_is_wider_than_the_mesh(warmth: Warmth) -> None:
    assert warmth.band("coil") > 5 * warmth.coil.uncertainty
    assert 0.03 < warmth.band("coil") / (warmth.coil.value - warmth.model.ambient) < 0.4
    assert 0 < warmth.largest_power_band < warmth.largest_power[0].value


def test_one_mesh_says_nothing_of_the_mesh(neodymium: MotorResult) -> None:
    quick = heat(solve(neodymium.design, uncertainty=False), 15.0)
    record = heat_record(quick)
    assert record["coil_temperature_uncertainty_K"] is None
    assert record["largest_power_uncertainty_W"] is None
    assert record["coil_temperature_degC"] == pytest.approx(154, abs=3)


def test_every_material_has_thermal_values(solved: Callable[[str], MotorResult]) -> None:
    for kind in ("outside-magnet", "inside-magnet"):
        design = solved(kind).design
        for region in design.regions:
            found = thermal_of(design.materials.material_of(region))
            assert found.source
            assert 1 < found.conductivity < 500
            assert 300 < found.capacity < 1500


def test_heat_section_reads_back(warmth: Warmth) -> None:
    rules = dataclasses.replace(
        warmth.design.heat, ambient=ZERO + 85, emissivity=0.9, basket=4.0, ferrofluid="filled"
    )
    design = warmth.design.replace(heat=rules)
    assert design_from_toml(design_to_toml(design, comments=True)) == design
    bad = design_to_toml(design).replace('"filled"', '"some"')
    with pytest.raises(InvalidInput, match=r"heat.* none or filled"):
        design_from_toml(bad)


def test_the_command_prints_what_scripts_rely_on(warmth: Warmth) -> None:
    done = piped("heat", DESIGN, "--power", "12 W", "--json")
    assert done.returncode == 0
    record = json.loads(done.stdout)
    for key in ("coil_temperature_degC", "magnet_temperature_degC", "largest_power_W"):
        assert np.isfinite(record[key])
    assert record["largest_power_limited_by"] == "wire"
    assert 0 < record["bl_at_rest_warm_Tm"] < record["bl_at_rest_Tm"]
    assert record["coil_temperature_degC"] < record["coil_hottest_degC"] < CHARRED - ZERO
    assert len(heat_table(warmth)) == 3
