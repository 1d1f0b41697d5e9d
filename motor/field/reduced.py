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

ROUNDING = 1e-7
"""Share of a vector below which what it adds to others is rounding."""
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
    products = fields.T @ (stiff @ fields)
    sizes = np.sqrt(products.diagonal())
    fields /= sizes
    energies, directions = np.linalg.eigh(products / np.outer(sizes, sizes))
    kept = energies > max(share, INDEPENDENT * energies[-1])
    vectors = (fields @ directions[:, kept]) / np.sqrt(energies[kept])
    times, turned = np.linalg.eigh(vectors.T @ (mass @ vectors))
    return np.maximum(times, 0.0), np.asarray(vectors @ turned)


def lagging(
    times: Floats, coupling: Floats, frequency: Floats, tolerance: float
) -> tuple[Floats, Floats, Floats]:
    """Return fewer modes that lag, and what follows at once: times (r,), (m, r), (m,).

    With z_j = sqrt(tau_j) da_j/dt the modes are loops of resistance 1, self-inductance tau_j
    and mutual inductance d_j = sqrt(tau_j) c_j beside the static inductance:
    tau z' + z = d i'.  Projecting z on few directions keeps the static inductance exact and
    the losses positive, and what few loops take off the inductance never exceeds what all
    take, so that the part that follows at once stays positive.  The directions are what z does
    where the error is largest, one place and frequency after the other.

    Parameters
    ----------
    times : (k,) array
        Seconds, 0 or more.
    coupling : (m, k) array
        Square root of henry, at m places.
    frequency : (n,) array
        Hertz, above 0: where inductance and resistance are to agree.
    tolerance : float
        Largest difference of either, over its value, at any of the places and frequencies.
    """
    mutual, static = coupling * np.sqrt(times), (coupling**2).sum(axis=1)
    s = 2j * np.pi * frequency[:, None]
    exact = (1 / (1 + s * times)) @ (coupling**2).T
    chosen = np.zeros((0, len(times)))
    found, new, rest = np.zeros(0), np.zeros((len(coupling), 0)), static
    while True:
        error = rest + (1 / (1 + s * found)) @ (new**2).T - exact
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.fmax(np.abs(error.real / exact.real), np.abs(error.imag / exact.imag))
        before = len(chosen)
        if off.max() >= tolerance:
            worst, place = np.unravel_index(off.argmax(), off.shape)
            loops = mutual[place] / (1 + s[worst] * times)
            chosen = _joined(chosen, loops.real, loops.imag)
        if len(chosen) == before:
            return found, new, rest
        found, turned = np.linalg.eigh((chosen * times) @ chosen.T)
        new = (mutual @ chosen.T @ turned) / np.sqrt(found)
        rest = static - (new**2).sum(axis=1)


def _joined(rows: Floats, *more: Floats) -> Floats:
    """Return orthonormal rows and what each further vector adds to them."""
    for vector in more:
        rest = vector
        for _ in range(2):
            rest = rest - rows.T @ (rows @ rest)
        size = np.linalg.norm(rest)
        if size > ROUNDING * np.linalg.norm(vector):
            rows = np.vstack([rows, rest / size])
    return rows
