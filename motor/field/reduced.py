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

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.field.eddy_currents import Harmonic

__all__ = ["Span", "lagging", "modes"]

ROUNDING = 1e-7
"""Share of a vector below which what it adds to others is rounding."""
INDEPENDENT = 1e-11
"""Energy below which a direction in the span of all fields is rounding, over the largest."""


@dataclass(frozen=True)
class Span:
    """Modes as sums of fields that were computed.

    Parameters
    ----------
    times : (k,) array
        Time constants in seconds, rising.
    fields : (n, m) array
        Potentials, reduced.
    turn : (m, k) array
        Each mode's share of each field.
    """

    times: Floats
    fields: Floats
    turn: Floats

    def coupling(self, loads: Floats) -> Floats:
        """Return what loads (n, ...) drive in each mode: array (..., k)."""
        return np.asarray(math.sqrt(2 * math.pi) * (loads.T @ self.fields) @ self.turn)

    @functools.cached_property
    def vectors(self) -> Floats:
        """The modes: array (n, k)."""
        return np.asarray(self.fields @ self.turn)


def modes(harmonic: Harmonic, driven: Sequence[tuple[float, Floats]], share: float) -> Span:
    """Return the modes that some fields span.

    Parameters
    ----------
    harmonic : Harmonic
    driven : sequence of float and (n, m) array
        Rates of growth in 1/s, 0 or more, and the loads whose fields at that rate are to be
        spanned: many steady ones, since what they span is the coil's own near field.
    share : float
        Energy of the directions left out, over the energy of each field, at most about that.
    """
    fields = np.concatenate([harmonic.relaxed([s], loads) for s, loads in driven], axis=1)
    loads = np.concatenate([loads for _, loads in driven], axis=1)
    rates = np.concatenate([np.full(loads.shape[1], s) for s, loads in driven])
    mass, loaded = harmonic.mass, np.flatnonzero(loads.any(axis=1))
    there = np.flatnonzero(np.diff(mass.indptr))
    inside = fields[there]
    slow = inside.T @ (mass[there][:, there] @ inside)
    # K a = b - s M a of each field, so K itself is not needed
    stiff = fields[loaded].T @ loads[loaded] - slow * rates
    sizes = np.sqrt(stiff.diagonal())
    energies, directions = np.linalg.eigh((stiff + stiff.T) / (2 * np.outer(sizes, sizes)))
    kept = energies > max(share, INDEPENDENT * energies[-1])
    turn = directions[:, kept] / np.sqrt(energies[kept]) / sizes[:, None]
    times, turned = np.linalg.eigh(turn.T @ slow @ turn)
    return Span(np.maximum(times, 0.0), fields, turn @ turned)


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
