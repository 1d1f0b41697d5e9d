"""Few modes in place of tens of thousands of unknowns, for all places and frequencies of a coil.

The fields of a coil at some places, growing as exp(s t) at some real rates s, span a small space
in which the fields at all other places and frequencies lie nearly too.  Projected on it, with a
basis orthonormal in the stiffness, the equations K A + M dA/dt = b(x) i become

    a_j + tau_j da_j/dt = c_j(x) i,    flux linkage = sum of c_j(x) a_j,    tau_j >= 0:

each mode an inductance c_j^2 with the resistance c_j^2 / tau_j across it.  A projection keeps
both matrices positive, so this is passive at every place, whatever it leaves out; what it leaves
out makes the static inductance smaller, never larger.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from motor.base.arrays import Floats
from motor.field.eddy_currents import Harmonic

__all__ = ["modes"]

INDEPENDENT = 1e-11
"""Energy below which a direction in the span of all fields is rounding, over the largest."""


def modes(
    harmonic: Harmonic,
    still: Floats,
    growing: Floats,
    rates: Sequence[float],
    share: float,
) -> tuple[Floats, Floats]:
    """Return time constants in seconds, rising, and the modes that belong to them: (n, k).

    Parameters
    ----------
    harmonic : Harmonic
    still : (n, l) array
        Loads whose steady fields are to be spanned: many, since what they span is the coil's
        own near field.
    growing : (n, m) array
        Loads whose fields at all rates are.
    rates : sequence of float
        Real rates of growth in 1/s, above 0.
    share : float
        Energy of the directions left out, over the energy of each field, at most about that.
    """
    fields = np.hstack([harmonic.relaxed([0.0], still), harmonic.relaxed(rates, growing)])
    stiff, mass = harmonic.stiffness, harmonic.mass
    fields /= np.sqrt(np.einsum("nk,nk->k", fields, stiff @ fields))
    energies, directions = np.linalg.eigh(fields.T @ (stiff @ fields))
    kept = energies > max(share, INDEPENDENT * energies[-1])
    vectors = (fields @ directions[:, kept]) / np.sqrt(energies[kept])
    times, turned = np.linalg.eigh(vectors.T @ (mass @ vectors))
    return np.maximum(times, 0.0), np.asarray(vectors @ turned)
