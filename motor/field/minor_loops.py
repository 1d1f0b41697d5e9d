"""Steel that small changes of its field take along minor loops, and large ones along its curve.

About a steady flux density B0, where the magnetising curve has H0, a change b = B - B0 meets

    H(B) = H_curve(B) + C b / (1 + e / e0),    e = sqrt(b . C b)

with C the reversible reluctivity less the curve's slope at B0, along and across it.  So a small
change meets the reversible reluctivity, a large one the curve shifted by the coercivity Hc, with
e0 = Hc / sqrt(largest of C): what a steel without memory can have of loops whose permeability
rises as they open.  For a small amplitude b = mu h + eta h^2 along B0, the law of Rayleigh
(Philosophical Magazine 23, 1887, 225), with eta Hc / mu about 1, as L. Neel found for steels
(Cahiers de Physique 12, 1942; both from memory).  H is the
gradient of a convex energy.  Heat and phase of the loops are left out.
"""

from __future__ import annotations

import copy
import math
from typing import Self

import numpy as np

from motor.base.arrays import Floats
from motor.field.eddy_currents import Harmonic
from motor.field.steel_part import SteelPart, SteelState
from motor.field.weak_form import Discretisation

__all__ = ["on_minor_loops", "share_at"]

LEAST = 1e-30
"""A reluctivity in m/H, and a square of e, that count as none."""
EQUIVALENT = 8 / (3 * math.pi)
"""Of a sine's amplitude what counts, where the excess falls in proportion to its size."""
ROUNDS, SETTLED = 12, 0.02
"""Rounds in search of a share, and its relative change at which it counts as found."""


class MinorLoops(SteelPart):
    """Triangles in steel about a bias."""

    _bias: Floats
    _excess: Floats
    _scale: Floats

    @classmethod
    def about(cls, steel: SteelPart, state: SteelState) -> Self:
        """Return steel about a state."""
        found = cls.__new__(cls)
        found.__dict__.update(steel.__dict__)
        small = steel.reversible(state, {})
        unit = state.flux_density / np.maximum(state.size, 1e-12)[..., None]
        across = np.maximum(small.nu - state.nu, 0.0)
        along = np.maximum(small.slope - state.slope, 0.0)
        outer = unit[..., :, None] * unit[..., None, :]
        found._bias = state.flux_density
        found._excess = across[..., None, None] * (np.eye(2) - outer)
        found._excess += along[..., None, None] * outer
        most = np.maximum(np.maximum(across, along), LEAST)
        found._scale = steel.coercivity() / np.sqrt(most)
        return found

    def _minor(self, change: Floats) -> tuple[Floats, Floats, Floats]:
        """Return C b, e and 1 / (1 + e / e0) of changes b (element, point, 2)."""
        pushed = np.matmul(self._excess, change[..., None])[..., 0]
        e = np.sqrt(np.maximum((change * pushed).sum(axis=-1), LEAST))
        return pushed, e, self._scale / (self._scale + e)

    def forces(self, state: SteelState) -> Floats:
        """Return the steel's part of the residual: array (element, 6)."""
        pushed, _, left = self._minor(state.flux_density - self._bias)
        flow = ((self.weight * left)[..., None] * pushed).reshape(len(pushed), 1, -1)
        return np.asarray(super().forces(state) + np.matmul(flow, self._g)[:, 0])

    def tangents(self, state: SteelState) -> Floats:
        """Return the steel's part of the tangent: array (element, 6, 6)."""
        pushed, e, left = self._minor(state.flux_density - self._bias)
        bend = left**2 / (self._scale * e)
        outer = pushed[..., :, None] * pushed[..., None, :]
        tensor = left[..., None, None] * self._excess - bend[..., None, None] * outer
        g = self._g.reshape(*state.flux_density.shape, 6)
        turned = np.matmul(self.weight[..., None, None] * tensor, g).reshape(self._g.shape)
        return np.asarray(super().tangents(state) + np.matmul(self._g.transpose(0, 2, 1), turned))

    def left(self, amplitude: Floats) -> tuple[Floats, float]:
        """Return the share of C that a sine meets: array (element, point), and weighed by energy.

        Parameters
        ----------
        amplitude : (element, 6) array
            Potentials of each triangle's nodes, Wb/m.
        """
        b = np.matmul(self._g, amplitude[:, :, None]).reshape(*self.weight.shape, 2)
        _, e, _ = self._minor(b)
        weight, left = self.weight * e**2, self._scale / (self._scale + EQUIVALENT * e)
        return left, float((weight * left).sum() / weight.sum())


def on_minor_loops(system: Discretisation, reduced: Floats) -> Discretisation:
    """Return the equations with steel on minor loops about a steady potential (reduced), Wb/m."""
    twin = copy.copy(system)
    twin.steel = MinorLoops.about(system.steel, system.steel_at(reduced))
    return twin


def share_at(harmonic: Harmonic, load: Floats, frequency: float) -> tuple[Floats, float]:
    """Return the share of the reversible reluctivity's excess over the curve's that a sine meets.

    Equivalent linearisation: at each quadrature point of the steel, array (element, point), to be
    given to :meth:`motor.field.eddy_currents.Harmonic.with_share`, and its mean, weighed by energy.

    Parameters
    ----------
    harmonic : Harmonic
    load : (n,) array
        Amplitude of the load, reduced.
    frequency : float
        Hertz; the field is that of a growth at the same rate, of about the same size.
    """
    system = harmonic.level.system
    minor = MinorLoops.about(system.steel, harmonic.bias)
    nodes, mean = system.nodes[system.steel.triangles], 1.0
    share = np.ones_like(minor.weight)
    for _ in range(ROUNDS if share.size else 0):
        a = harmonic.with_share(share).relaxed([2 * math.pi * frequency], load[:, None])[:, 0]
        before, (share, mean) = mean, minor.left(system.expand(a)[nodes])
        if abs(mean - before) <= SETTLED * before:
            break
    return share, mean
