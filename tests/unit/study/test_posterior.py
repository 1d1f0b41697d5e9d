"""The linear model with normal priors, against closed forms and two independent routes."""

from __future__ import annotations

import emcee
import numpy as np
import pytest
from numpy.random import default_rng
from scipy.optimize import least_squares

from motor.base.arrays import Floats
from motor.study.posterior import (
    HUBER,
    covariance,
    curvature,
    gained,
    loss,
    most_probable,
    scatter_of,
    structure,
)

SEED, POINTS = 5, 60
LIMIT = np.full(POINTS, HUBER)


def _problem(outliers: int = 0) -> tuple[Floats, Floats, Floats]:
    """Return a model of three unknowns, its points, and the truth."""
    rng = default_rng(SEED)
    x = np.linspace(-1, 1, POINTS)
    A = np.stack([8 * np.ones(POINTS), 5 * x, 0.3 * x**2], axis=1)
    truth = np.array([0.6, -1.1, 0.4])
    y = A @ truth + rng.standard_normal(POINTS)
    y[7 :: POINTS // 4][:outliers] += 30
    return A, y, truth


def test_few_noiseless_points_give_the_normal_closed_form() -> None:
    """One unknown, one point: mean a y / (1 + a^2), variance 1 / (1 + a^2)."""
    A, y = np.array([[3.0]]), np.array([2.0])
    assert most_probable(A, y, np.full(1, np.inf)) == pytest.approx([3 * 2 / 10])
    assert covariance(A, np.ones(1)) == pytest.approx(np.array([[0.1]]))


def test_what_data_do_not_touch_keeps_its_prior() -> None:
    A = np.array([[3.0, 0.0], [2.0, 0.0]])
    s = most_probable(A, np.array([1.0, 1.0]), np.full(2, np.inf))
    known = covariance(A, np.ones(2))
    assert s[1] == 0
    assert known[1, 1] == pytest.approx(1)
    assert known[0, 0] == pytest.approx(1 / 14)


def test_same_estimate_as_a_general_least_squares_routine() -> None:
    A, y, _ = _problem(outliers=4)

    def residuals(s: Floats) -> Floats:
        return np.concatenate([y - A @ s, s])

    route = least_squares(residuals, np.zeros(3), loss="huber", f_scale=HUBER, xtol=1e-12)
    assert np.abs(route.x).max() < HUBER  # the prior's own residuals stay quadratic in it
    assert most_probable(A, y, LIMIT) == pytest.approx(route.x, abs=1e-5)


def test_outliers_move_the_estimate_little() -> None:
    A, y, truth = _problem(outliers=4)
    spread = np.sqrt(np.diag(covariance(A, curvature(y - A @ truth, LIMIT))))
    assert (np.abs(most_probable(A, y, LIMIT) - truth) < 3 * spread).all()
    plain = np.linalg.solve(np.eye(3) + A.T @ A, A.T @ y)
    assert (np.abs(plain - truth) > 5 * spread).any()


def test_covariance_is_that_of_an_ensemble_sampler() -> None:
    """Emcee samples the same density (J. Goodman and J. Weare 2010)."""
    A, y, _ = _problem()
    s = most_probable(A, y, LIMIT)
    known = covariance(A, curvature(y - A @ s, LIMIT))
    rng = default_rng(SEED)
    walkers = s + 0.1 * rng.standard_normal((24, 3))

    def density(many: Floats) -> Floats:
        return np.array([-loss(y - A @ one, LIMIT, one) for one in many])

    sampler = emcee.EnsembleSampler(24, 3, density, vectorize=True)
    np.random.seed(SEED)  # noqa: NPY002 - what the sampler draws from
    sampler.run_mcmc(walkers, 1200)
    chain = sampler.get_chain(discard=200, flat=True)
    spread = np.sqrt(np.diag(known))
    assert np.abs((chain.mean(axis=0) - s) / spread).max() < 0.15
    assert chain.std(axis=0) == pytest.approx(spread, rel=0.1)
    between = np.corrcoef(chain.T) - known / np.outer(spread, spread)
    assert np.abs(between).max() < 0.1


def _judged(A: Floats, y: Floats) -> float:
    s = most_probable(A, y, LIMIT)
    residual = y - A @ s
    bend = curvature(residual, LIMIT)
    return structure(residual, A, covariance(A, bend), np.arange(POINTS), LIMIT, bend)


def test_structure_is_found_where_it_is_and_rarely_where_it_is_not() -> None:
    rng = default_rng(SEED)
    A, _, _ = _problem()
    found = []
    for _ in range(400):
        y = A @ rng.standard_normal(3) + rng.standard_normal(POINTS)
        y[rng.random(POINTS) < 0.02] += 10
        found.append(_judged(A, y))
    assert 0.01 <= np.mean(np.array(found) < 0.05) <= 0.09
    assert np.mean(np.array(found) < 0.001) <= 0.005
    wave = y + 1.5 * np.cos(3 * np.pi * np.linspace(-1, 1, POINTS))
    assert _judged(A, wave) < 1e-3


def test_scatter_is_told_apart_from_structure_and_outliers() -> None:
    rng = default_rng(SEED)
    order = np.arange(POINTS)
    noise = rng.standard_normal(POINTS)
    assert scatter_of(2 * noise, order) == pytest.approx(2 * scatter_of(noise, order))
    wave = noise + 8 * np.cos(np.pi * np.linspace(-1, 1, POINTS))
    far = noise + 20 * (order % 20 == 3)
    for other in (wave, far):
        assert scatter_of(other, order) == pytest.approx(scatter_of(noise, order), abs=0.2)


def test_a_further_measurement_shrinks_as_a_joint_fit_does() -> None:
    A, _, _ = _problem()
    more = default_rng(1).standard_normal((5, 4))
    joint = np.zeros((POINTS + 5, 4))
    joint[:POINTS, :3], joint[POINTS:] = A, more
    known = covariance(A, np.ones(POINTS))
    assert gained(known, more) == pytest.approx(covariance(joint, np.ones(POINTS + 5))[:3, :3])
