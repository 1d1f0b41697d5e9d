"""What steel adds to the equations, triangle by triangle: its state, force and tangent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from motor.base.arrays import Floats
from motor.field.meshing import MotorMesh
from motor.field.operators import FluxOperator
from motor.materials import BHCurve

__all__ = ["SteelPart", "SteelState"]


@dataclass(frozen=True)
class SteelState:
    """What the steel does at a potential, at its quadrature points.

    Parameters
    ----------
    flux_density : (element, point, 2) array
        (B_z, -B_r) in tesla.
    size : (element, point) array
        |B|.
    nu, slope : (element, point) array
        H/B and dH/dB in m/H.
    """

    flux_density: Floats
    size: Floats
    nu: Floats
    slope: Floats

    @property
    def stretch(self) -> Floats:
        """What dH/dB exceeds H/B by, over |B|^2: factor of (B . B1)(B . B2) in the tangent."""
        return np.asarray((self.slope - self.nu) / np.maximum(self.size, 1e-9) ** 2)


class SteelPart:
    """The triangles in steel, ordered by B-H curve.

    Parameters
    ----------
    mesh : MotorMesh
    steels : mapping of region name to BHCurve
    flux : FluxOperator
        Of all triangles of the mesh.
    """

    def __init__(
        self,
        mesh: MotorMesh,
        steels: Mapping[str, BHCurve],
        flux: FluxOperator,
    ) -> None:
        curves = list(dict.fromkeys(steels.values()))
        groups = [
            np.concatenate([mesh.triangles_of(n) for n, c in steels.items() if c is curve])
            for curve in curves
        ]
        cuts = np.cumsum([0, *map(len, groups)])
        self._laws = [(curve, slice(cuts[i], cuts[i + 1])) for i, curve in enumerate(curves)]
        self.triangles = np.concatenate(groups) if groups else np.empty(0, np.intp)
        self.weight = flux.weight[self.triangles]
        self._g = flux.of(self.triangles).reshape(len(self.triangles), 2 * self.weight.shape[1], 6)

    def at(self, local: Floats) -> SteelState:
        """Return the state at the potentials of each triangle's nodes, array (element, 6)."""
        b = np.matmul(self._g, local[:, :, None]).reshape(*self.weight.shape, 2)
        size = np.sqrt(b[..., 0] ** 2 + b[..., 1] ** 2)
        nu, slope = np.empty_like(size), np.empty_like(size)
        for curve, members in self._laws:
            positive = np.maximum(size[members], 1e-9)
            h, slope[members] = curve.field_and_slope(positive)
            nu[members] = h / positive
        return SteelState(b, size, nu, slope)

    def reversible(
        self, state: SteelState, scales: Mapping[BHCurve, float], share: float | Floats = 1.0
    ) -> SteelState:
        """Return the state as small alternating fields about it meet it.

        Parameters
        ----------
        state : SteelState
            Of the steady field.
        scales : mapping of BHCurve to float
            What reversible susceptibilities are multiplied by; 1 where absent.
        share : float or (element, point) array
            Of the excess over the magnetising curve's reluctivity, 0 to 1: 0 for that curve.
        """
        nu, slope = state.nu.copy(), state.slope.copy()
        for curve, members in self._laws:
            if curve.law is not None:
                nu[members], slope[members] = curve.law.reluctivities(
                    state.size[members],
                    state.nu[members],
                    state.slope[members],
                    curve.saturation,
                    scales.get(curve, 1.0),
                )
        nu, slope = (a + share * (b - a) for a, b in ((state.nu, nu), (state.slope, slope)))
        return replace(state, nu=nu, slope=slope)

    def coercivity(self) -> Floats:
        """Return the coercivity in A/m at the quadrature points: array (element, point)."""
        found = np.empty_like(self.weight)
        for curve, members in self._laws:
            found[members] = curve.coercivity
        return found

    def forces(self, state: SteelState) -> Floats:
        """Return the steel's part of the residual: array (element, 6)."""
        b = state.flux_density
        flow = ((self.weight * state.nu)[..., None] * b).reshape(len(b), 1, 2 * b.shape[1])
        return np.asarray(np.matmul(flow, self._g)[:, 0])

    def tangents(self, state: SteelState) -> Floats:
        """Return the steel's part of the tangent: array (element, 6, 6)."""
        b = state.flux_density
        along = np.matmul(b[:, :, None, :], self._g.reshape(*b.shape, 6))[:, :, 0, :]
        blocks = self._weighted(state.nu)
        stretch = (self.weight * state.stretch)[..., None]
        blocks += np.matmul((stretch * along).transpose(0, 2, 1), along)
        return blocks

    def chords(self, flux_density: float) -> Floats:
        """Return the matrix for a constant nu, that of a flux density: array (element, 6, 6)."""
        nu = np.empty_like(self.weight)
        for curve, members in self._laws:
            h, _ = curve.field_and_slope(np.array([flux_density]))
            nu[members] = h / flux_density
        return self._weighted(nu)

    def _weighted(self, nu: Floats) -> Floats:
        scale = np.repeat(self.weight * nu, 2, axis=1)[:, :, None]
        return np.asarray(np.matmul(self._g.transpose(0, 2, 1), scale * self._g))
