"""A sample inferred from measurements: synthetic ones with a known truth, and useless data."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.optimize import least_squares

import motor
from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.cli import main
from motor.design.design import Design
from motor.materials import magnet_named
from motor.report.page.design.page import design_page
from motor.report.page.fit import fit_section
from motor.report.tables.fit import fit_groups
from motor.report.tables.fit_record import consequences
from motor.results.motor_result import MotorResult
from motor.study.corrected import corrected_design, corrected_toml
from motor.study.fitted_part import fitted_parts
from motor.study.fitting import PLACE, _placed, fit
from motor.study.forward import around, built, reading, wound
from motor.study.held_inductance import produced_inductance
from motor.study.inferred import Fit, Inferred
from motor.study.measurements import Measurement, Measurements, read_measurements
from motor.study.parameters import Parameter, parameter_named
from motor.study.posterior import HUBER
from motor.study.predicted import candidates, exchanged, predicted
from motor.study.unknowns import TURNS, Unknown
from tests.unit.study.samples import bl_rows, sample_of, write_sample

TRUTH = {"factors.remanence": 0.96, "factors.steel": 0.98, "coil.rest_position": 0.7e-3}
RIG = 'gain = "0.5 %"\noffset = "0.05 mm"\n'


@pytest.fixture(scope="module")
def design() -> Design:
    return motor.starter("outside-magnet")


@pytest.fixture(scope="module")
def sample(design: Design) -> MotorResult:
    return sample_of(design, TRUTH)


@pytest.fixture(scope="module")
def rows(sample: MotorResult) -> Floats:
    return bl_rows(sample, np.random.default_rng(3))


@pytest.fixture(scope="module")
def measured(
    design: Design, rows: Floats, tmp_path_factory: pytest.TempPathFactory
) -> Measurements:
    path = write_sample(tmp_path_factory.mktemp("sample"), rows, RIG)
    return read_measurements(path, design)


@pytest.fixture(scope="module")
def found(design: Design, measured: Measurements) -> Fit:
    return fit(design, measured)


def test_truth_lies_within_three_deviations(found: Fit) -> None:
    assert found.settled
    for one in found.unknowns:
        assert abs(one.estimate - TRUTH[one.name]) < 3 * one.deviation, one


def test_what_can_be_known_from_bl_alone(found: Fit) -> None:
    """Remanence and the coil's place can, steel cannot."""
    verdicts = {one.name: one.verdict for one in found.unknowns}
    assert verdicts == {
        "factors.remanence": "yes",
        "factors.steel": "no",
        "coil.rest_position": "yes",
    }


def test_a_good_fit_has_no_warnings(found: Fit) -> None:
    assert found.warnings() == []
    assert 0.5 < found.residuals[0].scatter < 1.4


def test_a_steel_that_is_far_off_does_not_look_like_its_grade(found: Fit) -> None:
    first, steel, place = found.unknowns
    off = dataclasses.replace(steel, estimate=0.87, deviation=0.02)
    told = dataclasses.replace(found, unknowns=(first, off, place)).warnings()
    assert len(told) == 1
    assert "the steel does not look like its stated grade: it would saturate 13 % lower" in told[0]
    near = dataclasses.replace(off, estimate=0.905)
    assert dataclasses.replace(found, unknowns=(first, near, place)).warnings() == []
    far = dataclasses.replace(off, estimate=0.8)
    assert any(
        "model or a measurement" in w
        for w in dataclasses.replace(found, unknowns=(first, far, place)).warnings()
    )
    table = fit_groups(consequences(found))[0][2]
    assert table[1][-1] == "no: another steel would hardly show"


def test_the_search_starts_near_the_coils_place_and_solves_nothing_for_it(found: Fit) -> None:
    drawn, unknowns = found.before, found.measured.unknowns
    values = {u.name: u.prior for u in unknowns}
    sides = around(drawn, unknowns, values)
    parts = fitted_parts(found.measured, drawn, drawn, sides)
    s = np.zeros(max(part.size for part in parts))
    placed = _placed(wound(drawn.design), unknowns, parts, drawn, s, sides)
    assert placed is not None
    start, there = placed
    k = [u.name for u in unknowns].index(PLACE)
    assert start[k] == pytest.approx(TRUTH[PLACE] / unknowns[k].deviation, abs=0.5)
    assert np.delete(start, k) == pytest.approx(0.0)
    assert there.field.fine is drawn.field.fine
    others = [u for u in unknowns if u.name != PLACE]
    assert _placed(wound(drawn.design), others, parts, drawn, s, sides) is None


def test_the_band_holds_the_true_curve(found: Fit, sample: MotorResult) -> None:
    rig = found.residuals[0]
    true = reading(sample, rig.measurement)
    assert (np.abs(rig.after - true) < 3 * rig.band + 1e-3 * true.max()).all()
    assert np.abs(rig.before - true).max() > 10 * rig.band.max()


def test_same_estimate_by_a_general_routine_that_solves_every_motor_anew(
    design: Design, measured: Measurements, found: Fit
) -> None:
    """Scipy's trust region with differences of its own, of fields on their own meshes."""
    base, taken = wound(design), measured.taken[0]
    rig = {one.name: one for one in found.rigs}
    zero = rig["rig.offset"].estimate

    def residuals(s: Floats) -> Floats:
        values = {
            u.name: u.prior + u.deviation * float(x)
            for u, x in zip(measured.unknowns, s, strict=False)
        }
        result = motor.solve(built(base, values), uncertainty=False)
        read = (1 + taken.gain * s[-1]) * reading(result, taken, zero)
        away = zero / taken.offset
        return np.concatenate([(taken.values - read) / taken.deviation, s, [away]])

    def huber(z: Floats) -> Floats:
        """Return Huber's loss of squares with its derivatives; of priors the squares."""
        far = (z > HUBER**2) & (np.arange(len(z)) < len(taken.values))
        root = np.sqrt(np.where(far, z, 1.0))
        value = np.where(far, 2 * HUBER * root - HUBER**2, z)
        slope = np.where(far, HUBER / root, 1.0)
        return np.stack([value, slope, np.where(far, -HUBER / (2 * root**3), 0.0)])

    route = least_squares(residuals, np.zeros(4), loss=huber, diff_step=0.05, max_nfev=8)
    for one, s in zip(found.unknowns, route.x, strict=False):
        other = one.prior + one.prior_deviation * s
        assert abs(one.estimate - other) < 0.25 * one.deviation, one


def test_the_corrected_design_is_the_sample(found: Fit, sample: MotorResult) -> None:
    text = corrected_toml(found, "drawn.toml")
    again = motor.design_from_toml(text)
    assert again == corrected_design(found)
    bl = motor.solve(again, uncertainty=False).bl_curve.at_rest.value
    assert bl == pytest.approx(sample.bl_curve.at_rest.value, rel=0.01)
    assert "rest_position" in text
    assert all("inferred" in line for line in text.splitlines() if "rest_position =" in line)


def test_counted_turns_stay_and_are_written(design: Design) -> None:
    """Turns from the resistance, winding height from the curve's shape; steel stays the table's."""
    height = design.coil.winding_height
    sample = motor.solve(
        built(wound(design), {TURNS: 0.96, "coil.winding_height": height + 3e-4}),
        uncertainty=False,
    )
    x = np.linspace(-6e-3, 6e-3, 15)
    rig = Measurement("rig", "bl", {"x": x}, x, 0.02)
    rig = dataclasses.replace(rig, values=reading(sample, rig))
    ohm = {"temperature": design.temperature}
    meter = Measurement("meter", "resistance", {}, np.zeros(1), 0.01, settings=ohm)
    meter = dataclasses.replace(meter, values=np.array([sample.resistance]))
    unknowns = (
        Unknown(Parameter(TURNS, "number"), 1.0, 0.03),
        Unknown(parameter_named(design, "coil.winding_height"), height, 2e-4),
        Unknown(parameter_named(design, "factors.remanence"), 1.0, 0.03),
    )
    again = corrected_design(fit(design, Measurements("coil", unknowns, (rig, meter))))
    assert again.coil.turns == 84  # whole layers of 0.96 times 88
    assert again.coil.winding_height == pytest.approx(height + 3e-4, abs=1e-4)
    assert again.materials.steel == design.materials.steel


def test_bands_shrink_and_hold_the_sample(found: Fit, sample: MotorResult) -> None:
    bl = next(one for one in predicted(found) if one.figure == "bl_at_rest_Tm")
    assert bl.after_deviation < 0.3 * bl.before_deviation
    assert abs(bl.after - sample.bl_curve.at_rest.value) < 3 * bl.after_deviation
    steps = [u.prior_deviation for u in found.unknowns]
    sides = [found.sides[u.name] for u in found.unknowns]
    slopes = [
        (s.high.bl_curve.at_rest.value - s.low.bl_curve.at_rest.value) / s.step for s in sides
    ]
    assert bl.before_deviation == pytest.approx(np.hypot.reduce(np.multiply(slopes, steps)))


def test_what_to_measure_next(found: Fit) -> None:
    further = candidates(found)
    gains = [one.gain for one in further]
    assert gains == sorted(gains, reverse=True)
    assert gains[-1] >= -1e-9
    gauge = next(one for one in further if one.words.startswith("coil.rest_position"))
    before = found.unknowns[2].deviation
    assert gauge.deviations[2] == pytest.approx(before * 1e-5 / np.hypot(before, 1e-5))


def test_inductance_over_a_production_goes_with_the_square_of_its_turns(found: Fit) -> None:
    turns = Unknown(Parameter(TURNS, "number"), 1.0, 0.02)
    coil = Inferred("meter.inductance", "number", 1.0, 0.1, 1.05, 0.03)
    one = dataclasses.replace(
        found,
        measured=dataclasses.replace(found.measured, unknowns=(turns,)),
        sides=around(found.after, [turns], {TURNS: 1.01}),
        rigs=(coil,),
        covariance=np.array([[0.25]]),
    )
    got = produced_inductance(one)
    assert got.after == pytest.approx(1.05 * got.before, rel=0.05)  # sample and drawing: one motor
    assert got.before_deviation == pytest.approx(2 * 0.02 / 1.01 * got.after, rel=0.05)
    own = got.before_deviation / 2, 0.03 / 1.05 * got.after
    assert got.after_deviation == pytest.approx(np.hypot(*own))


def test_another_grade_keeps_the_rest_of_the_sample(found: Fit) -> None:
    other = dataclasses.replace(found.measured, exchange="Y33")
    bl = next(
        one
        for one in exchanged(dataclasses.replace(found, measured=other))
        if one.figure == "bl_at_rest_Tm"
    )
    remanence = magnet_named("Y33").remanence / (0.96 * magnet_named("Y30").remanence)
    assert bl.after / bl.before == pytest.approx(remanence, rel=0.03)
    assert bl.after_deviation > 2 * bl.before_deviation


def test_a_table_that_is_likely_misread_asks_for_its_units(found: Fit) -> None:
    rig = dataclasses.replace(found.residuals[0], probability=1e-9)
    assert "units" not in " ".join(rig.flags())
    assert "are its columns and their units right?" in " ".join(
        dataclasses.replace(rig, scaled=rig.scaled + 20).flags()
    )


def test_useless_data_give_an_answer_or_a_reason(
    design: Design, rows: Floats, tmp_path: Path
) -> None:
    flat = rows.copy()
    flat[:, 1] = flat[:, 1].mean()
    told = fit(design, read_measurements(write_sample(tmp_path, flat), design)).warnings()
    assert any("structure" in w or "scatter" in w for w in told)
    two = fit(design, read_measurements(write_sample(tmp_path, rows[::30]), design))
    assert two.unknowns[1].verdict == "no"
    kilo = rows * [1, 1000]
    with pytest.raises(InvalidInput, match="unit and sign"):
        fit(design, read_measurements(write_sample(tmp_path, kilo), design))
    far = rows * [1000, 1]
    far[:, 0] += 1e5
    with pytest.raises(InvalidInput, match="travel"):
        fit(design, read_measurements(write_sample(tmp_path, far), design))


def test_the_command(design: Design, rows: Floats, tmp_path: Path) -> None:
    motor.write_design(design, tmp_path / "drawn.toml")
    limits = "[end_of_line]\nbl_at_rest_Tm = { least = 4.0, deviation = 0.05 }\n"
    path = write_sample(tmp_path, rows, RIG + limits)
    out = tmp_path / "out"
    arguments = ["fit", str(tmp_path / "drawn.toml"), str(path), "--out", str(out), "--json"]
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 0, done.output
    record = json.loads(done.stdout)
    keys = {"name", "prior", "prior_deviation", "estimate", "deviation", "identifiable"}
    assert all(keys <= set(one) for one in record["unknowns"])
    assert [one["identifiable"] for one in record["unknowns"]] == [True, False, True]
    assert {one["figure"] for one in record["end_of_line"]} == {"bl_at_rest_Tm"}
    assert record["measure_next"][0]["gain_bits"] > 0.5
    names = {path.name for path in out.iterdir()}
    assert {"fit.png", "fit.html", "unknowns.csv", "figures.csv", "residuals_rig.csv"} <= names
    assert motor.read_design(out / "design.toml").coil.rest_position > 0


def test_the_page_of_the_corrected_design_holds_what_was_measured(found: Fit) -> None:
    section = fit_section(consequences(found), found.plot())
    page = design_page(found.after, fit=section)
    assert ("fit", "Measured sample") in page.sections
    text = page.text()
    assert "Measured on a sample, and inferred" in text
    assert all(title in text for title, grid in section.tables if grid.rows)
    assert "factors.remanence" in text
