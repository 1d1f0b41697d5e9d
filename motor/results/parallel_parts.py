"""How parts of a coil in parallel share an alternating current.

By their coupled impedances: with the resistances R, the matrix M of their flux linkages per ampere
(complex: eddy currents) and the same voltage u at all, (R + i w M) i = u, the sum of i being 1 A
(coupled coils side by side, any book on circuits).

In modes (:mod:`motor.field.reduced`) the currents between the parts are one more kind of eddy
current.  With the steady sharing as what the terminals drive, and C = diag(g) - g g' / sum of g
the conductances g of the parts to what flows between them,

    a + (diag(tau) + c_p C c_p') da/dt = c i,    flux linkage = c' a:

passive at every place, but with time constants that move with the coil.  So the field's own time
constants take couplings that bring back the flux linkage of each place at all frequencies; each
coupling is a real number, so this is passive too.  Left out is what parts of unequal Bl drive
through each other as the coil moves.
"""

from __future__ import annotations

import math

import numpy as np

from motor.base.arrays import Complexes, Floats
from motor.base.errors import InvalidInput
from motor.design.coil import Coil
from motor.field.eddy_currents import Harmonic
from motor.field.field import FieldOnMesh
from motor.results.loaded import coil_load

__all__ = ["between", "linkage_of", "loads_at", "loads_of", "one_current"]

SPAN, ROWS = (1.0, 40e3), 48
"""Hertz over which the couplings bring back the flux linkage, and at how many frequencies."""
STEPS, SETTLED, SOFT = 60, 1e-6, 1e-7
"""Steps of the fit at most, misfit at which it ends, and share of its largest slope below which
couplings stay as they are: they then change smoothly from place to place."""
EASE, STIFFEN = 10.0, 10.0
"""Factors on that share after a step that made the misfit smaller, and one that did not."""


def loads_at(level: FieldOnMesh, coil: Coil, positions: Floats) -> Floats:
    """Return the loads of 1 A in the coil at displacements in metres, array (n, m)."""
    turns = coil.turns_in_series
    return np.stack([coil_load(level, coil, coil.rest_position + x, turns) for x in positions], 1)


def loads_of(level: FieldOnMesh, coil: Coil, positions: Floats) -> Floats:
    """Return the loads of 1 A: as :func:`loads_at`, of parts in parallel each part's apart."""
    return (loads_apart if coil.parts_share else loads_at)(level, coil, positions)


def linkage_of(
    coil: Coil, temperature: float, harmonic: Harmonic, loads: Floats, frequency: float
) -> tuple[Complexes, Complexes]:
    """Return flux linkage over current (m,) in henry, and potentials (n, m), of loads (n[, p], m).

    Of parts in parallel the flux linkage holds what their sharing adds to the resistance too.
    """
    more: Complexes | float = 0.0
    a = harmonic.potentials(frequency, loads.reshape(len(loads), -1)).reshape(loads.shape)
    if loads.ndim == 3:
        currents, more = shared_current(coil, temperature, frequency, loads, a)
        loads, a = (np.einsum("npk,pk->nk", x, currents) for x in (loads, a))
    return 2 * np.pi * np.einsum("nk,nk->k", loads, a) + more, a


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


def between(coil: Coil, temperature: float, couplings: Floats) -> tuple[Floats, Floats]:
    """Return couplings of the steady sharing (m, k), and c_p times the root of C (m, k, part).

    Parameters are those of :func:`one_current`.
    """
    conductance = 1 / np.array([one.resistance(temperature) for one in coil.each])
    share, root = conductance / conductance.sum(), np.sqrt(conductance)
    return couplings @ share, couplings @ (np.diag(root) - np.outer(share, root))


def one_current(coil: Coil, temperature: float, times: Floats, couplings: Floats) -> Floats:
    """Return what parts in parallel couple to modes of the field as one coil: array (m, k).

    Parameters
    ----------
    coil : Coil
    temperature : float
        Kelvin.
    times : (k,) array
        Time constants of the modes, seconds.
    couplings : (m, k, part) array
        To 1 A in each part with its sense, square root of henry.

    Raises
    ------
    InvalidInput
        If no part of the motor conducts.
    """
    if not times.any():
        raise InvalidInput("coil.connection", "be series where no part conducts", "parallel")
    steady, circuits = between(coil, temperature, couplings)
    s = 2j * np.pi * np.concatenate([[0.0], np.geomspace(*SPAN, ROWS)])
    answer = 1 / (1 + s[:, None] * times)
    found = []
    for circuit, driven in zip(circuits, steady, strict=True):
        own, axes = np.linalg.eigh(np.diag(times) + circuit @ circuit.T)
        linked = (1 / (1 + s[:, None] * np.maximum(own, 0.0))) @ (axes.T @ driven) ** 2
        found.append(_fitted(driven, answer, linked))
    return np.array(found)


def _fitted(start: Floats, answer: Complexes, linked: Complexes) -> Floats:
    """Return couplings near some whose squares times the modes' answers make a flux linkage."""
    rows, wanted = (np.concatenate([a.real, a.imag[1:]]) for a in (answer, linked))
    scale = np.maximum(np.abs(wanted), 1e-6 * np.abs(wanted).max())
    rows, wanted = rows / scale[:, None], wanted / scale
    found, soft = start, SOFT
    miss = wanted - rows @ found**2
    for _ in range(STEPS):
        if np.abs(miss).max() < SETTLED:
            break
        slope = 2 * rows * found
        gram = slope @ slope.T
        gram[np.diag_indices_from(gram)] += soft * gram.diagonal().max()
        tried = found + slope.T @ np.linalg.solve(gram, miss)
        left = wanted - rows @ tried**2
        if left @ left < miss @ miss:
            found, miss, soft = tried, left, max(SOFT, soft / EASE)
        else:
            soft *= STIFFEN
    return np.asarray(found)
