"""Shared fields give the results of single solves; fingerprints tell inputs apart."""

from __future__ import annotations

import ast
import functools
from pathlib import Path

import pytest

import motor.study.evaluate
from motor.report.labels import label_of
from motor.results.assembly import assemble
from motor.results.centring import centring
from motor.results.heat import heat
from motor.results.motor_result import solve
from motor.results.quantities import column_words
from motor.study.evaluate import PHYSICS, Measure, job_of, solve_jobs
from motor.study.parameters import Draft
from tests.unit.study.plans import ferrite

ROOT = Path(__file__).parents[3]
COILS = [
    {},
    {"coil.winding_height": 9e-3},
    {"coil.winding_height": 19e-3, "coil.rest_position": 0.7e-3},
    {"coil.layers": 1},
    {"coil.wire.size": "0.2 mm"},
]
EXACT = 1e-9
"""Relative: the same field, read off twice."""


def test_designs_that_differ_only_in_the_coil_share_a_field_and_lose_nothing():
    designs = [Draft(ferrite(), changes).design() for changes in COILS]
    jobs = [job_of(design) for design in designs]
    assert len({job.field for job in jobs}) == 1
    assert len({job.fingerprint for job in jobs}) == len(jobs)
    for outcome, design in zip(solve_jobs(jobs), designs, strict=True):
        alone = solve(design).summary()
        assert outcome.results is not None
        compared = 0
        for key, value in outcome.results.items():
            if key in alone and isinstance(value, float):
                assert value == pytest.approx(alone[key], rel=EXACT, abs=1e-12), key
                compared += 1
        assert compared > 40
        assert outcome.results["bl_at_rest_Tm"] == pytest.approx(
            alone["bl_at_rest_Tm"], abs=alone["bl_at_rest_uncertainty_Tm"]
        )


@pytest.mark.parametrize(
    "changes",
    [
        {"geometry.gap_width": 1.7e-3},
        {"materials.magnet": "Y33"},
        {"materials.steel": "pure-iron"},
        {"materials.values": "minimum"},
        {"temperature": 300.0},
        {"factors.remanence": 0.99},
        {"factors.steel": 0.99},
    ],
)
def test_what_changes_the_field_changes_both_digests(changes):
    base, other = job_of(ferrite()), job_of(Draft(ferrite(), changes).design())
    assert base.field != other.field
    assert base.fingerprint != other.fingerprint


def test_names_do_not_matter_and_measures_do():
    base = job_of(ferrite())
    assert job_of(ferrite().replace(name="another", notes="x")).fingerprint == base.fingerprint
    warm = job_of(ferrite(), Measure(hottest=350.0))
    assert warm.field == base.field
    assert warm.fingerprint != base.fingerprint


def test_margins_are_those_of_a_single_trip():
    from motor.results.demagnetisation import thermal_cycle

    design = ferrite()
    outcome = solve_jobs([job_of(design, Measure(coldest=243.15))])[0]
    cycle = thermal_cycle(solve(design), 243.15)
    assert outcome.results is not None
    assert outcome.results["demag_margin_cold_kA_per_m"] == pytest.approx(
        cycle.margin / 1e3, rel=1e-6
    )
    assert "demag_margin_hot_kA_per_m" not in outcome.results


def test_an_error_is_an_outcome_of_its_design(monkeypatch):
    right = motor.study.evaluate.read_off_other_coil

    def wrong(design, field):
        if design.coil.layers == 1:
            raise ZeroDivisionError("made up")
        return right(design, field)

    monkeypatch.setattr(motor.study.evaluate, "read_off_other_coil", wrong)
    jobs = [job_of(Draft(ferrite(), c).design()) for c in ({"coil.layers": 1}, {})]
    first, second = solve_jobs(jobs)
    assert first.results is None
    assert first.error == "ZeroDivisionError: made up"
    assert second.results is not None
    assert second.error == ""


def test_a_power_in_the_heat_section_adds_where_it_settles() -> None:
    warm = {"heat.power": 10.0, "heat.ambient": 333.15}
    plain, asked = ferrite(), Draft(ferrite(), warm).design()
    assert job_of(plain).field == job_of(asked).field
    assert job_of(plain).fingerprint != job_of(asked).fingerprint
    hotter = Draft(asked, {"heat.ambient": 353.15}).design()
    assert job_of(hotter).fingerprint != job_of(asked).fingerprint
    without, found = (outcome.results for outcome in solve_jobs([job_of(plain), job_of(asked)]))
    assert without is not None
    assert found is not None
    assert "coil_temperature_degC" not in without
    alone = heat(solve(asked), 10.0)
    assert found["coil_temperature_degC"] == pytest.approx(alone.coil.value - 273.15, abs=1e-3)
    assert found["largest_power_W"] == pytest.approx(alone.largest_power[0].value, rel=1e-4)
    assert found["largest_power_limited_by"] == "wire"
    assert found["bl_at_rest_warm_Tm"] < found["bl_at_rest_Tm"]


def test_a_measure_adds_what_pulls_off_centre_and_while_it_is_put_together(monkeypatch) -> None:
    seen = {}

    def kept(name, run):
        def one(*given, **more):
            seen[name] = run(*given, **more)
            return seen[name]

        return one

    quick = functools.partial(assemble, steps=3)
    monkeypatch.setattr(motor.study.evaluate, "assemble", kept("together", quick))
    monkeypatch.setattr(motor.study.evaluate, "centring", kept("sideways", centring))
    design = ferrite()
    asked = Measure(off_centre=True, assembly=("top_plate",), holding=1.0)
    coils = [design, Draft(design, {"coil.layers": 1}).design()]
    found, other = (o.results for o in solve_jobs([job_of(d, asked) for d in coils]))
    assert found is not None
    assert other is not None
    result = solve(design)
    largest = max(part.stiffness.value for part in seen["sideways"].parts)
    assert found["radial_stiffness_N_per_mm"] == pytest.approx(largest / 1e3)
    assert found["radial_stiffness_of"] in ("yoke", "magnet and yoke")
    together = seen["together"]
    assert found["assembly_peak_N"] == pytest.approx(abs(together.peak[0].value))
    assert together.passed is not None
    assert found["holding_distance_mm"] == pytest.approx(together.passed.value * 1e3)
    built = {k for k in found if k.startswith(("radial_", "assembly_", "holding_"))}
    assert {k: found[k] for k in built} == {k: other[k] for k in built}
    joints = {"_and_".join(j.between): j.pull for j in result.forces.joints}
    pulls = {k: v for k, v in found.items() if k.startswith("pull_at_")}
    assert len(pulls) == 2 * len(joints)
    for pair, pull in joints.items():
        assert pulls[f"pull_at_{pair}_N"] == pytest.approx(pull.value)
        assert pulls[f"pull_at_{pair}_uncertainty_N"] == pytest.approx(pull.uncertainty)
        assert label_of(f"pull_at_{pair}_N").startswith("magnetic pull at the joint of")
    words = column_words(design.regions)
    assert {k for k in found if k.startswith(("pull_at_", "force_on_"))} <= set(words)
    joint = result.summary()["joints"][0]
    assert joint["force_N"] == pytest.approx(abs(joints["_and_".join(joint["between"])].value))
    assert joint["tension"] is False


def imported(module: str) -> set[str]:
    """Return the modules of the program that one imports when it is loaded, and theirs."""
    found, waiting = set(), [module]
    while waiting:
        name = waiting.pop()
        path = ROOT / name.replace(".", "/")
        path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
        if name in found or not path.is_file() or not name.startswith("motor."):
            continue
        found.add(name)
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ImportFrom) and node.module:
                waiting += [node.module, *(f"{node.module}.{a.name}" for a in node.names)]
    return found


def test_all_that_results_depend_on_is_in_their_fingerprint() -> None:
    names = imported("motor.study.evaluate")
    assert {"motor.study.slopes", "motor.results.heat", "motor.field.newton"} <= names
    for name in names:
        place = name.removeprefix("motor.").replace(".", "/")
        assert place.split("/")[0] in PHYSICS or f"{place}.py" in PHYSICS or place == "study", name
