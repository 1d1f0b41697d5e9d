"""The field beyond the outer boundary: multipoles of an axisymmetric source in free space.

Outside the sphere around all sources the vector potential is a sum over n = 1, 2, ... of

    A_n = (R/rho)^(n+1) P_n^1(cos theta),   P_n^1 = sin theta P_n'(cos theta),

with flux densities  B_rho = n (n+1) P_n A_n / (P_n^1 rho)  and  B_theta = n A_n / rho  (J. D.
Jackson, Classical Electrodynamics, 3rd ed., 1999, sections 3.1 and 5.3, from memory).  Their
field strength along the outer boundary is what the field inside feels of the outside.  With the
moments m_n(A) = integral of nu0 t_n A r ds, t_n that of mode n, and the matrix K of the moments of
the modes themselves, the outside has the energy  m K^-1 m / 2: so K is positive definite, and the
boundary is as good for a polygon as for a circle.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.base.gauss import gauss

__all__ = ["ORDERS", "Exterior", "Multipoles"]

ORDERS = 12
"""Multipoles that are continued exactly; the next ones meet no field strength at the circle."""
BOUNDARY_POINTS = 6
"""Gauss points along each edge of the outer boundary."""
RING_ORDERS, RING_POINTS = 40, 200
"""Multipoles of a potential on a circle close to its sources, and points on the circle."""


def _modes(orders: int, radius: float, r: Floats, z: Floats) -> tuple[Floats, Floats, Floats]:
    """Return A_n, B_rho and B_theta of all modes at points about the centre: (n, ...) each.

    Modes are scaled so that sin theta A_n^2 integrates to 1 over the circle's angle.
    """
    rho = np.hypot(r, z)
    cosine, sine = z / rho, r / rho
    # P_(n-1), P_n and their derivatives by their argument
    below, here = np.ones_like(cosine), cosine
    slope_below, slope = np.zeros_like(cosine), np.ones_like(cosine)
    a, b_rho, b_theta = (np.empty((orders, *rho.shape)) for _ in range(3))
    for n in range(1, orders + 1):
        size = np.sqrt((2 * n + 1) / (2 * n * (n + 1))) * (radius / rho) ** (n + 1)
        a[n - 1] = size * sine * slope
        b_rho[n - 1] = size * n * (n + 1) * here / rho
        b_theta[n - 1] = n * a[n - 1] / rho
        slope_below, slope = slope, slope_below + (2 * n + 1) * here
        below, here = here, ((2 * n + 1) * cosine * here - n * below) / (n + 1)
    return a, b_rho, b_theta


@functools.cache
def _ring() -> tuple[Floats, Floats]:
    """Return cosines on a ring, and the weighted modes there."""
    cosine, weights = gauss(RING_POINTS)
    return cosine, _modes(RING_ORDERS, 1.0, np.sqrt(1 - cosine**2), cosine)[0] * weights


@functools.cache
def _turned(orders: int, angles: int) -> tuple[tuple[Floats, Floats], Floats, Floats]:
    """Return B_rho and B_theta of all modes on the unit circle, and the angles' z and r there."""
    angle = np.linspace(-np.pi / 2, np.pi / 2, angles)
    sine, cosine = np.cos(angle), np.sin(angle)
    return _modes(orders, 1.0, sine, cosine)[1:], cosine, sine


@dataclass(frozen=True)
class Multipoles:
    """The field of a sum of multipoles.

    Parameters
    ----------
    amplitudes : (n,) array
        Of the modes, Wb/m.
    radius, centre : float
        Of the circle on which the modes are scaled, metres.
    """

    amplitudes: Floats
    radius: float
    centre: float

    @classmethod
    def of(
        cls, potential: Callable[[Floats, Floats], Floats], radius: float, centre: float
    ) -> Multipoles:
        """Return the RING_ORDERS multipoles of a potential A(r, z) taken on a circle (metres)."""
        cosine, weighted = _ring()
        r, z = radius * np.sqrt(1 - cosine**2), radius * cosine
        return cls(weighted @ potential(r, z + centre), radius, centre)

    def around(self, radius: float, angles: int) -> Floats:
        """Return (B_r, B_z) in tesla on a circle of a radius (metres), component last.

        At so many angles from one end of the axis to the other.
        """
        order = np.arange(1, len(self.amplitudes) + 1)
        size = self.amplitudes * (self.radius / radius) ** (order + 1) / radius
        (rho_part, theta_part), cosine, sine = _turned(len(self.amplitudes), angles)
        b_rho, b_theta = size @ rho_part, size @ theta_part
        return np.stack([b_rho * sine + b_theta * cosine, b_rho * cosine - b_theta * sine], axis=-1)

    def modes(self, r: Floats, z: Floats) -> Floats:
        """Return the potential of each mode at amplitude 1 at points (metres): (n, ...) array."""
        return _modes(len(self.amplitudes), self.radius, r, z - self.centre)[0]

    def potential(self, r: Floats, z: Floats) -> Floats:
        """Return the vector potential in Wb/m at points (metres)."""
        return np.asarray(np.tensordot(self.amplitudes, self.modes(r, z), 1))

    def flux_density(self, r: Floats, z: Floats) -> Floats:
        """Return (B_r, B_z) in tesla at points (metres), component last."""
        z = z - self.centre
        _, rho_part, theta_part = _modes(len(self.amplitudes), self.radius, r, z)
        b_rho = np.tensordot(self.amplitudes, rho_part, 1)
        b_theta = np.tensordot(self.amplitudes, theta_part, 1)
        rho = np.hypot(r, z)
        cosine, sine = z / rho, r / rho
        return np.stack([b_rho * sine + b_theta * cosine, b_rho * cosine - b_theta * sine], axis=-1)


@dataclass(frozen=True)
class Exterior:
    """Multipoles beyond a polygon of second-order edges around all sources.

    Parameters
    ----------
    start, end : (2, k) arrays
        Ends (r, z) of the edges in metres.
    nodes : (k, 3) array of int
        Unknown at start, end and middle of each edge; -1 on the axis.
    radius, centre : float
        Of the outer boundary, metres.
    orders : int
        How many multipoles.
    """

    start: Floats
    end: Floats
    nodes: np.ndarray
    radius: float
    centre: float
    orders: int = ORDERS

    @functools.cached_property
    def unknowns(self) -> np.ndarray:
        """The unknowns on the boundary, rising."""
        return np.unique(self.nodes[self.nodes >= 0])

    @functools.cached_property
    def _moments(self) -> tuple[Floats, Floats]:
        """Return the moments (over nu0) of the unknowns (n, m) and of the modes (n, n)."""
        points, weights = gauss(BOUNDARY_POINTS)
        s = (1 + points) / 2
        shape = np.stack([(1 - s) * (1 - 2 * s), s * (2 * s - 1), 4 * s * (1 - s)])
        way = self.end - self.start
        r, z = self.start[..., None] + way[..., None] * s
        z = z - self.centre
        a, b_rho, b_theta = _modes(self.orders, self.radius, r, z)
        # length times the normal, outwards, along the radius vector and along theta
        out_r, out_z = way[1], -way[0]
        sign = np.sign(out_r[:, None] * r + out_z[:, None] * z)
        rho = np.hypot(r, z)
        along = sign * (out_r[:, None] * r + out_z[:, None] * z) / rho
        across = sign * (out_r[:, None] * z - out_z[:, None] * r) / rho
        density = (b_theta * along - b_rho * across) * r * weights / 2
        blocks = np.einsum("neq,iq->nei", density, shape)
        place = np.searchsorted(self.unknowns, self.nodes)
        of_unknowns = np.zeros((self.orders, len(self.unknowns)))
        for n, block in enumerate(blocks):
            inside = self.nodes >= 0
            of_unknowns[n] = np.bincount(place[inside], block[inside], len(self.unknowns))
        of_modes = np.einsum("neq,meq->nm", density, a)
        return of_unknowns, (of_modes + of_modes.T) / 2

    @functools.cached_property
    def amplitudes(self) -> Floats:
        """Amplitudes of the modes (n) per unknown on the boundary (m): (n, m) array."""
        of_unknowns, of_modes = self._moments
        return np.asarray(np.linalg.solve(of_modes, of_unknowns))

    @property
    def matrix(self) -> Floats:
        """The outside's part of the equations over nu0, for the unknowns on the boundary."""
        return np.asarray(self._moments[0].T @ self.amplitudes)

    def multipoles(self, values: Floats) -> Multipoles:
        """Return the outside of a potential with these values at the unknowns, Wb/m."""
        return Multipoles(self.amplitudes @ values, self.radius, self.centre)
