"""The flux operator without its entries: beside them, and beside scikit-fem's interpolation."""

from __future__ import annotations

import numpy as np
import pytest
from skfem import Basis, ElementTriP2

import motor
from motor.field.operators import QUADRATURE_ORDER, FluxOperator
from motor.field.weak_form import Discretisation


@pytest.fixture(scope="module")
def system() -> Discretisation:
    return motor.solve(motor.starter("outside-magnet"), uncertainty=False).field.fine.system


def test_flux_density_is_that_of_the_finite_element_library(system: Discretisation) -> None:
    grid = system.mesh.mesh
    basis = Basis(grid, ElementTriP2(), intorder=QUADRATURE_ORDER)
    potential = np.random.default_rng(3).normal(size=basis.N)
    field = basis.interpolate(potential)
    r = basis.global_coordinates()[0]
    flux = FluxOperator(system.mesh)
    found = flux.applied(potential[basis.element_dofs.T])
    assert found[..., 0] == pytest.approx(field.grad[0] + field / r, rel=1e-9, abs=1e-9)
    assert found[..., 1] == pytest.approx(field.grad[1], rel=1e-9, abs=1e-9)
    assert flux.weight == pytest.approx(basis.dx * r)


def test_entries_apply_and_gather_alike(system: Discretisation) -> None:
    rng, flux, here = np.random.default_rng(4), FluxOperator(system.mesh), np.array([5, 0, 17])
    local = rng.normal(size=(system.mesh.mesh.nelements, 6))
    g = flux.of()
    applied = flux.applied(local)
    assert applied == pytest.approx(np.einsum("eqci,ei->eqc", g, local), rel=1e-9, abs=1e-7)
    assert flux.applied(local[here], here) == pytest.approx(applied[here])
    assert flux.of(here) == pytest.approx(g[here])
    flow = rng.normal(size=applied.shape)
    gathered = np.einsum("eqci,eqc->ei", g, flow)
    assert flux.gathered(flow) == pytest.approx(gathered, rel=1e-9, abs=1e-7)
    assert flux.applied(np.empty((0, 6)), np.empty(0, int)).shape == (0, len(g[0]), 2)
