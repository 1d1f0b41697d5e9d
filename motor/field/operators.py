"""Flux density of second-order basis functions at the quadrature points of straight triangles."""

from __future__ import annotations

import numpy as np
from skfem import ElementTriP2
from skfem.quadrature import get_quadrature

from motor.base.arrays import Floats, Ints
from motor.field.meshing import MotorMesh

__all__ = ["QUADRATURE_ORDER", "FluxOperator", "points"]

QUADRATURE_ORDER = 4
"""Exact for the products of gradients of P2 functions with r; B-H laws are integrated with it."""


def _reference() -> tuple[Floats, Floats, Floats, Floats]:
    """Return quadrature points (2, q), weights (q,), and the shape functions there.

    Their values (q, 6) and slopes (2, q, 6) in the reference triangle.
    """
    points, weights = get_quadrature(ElementTriP2.refdom, QUADRATURE_ORDER)
    shapes = [ElementTriP2().lbasis(points, i) for i in range(6)]
    values = np.stack([value for value, _ in shapes], axis=-1)
    return points, weights, values, np.stack([slope for _, slope in shapes], axis=-1)


POINTS, WEIGHTS, VALUES, SLOPES = _reference()


class FluxOperator:
    """(B_z, -B_r) at the quadrature points of a mesh, from the potential at its nodes.

    Parameters
    ----------
    mesh : MotorMesh

    Attributes
    ----------
    weight : (element, point) array
        r dr dz of each quadrature point.
    """

    def __init__(self, mesh: MotorMesh) -> None:
        corner = mesh.mesh.p[:, mesh.mesh.t]
        first, a, b = corner[:, 0], corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        det = a[0] * b[1] - a[1] * b[0]
        self._radius = first[0][:, None] + np.outer(a[0], POINTS[0]) + np.outer(b[0], POINTS[1])
        ways = np.stack([b[1], -a[1], -b[0], a[0]], axis=-1) / det[:, None]
        self._ways = ways.reshape(-1, 2, 2)
        self.weight: Floats = np.abs(det)[:, None] * WEIGHTS * self._radius

    def of(self, here: Ints | slice = slice(None)) -> Floats:
        """Return G (element, point, component, node), of all elements or of some."""
        ways = self._ways[here]
        slopes = ways.reshape(-1, 2) @ SLOPES.reshape(2, -1)
        g = slopes.reshape(len(ways), 2, *SLOPES.shape[1:]).transpose(0, 2, 1, 3).copy()
        g[:, :, 0] += VALUES / self._radius[here][..., None]
        return np.asarray(g)

    def applied(self, local: Floats, here: Ints | slice = slice(None)) -> Floats:
        """Return G times the potentials at each element's nodes (element, 6), G never made.

        Array (element, point, component).
        """
        slopes = (local @ SLOPES.reshape(-1, 6).T).reshape(len(local), 2, len(WEIGHTS))
        found = np.matmul(self._ways[here], slopes)
        found[:, 0] += (local @ VALUES.T) / self._radius[here]
        return np.asarray(found.swapaxes(1, 2))

    def gathered(self, flow: Floats) -> Floats:
        """Return a field (element, point, component) times G, array (element, 6), G never made."""
        slopes = np.matmul(self._ways.swapaxes(1, 2), flow.swapaxes(1, 2))
        found = slopes.reshape(len(flow), 2 * len(WEIGHTS)) @ SLOPES.reshape(-1, 6)
        return np.asarray(found + (flow[..., 0] / self._radius) @ VALUES)


def points(mesh: MotorMesh) -> Floats:
    """Return (r, z) of the quadrature points in metres: array (2, element, point)."""
    shares = np.stack([1 - POINTS.sum(axis=0), *POINTS])
    return np.asarray(np.einsum("cvn,vq->cnq", mesh.mesh.p[:, mesh.mesh.t], shares))
