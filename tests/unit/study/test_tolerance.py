"""Tolerances: draws, variance shares of a function whose shares are known, production inside."""

from __future__ import annotations

import numpy as np
import pytest

from motor.base.errors import InvalidInput
from motor.study.plan import Plan
from motor.study.production import Production, Tolerance
from motor.study.study_table import StudyTable
from motor.study.tolerance import read_scatter, share_inside, tolerance_plan
from tests.unit.study.plans import ferrite

TOLERANCES = (
    Tolerance("geometry.gap_width", 0.05e-3),
    Tolerance("coil.rest_position", 0.3e-3, "normal"),
    Tolerance("factors.remanence", 0.03),
)
SHARE = 0.01
"""Sampling error of a variance share with 1024 quasi-random draws."""


def made(power: int) -> Production:
    return Production(TOLERANCES, power=power)


def plan_of(name: str) -> Plan:
    return tolerance_plan(ferrite(), Production((Tolerance(name, 1.0),)))


def drawn(power: int = 10) -> StudyTable:
    plan = tolerance_plan(ferrite(), made(power))
    known = {p.name: p for p in plan.parameters}
    names = plan.axes[0].names
    records = []
    for row in plan.axes[0].rows:
        u, v, w = ((x - m) / t.width for x, m, t in zip(row, MIDDLES, TOLERANCES, strict=True))
        record = {known[n].column: known[n].shown(x) for n, x in zip(names, row, strict=True)}
        records.append(record | {"y": 5 + 2 * u + 3 * v + w**2, "flat": 7.0})
    return StudyTable.of_records(records)


MIDDLES = (1.65e-3, 0.0, 1.0)


def test_draws_stay_within_their_tolerances_and_fill_them():
    rows = np.array(tolerance_plan(ferrite(), made(10)).axes[0].rows)
    unit = (rows - MIDDLES) / [t.width for t in TOLERANCES]
    assert np.abs(unit).max() <= 1
    assert unit[:, 0].std() == pytest.approx(1 / np.sqrt(3), rel=0.01)
    assert unit[:, 1].std() == pytest.approx(1 / 3, rel=0.02)
    assert unit.mean(axis=0) == pytest.approx([0, 0, 0], abs=0.01)


def test_variance_shares_of_a_known_function():
    """Var(2u) = 4/3, Var(3v) = 9 * 0.1097 (normal cut at 3 sigma = 1), Var(w^2) = 4/45."""
    scatter = read_scatter(drawn(), made(10), "y")
    normal = 9 * 0.973 / 9
    parts = np.array([4 / 3, normal, 4 / 45])
    shares = [scatter.shares[t.name] for t in TOLERANCES]
    assert shares == pytest.approx(list(parts / parts.sum()), abs=SHARE)
    assert scatter.deviation**2 == pytest.approx(parts.sum(), rel=0.02)
    assert scatter.mean == pytest.approx(5 + 1 / 3, rel=1e-2)


def test_a_figure_that_does_not_vary_has_no_shares():
    scatter = read_scatter(drawn(6), made(6), "flat")
    assert scatter.deviation == 0
    assert set(scatter.shares.values()) == {0.0}


def test_share_inside_counts_failed_motors_as_outside():
    table = StudyTable.of_records([{"y": 1.0}, {"y": 2.0}, {"y": 3.0}, {"y": None}])
    assert share_inside(table, {"y": (1.5, None)}) == 0.5
    assert share_inside(table, {"y": (1.5, 2.5)}) == 0.25
    assert share_inside(table, {}) == 1.0
    with pytest.raises(InvalidInput, match="limits of y must start below their end"):
        share_inside(table, {"y": (2.0, 1.0)})


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Tolerance("a", 0.0), "must be greater than 0"),
        (lambda: Tolerance("a", 1.0, "round"), "must be uniform or normal"),
        (lambda: Production(()), "must name at least one"),
        (lambda: made(1), "from 2 to 16"),
        (
            lambda: tolerance_plan(ferrite(), Production((Tolerance("coil.layers", 1.0),))),
            "vary smoothly",
        ),
        (
            lambda: tolerance_plan(ferrite(), Production((Tolerance("coil.layer", 1.0),))),
            "did you mean",
        ),
        (
            lambda: read_scatter(drawn(2), made(2), "y"),
            "must be known of at least 14 motors; received 4",
        ),
    ],
)
def test_bad_tolerances_are_refused(make, words: str):
    with pytest.raises(InvalidInput, match=words):
        make()
