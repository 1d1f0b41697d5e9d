"""Meshes that are fine where the winding stands, as the coil's own field needs them."""

from __future__ import annotations

import numpy as np

from motor.base.arrays import Floats
from motor.design.coil import Coil
from motor.field.meshing import MotorMesh
from motor.field.refinement import longest_edges

__all__ = ["AT_COIL", "fine_at_coil"]

AT_COIL = 0.25
"""Largest triangle edge, over what is added to its distance from the winding."""
REACH = 0.6
"""Of a triangle with an edge of 1, from its centre to its farthest corner at most."""


def fine_at_coil(
    mesh: MotorMesh, coil: Coil, positions: Floats, near: float, at_coil: float = AT_COIL
) -> MotorMesh:
    """Return the mesh with edges in proportion to their distance from where the winding stands.

    Parameters
    ----------
    mesh : MotorMesh
    coil : Coil
    positions : (n,) array
        Displacements from rest, rising.
    near : float
        What is added to the distance, metres.
    at_coil : float
        Largest edge over that.
    """
    while True:
        grid = mesh.mesh
        r, z = grid.p[:, grid.t].mean(axis=1)
        away = np.min([_distance(one, positions, r, z) for one in coil.each], axis=0)
        edge = longest_edges(grid)
        large = np.flatnonzero(edge > at_coil * (near + np.maximum(0, away - REACH * edge)))
        if not len(large):
            return mesh
        mesh = mesh.refined(large)


def _distance(winding: Coil, positions: Floats, r: Floats, z: Floats) -> Floats:
    """Return how far points (metres) are from a winding at any of its places."""
    low, high = winding.bottom + positions[0], winding.top + positions[-1]
    return np.asarray(
        np.hypot(
            np.maximum(0, np.maximum(winding.inner_radius - r, r - winding.outer_radius)),
            np.maximum(0, np.maximum(low - z, z - high)),
        )
    )
