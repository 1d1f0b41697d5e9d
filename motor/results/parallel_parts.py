"""How parts of a coil in parallel share an alternating current.

By their coupled impedances: with the resistances R, the matrix M of their flux linkages per ampere
(complex: eddy currents) and the same voltage u at all, (R + i w M) i = u, the sum of i being 1 A
(coupled coils side by side, any book on circuits).
"""

from __future__ import annotations

import math

import numpy as np

from motor.base.arrays import Complexes, Floats
from motor.design.coil import Coil
from motor.field.field import FieldOnMesh
from motor.results.loaded import coil_load

__all__ = ["loads_apart", "shared_current"]


def loads_apart(level: FieldOnMesh, coil: Coil, positions: Floats) -> Floats:
    """Return the loads of 1 A in each part of a coil, with its sense: array (n, part, position)."""
    found = []
    for one, share in zip(coil.each, coil.shares, strict=True):
        turns = math.copysign(one.turns_in_series, share)
        middles = one.rest_position + positions
        found.append(np.stack([coil_load(level, one, z, turns) for z in middles], axis=1))
    return np.stack(found, axis=1)


def shared_current(
    coil: Coil, temperature: float, frequency: float, loads: Floats, potentials: Complexes
) -> tuple[Complexes, Complexes | float]:
    """Return the current in each part per ampere at the terminals, and what sharing adds.

    The first is an array (part, position); the second is henry: the heat of the parts' own
    resistances beyond that of a steady current, over i w.
    """
    r = np.array([one.resistance(temperature) for one in coil.each])
    omega = 2 * np.pi * frequency
    linked = 2 * np.pi * np.einsum("npk,nqk->kpq", loads, potentials)
    currents = np.linalg.solve(np.diag(r) + 1j * omega * linked, np.ones((len(r), 1)))[..., 0].T
    currents /= currents.sum(axis=0)
    if not omega:
        return currents, 0.0
    own = (r[:, None] * currents**2).sum(axis=0)
    return currents, np.asarray((own - 1 / (1 / r).sum()) / (1j * omega))
