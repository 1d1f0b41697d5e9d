"""Correlated tolerances, lots and guarded limits: draws, closed sums, what is refused."""

from __future__ import annotations

import dataclasses
import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from motor.base.errors import InvalidInput
from motor.study.guarding import Station, passed
from motor.study.production import SIGMAS, Correlation, Lot, Production, Tolerance
from motor.study.production_file import read_production
from motor.study.propagation import Effect, Propagation
from motor.study.study_file import read_study
from motor.study.study_table import StudyTable
from motor.study.tolerance import read_scatter
from tests.unit.study.plans import ferrite

CUT = 0.98658
"""Standard deviation of a normal law cut off at three of them."""
PLATE, POLE = "geometry.top_plate_thickness", "geometry.pole_diameter"
STRAIGHT = {"a": 2.0, "b": -3.0, "c": 0.5}


def straight(production: Production, slopes: dict[str, float]) -> Propagation:
    """Return the propagation of a figure that is a sum of straight effects."""
    ends = {name: np.array([-1.0, 1.0]) for name in slopes}
    effects = {name: Effect(ends[name], ends[name], slope) for name, slope in slopes.items()}
    return Propagation(production, {"y": 0.0}, {"y": effects}, {}, {})


@pytest.mark.parametrize("shapes", list(itertools.product(SIGMAS, repeat=2)))
@pytest.mark.parametrize("coefficient", [-0.9, 0.3, 0.75])
def test_draws_have_the_correlation_stated(shapes: tuple[str, str], coefficient: float) -> None:
    production = Production(
        tuple(Tolerance(n, 1.0, s) for n, s in zip("ab", shapes, strict=True)),
        correlations=(Correlation("a", "b", coefficient),),
    )
    own = production.draw(14).own
    assert np.corrcoef(own.T)[0, 1] == pytest.approx(coefficient, abs=3e-3)
    spreads = {"uniform": 1 / math.sqrt(3), "normal": CUT / 3}
    assert own.std(axis=0) == pytest.approx([spreads[s] for s in shapes], rel=2e-3)


def test_propagation_of_correlated_deviations() -> None:
    """JCGM 100:2008, equation 13: sums of c_i u_i c_j u_j r_ij; and lots shift as equation 16."""
    production = Production(
        tuple(Tolerance(name, 0.3, "normal") for name in "ab"),
        (Lot("batch", {"b": 0.2, "c": -0.4}),),
        (Correlation("a", "b", 0.6),),
    )
    drawn = production.draw(13)
    u, shift = 0.1 * CUT, 1 / math.sqrt(3)
    a, b = STRAIGHT["a"] * u, STRAIGHT["b"] * u
    pair = a**2 + b**2 + 2 * a * b * 0.6
    lot = ((STRAIGHT["b"] * 0.2 - STRAIGHT["c"] * 0.4) * shift) ** 2
    linear = straight(production, STRAIGHT)
    assert linear.values("y", drawn).var() == pytest.approx(pair + lot, rel=3e-3)
    parts = [linear.values("y", alone).var() for alone in production.of_cause(drawn)]
    assert production.causes == ("a + b", "lots.batch")
    assert parts == pytest.approx([pair, lot], rel=5e-3)
    sampled = dataclasses.replace(production, power=7)
    values = linear.values("y", sampled.draw())
    scatter = read_scatter(StudyTable.of_records([{"y": v} for v in values]), sampled, "y")
    assert list(scatter.shares.values()) == pytest.approx(
        [pair / (pair + lot), lot / (pair + lot)], abs=0.02
    )
    within = np.array([figures["y"].std() for figures in linear.lots(["y"])])
    means = np.array([figures["y"].mean() for figures in linear.lots(["y"])])
    assert within**2 == pytest.approx(pair, rel=5e-3)
    assert means.std() == pytest.approx(math.sqrt(lot), rel=0.03)


def test_a_lot_of_one_shift_is_a_correlation_of_one() -> None:
    together = Production(
        (Tolerance("a", 1.0), Tolerance("b", 2.0)), correlations=(Correlation("a", "b", 1.0),)
    )
    off = together.deviations(together.draw(8))
    assert off["b"] == pytest.approx(2 * off["a"], abs=1e-6)
    lot = Production((), (Lot("both", {"a": 1.0, "b": 2.0}),))
    shift = lot.deviations(lot.draw(8))
    assert shift["b"] == pytest.approx(2 * shift["a"], abs=1e-15)
    assert lot.reach("b") == 2.0
    assert lot.standard_deviation("b") == pytest.approx(2 / math.sqrt(3))


def test_uncorrelated_draws_are_those_of_before() -> None:
    """A pair that is correlated leaves the others' numbers as they are."""
    three = tuple(Tolerance(name, 1.0) for name in "abc")
    plain = Production(three).draw().own
    joined = Production(three, correlations=(Correlation("a", "c", 0.5),)).draw().own
    assert (joined[:, 1] == plain[:, 1]).all()
    assert not (joined[:, 0] == plain[:, 0]).all()


def test_what_no_station_reads_is_read_without_error() -> None:
    figures = {"y": np.array([1.0, 2.0, 3.0, np.nan]), "z": np.array([0.0, 0.0, 9.0, 0.0])}
    limits = {"y": (0.5, None), "z": (None, 5.0)}
    found = passed(figures, limits, {"y": Station(1e-6)})
    assert (found.good, found.passing, found.escapes, found.rejected) == (0.5, 0.5, 0.0, 0.0)
    assert Station(0.1, 1.0).limits(1.0, None) == (1.1, None)


GIVEN = f'''design = "{{design}}"
[tolerances]
"{POLE}" = {{{{ width = "0.05 mm", shape = "normal" }}}}
"{PLATE}" = "0.1 mm"
"factors.remanence" = 0.01
'''
REFUSED = {
    "[lots.ferrite]\n": "lot ferrite must shift at least one parameter",
    '[lots.ferrite]\n"factors.remanance" = 0.02\n': "did you mean factors.remanence",
    '[lots.ferrite]\n"temperature" = "5 K"\n': "lots.ferrite must leave out the temperature",
    '[lots.ferrite]\n"factors.remanence" = -0.9\n': "must be at most 0.5; received -0.9",
    '[lots.ferrite]\nshape = "round"\n"factors.remanence" = 0.1\n': "be uniform or normal",
    f'[[correlations]]\nbetween = ["{POLE}"]\n': "between must be a list of two tolerances",
    f'[[correlations]]\nbetween = ["{POLE}", "{PLATE}"]\n': "coefficient must be given, from -1",
    f'[[correlations]]\nbetween = ["{POLE}", "{PLATE}"]\ncoefficient = 1.2\n': "be from -1 to 1",
    f'[[correlations]]\nbetween = ["{POLE}", "geometry.gap_widht"]\ncoefficient = 0.2\n': (
        "be between tolerances of this file"
    ),
    f'[[correlations]]\nbetween = ["{POLE}", "{PLATE}"]\ncoefficient = 0.99\n': (
        "be at most 0.977 where one is uniform and one normal"
    ),
    "".join(
        f'[[correlations]]\nbetween = ["{a}", "{b}"]\ncoefficient = -0.8\n'
        for a, b in itertools.combinations((POLE, PLATE, "factors.remanence"), 2)
    ): "without a negative eigenvalue; received -0.6",
    "[limits]\nbl_at_rest_Tm = { least = 6.0, guard = 2 }\n": "guard must come with deviation",
    "[limits]\nbl_at_rest_Tm = { least = 6.0, deviation = -1 }\n": "deviation must be greater",
    "[limits]\nbl_at_rest_Tm = { least = 6.0, most = 6.1, deviation = 0.1 }\n": (
        "guard must leave something of the limits"
    ),
}


@pytest.mark.parametrize("text", REFUSED)
def test_a_production_is_refused_with_its_reason(text: str, tmp_path: Path) -> None:
    design = Path("studies/designs/door_woofer_ferrite.toml").resolve()
    path = tmp_path / "study.toml"
    path.write_text(GIVEN.format(design=design) + text, encoding="utf-8")
    with pytest.raises(InvalidInput) as caught:
        read_study(path)
    assert REFUSED[text] in str(caught.value)


def test_a_production_as_written() -> None:
    data = {
        "tolerances": {"power": 5, POLE: "0.05 mm", PLATE: {"width": "0.1 mm", "shape": "uniform"}},
        "lots": {"ferrite": {"shape": "normal", "factors.remanence": 0.02, PLATE: "-0.1 mm"}},
        "correlations": [{"between": [POLE, PLATE], "coefficient": 0.5}],
    }
    found = read_production(ferrite(), data)
    assert found.power == 5
    assert found.lots == (Lot("ferrite", {"factors.remanence": 0.02, PLATE: -1e-4}, "normal"),)
    assert found.parameters == (POLE, PLATE, "factors.remanence")
    assert found.causes == (f"{POLE} + {PLATE}", "lots.ferrite")
    assert found.members("lots.ferrite") == ("factors.remanence", PLATE)
