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
from motor.design.enclosure import Amplifier
from motor.design.reading import design_from_toml, read_design
from motor.design.writing import design_to_toml
from motor.materials.thermal import thermal_named, thermal_of
from motor.report.page.design.heat import heat_section
from motor.report.tables.heat import heat_record, heat_table
from motor.results.heat import Warmth, heat
from motor.results.heat_cautions import clipping
from motor.results.heat_limits import CHARRED
from motor.results.heat_time import Programme, bursts, noise, recorded, warm_up
from motor.results.motor_result import MotorResult, solve
from motor.results.temperature_sweep import temperature_sweep
from tests.unit.cli.running import DESIGN, ran

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


def test_each_magnet_has_its_own_temperature(solved: Callable[[str], MotorResult]) -> None:
    """Bl lies between all magnets as warm as the warmest, and as the coolest."""
    result = solved("shielded-magnet")
    warm = heat(result, 10.0)
    rows = heat_record(warm)["magnets"]
    assert len(rows) == len(warm.magnets) == 2
    kelvin = [row["temperature_degC"] + ZERO for row in rows]
    assert kelvin[0] > kelvin[1] + 1
    assert all(row["band_K"] > row["uncertainty_K"] > 0 for row in rows)
    design = warm.warm.design
    assert [design.temperature_of(row["name"]) for row in rows] == pytest.approx(kelvin)
    grades = [design.materials.magnet_of(row["name"]) for row in rows]
    left = [g.remanence_at(k) for g, k in zip(grades, kelvin, strict=True)]
    assert [row["remanence_T"] for row in rows] == pytest.approx(left)
    least, most = (
        solve(result.design.at(k), uncertainty=False, warm_start=result).bl_curve.at_rest.value
        for k in kelvin
    )
    assert least < warm.bl_at_rest.value < most


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


def test_one_mesh_says_nothing_of_the_mesh(warmth: Warmth) -> None:
    quick = heat(solve(warmth.design, uncertainty=False), 15.0)
    record = heat_record(quick)
    assert record["coil_temperature_uncertainty_K"] is None
    assert record["largest_power_uncertainty_W"] is None
    assert record["coil_temperature_degC"] == pytest.approx(warmth.coil.value - ZERO, abs=1)


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
    done = ran("heat", DESIGN, "--power", "12 W", "--json")
    assert done.exit_code == 0
    record = json.loads(done.stdout)
    for key in ("coil_temperature_degC", "magnet_temperature_degC", "largest_power_W"):
        assert np.isfinite(record[key])
    assert record["largest_power_limited_by"] == "wire"
    assert 0 < record["bl_at_rest_warm_Tm"] < record["bl_at_rest_Tm"]
    assert record["coil_temperature_degC"] < record["coil_hottest_degC"] < CHARRED - ZERO
    assert len(heat_table(warmth)) == 3


def test_heat_over_time_ends_where_it_settles(warmth: Warmth) -> None:
    found = warmth.history(noise(), 8 * 3600.0)
    assert found.coil[-1] == pytest.approx(warmth.coil.value, abs=0.02)
    assert found.magnet[-1] == pytest.approx(warmth.magnet.value, abs=0.02)
    assert (np.diff(found.coil) > -0.01).all()
    assert found.coil[0] == pytest.approx(warmth.model.ambient)
    assert len(found.time) == 481


def test_what_was_given_is_stored_or_gone(warmth: Warmth) -> None:
    """Energy over a short programme: given = stored + lost, by the trapezoidal rule."""
    times = np.linspace(0, 120, 1201)
    found = warm_up(warmth.model, "magnet", np.full(1200, 15.0), times)
    given = np.trapezoid(found.heat, found.time)
    assert found.stored + found.lost == pytest.approx(given, rel=5e-3)
    assert found.lost > 0.02 * given


def test_few_elements_follow_the_coil(warmth: Warmth) -> None:
    constants = warmth.constants
    assert 2 <= len(constants.tau) <= 4
    assert constants.misfit < 0.02
    assert (constants.coil >= 0).all()
    # a small step about the settled state, by the whole model over time
    rise = constants.coil.sum()
    more = heat(warmth.result, 15.3)
    extra = more.settled.heat - warmth.settled.heat
    assert (more.coil.value - warmth.coil.value) / extra == pytest.approx(rise, rel=0.1)


def test_thermal_margin_is_that_of_the_first_limit(warmth: Warmth) -> None:
    margin, what = warmth.margin
    first = min(warmth.limits, key=lambda x: x.limit - x.temperature)
    assert (what, margin.value) == (first.name, pytest.approx(first.limit - first.temperature))
    assert 0 < margin.uncertainty < 2


def test_margin_and_temperatures_at_the_end_of_the_duration(warmth: Warmth) -> None:
    """Six minutes leave more margin than settling, six hours the same."""
    ends = {}
    for hours, kind in ((0.1, "noise"), (6.0, "noise"), (0.1, "bursts")):
        rules = dataclasses.replace(warmth.design.heat, duration=3600 * hours, programme=kind)
        found = dataclasses.replace(
            warmth, result=with_rules(warmth.result, **dataclasses.asdict(rules))
        )
        coil, magnet = found.at_end("coil-winding"), found.at_end("magnet")
        assert coil is not None
        assert magnet is not None
        ends[hours, kind] = coil.value, magnet.value, found.margin[0].value
    settled = warmth.coil.value, warmth.magnet.value, warmth.margin[0].value
    assert ends[6.0, "noise"] == pytest.approx(settled, abs=0.1)
    assert ends[0.1, "noise"][2] > settled[2] + 1
    assert ends[0.1, "bursts"][0] < ends[0.1, "noise"][0]
    assert warmth.at_end("coil-winding") is None


def test_bursts_warm_the_coil_and_less_the_magnet(warmth: Warmth) -> None:
    found = warmth.history(bursts(), 1800.0)
    steady = warmth.history(noise(), 1800.0)
    assert found.power.max() == 15.0
    assert found.coil.max() < steady.coil.max()
    assert found.magnet[-1] < steady.magnet[-1]
    assert found.coil.argmax() < len(found.coil) - 1
    wave = np.concatenate([np.sin(np.arange(8000)), np.zeros(8000)])
    played = recorded(wave, 8000)
    assert played.shares.tolist() == pytest.approx([2.0, 0.0])
    assert played.peak == pytest.approx(2.0, rel=1e-3)
    with pytest.raises(InvalidInput, match="have some sound"):
        recorded(np.zeros(8000), 8000)
    with pytest.raises(InvalidInput, match="crest factor"):
        noise(0.5)
    with pytest.raises(InvalidInput, match="at most 200 h"):
        warmth.history(noise(), 1e9)


def test_a_long_recording_ends_as_if_all_of_it_were_played(warmth: Warmth) -> None:
    shares = np.array([3.0, 0.2, 0.9, 1.6, 0.1, 0.2])
    played = Programme("recording", shares, 10.0, math.inf, 3.0)
    short = warmth.history(played, 5400.0)
    assert len(short.time) < 200
    assert short.time[-1] == 5400.0
    assert np.all(np.diff(short.time) > 0)
    whole = warm_up(
        warmth.model, "magnet", 15.0 * np.tile(shares, 90), np.linspace(0.0, 5400.0, 541)
    )
    assert short.coil[-45:] == pytest.approx(whole.coil[-45:], abs=0.3)
    assert short.magnet[-1] == pytest.approx(whole.magnet[-1], abs=0.2)
    assert short.coil.max() == pytest.approx(whole.coil.max(), abs=0.5)


def test_a_clipping_amplifier_is_told(neodymium: MotorResult) -> None:
    small = neodymium.design.replace(amplifier=Amplifier(clip=9.0))
    found = heat(dataclasses.replace(neodymium, design=small), 15.0)
    assert "it clips" in clipping(found.model, 15.0, noise(4.0))[0]
    assert clipping(found.model, 15.0, noise(1.0)) == []


def test_solids_follow_their_temperature(warmth: Warmth) -> None:
    """Steel at 100 degC against EN 1993-1-2:2005, 3.4.1; constant values warm faster."""
    steel = thermal_named("steel")
    for celsius, conductivity, capacity in (
        (20, 53.3, 439.8),
        (100, 50.7, 487.6),
        (150, 49.0, 510.4),
    ):
        warm = celsius - 20
        assert steel.conductivity * (1 + steel.conductivity_slope * warm) == pytest.approx(
            conductivity, rel=2e-3
        )
        assert steel.capacity * (1 + steel.capacity_slope * warm) == pytest.approx(
            capacity, rel=0.012
        )
    reduced = warmth.model.reduced
    still = dataclasses.replace(
        reduced,
        capacity_slope=0 * reduced.capacity_slope,
        conduction_slope=0 * reduced.conduction_slope,
    )
    plain = dataclasses.replace(warmth, model=dataclasses.replace(warmth.model, reduced=still))
    slow, fast = (w.history(noise(), 1800.0) for w in (warmth, plain))
    assert 0.05 < fast.magnet[-1] - slow.magnet[-1] < 2
    assert fast.stored != pytest.approx(slow.stored, rel=1e-3)


def test_powers_up_to_what_chars_the_coil(warmth: Warmth) -> None:
    rows = warmth.over_power()
    assert len(rows) == 10
    assert rows[-1]["coil_hottest"] == pytest.approx(CHARRED, abs=0.05)
    assert np.all(np.diff([row["level"] for row in rows]) < 0)
    assert np.all(np.diff([row["coil"] for row in rows]) > 0)


def test_files_of_the_command(tmp_path: Path) -> None:
    out = tmp_path / "warm"
    done = ran("heat", DESIGN, "--power", "8 W", "--time", "1 h", "--out", out, "--quiet")
    assert done.exit_code == 0
    names = {path.name for path in out.iterdir()}
    assert {
        "heat.json",
        "heat_over_time.csv",
        "heat_over_power.csv",
        "heat_field.png",
        "heat_over_time.svg",
    } <= names
    record = json.loads((out / "heat.json").read_text())
    assert record["over_time"]["time_s"] == 3600
    assert record["network"]["misfit_percent"] < 2
    rows = (out / "heat_over_time.csv").read_text().splitlines()
    assert len(rows) == 62
    assert rows[0].startswith("time_s,power_W,heat_in_coil_W,heat_in_parts_W,coil_degC")


def test_solve_temperature_and_heat_agree_on_what_is_lost() -> None:
    """A weak grade past its knee: solve, sweep and heat say the same Bl at one temperature."""
    design = read_design(DESIGNS / "door_woofer_neodymium.toml")
    design = design.replace(materials=dataclasses.replace(design.materials, magnet="N52"))
    warm = heat(solve(design), 3.0, ambient=ZERO + 130)
    kelvin = warm.magnet.value
    at_once = solve(design.replace(temperature=kelvin))
    cycle = temperature_sweep(design, [kelvin]).cycles[0]
    assert at_once.irreversible_loss.value > 0.01
    assert warm.bl_at_rest.value == pytest.approx(at_once.bl_curve.at_rest.value, rel=1e-5)
    assert cycle.there.at_rest.value == pytest.approx(at_once.bl_curve.at_rest.value, rel=2e-3)
    assert any("lost for good" in text for text in warm.cautions)


def test_the_page_has_heat_where_the_design_gives_a_power(neodymium: MotorResult) -> None:
    assert heat_section(neodymium) is None
    text = with_rules(neodymium, power=16.0).page()
    assert 'id="heat"' in text
    assert "16 W of lasting programme" in text
    assert "passes the 155 degC" in text
    assert "hot coils and motors burn" in text
