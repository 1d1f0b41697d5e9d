"""The flux function along the coil's path, from which every Bl(x) of that coil follows."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from motor.base.arrays import Floats
from motor.base.gauss import gauss
from motor.design.coil import Coil
from motor.field.field import ErrorModel, Field, FieldOnMesh, Goal

__all__ = ["FluxProfile", "bl_goal", "bl_per_flux", "flux_profile"]

RADII = 4
"""Gauss points across the winding; the flux function is smooth there."""


@dataclass(frozen=True)
class FluxProfile:
    """Mean of the flux function over a winding's radii, along z.

    The force factor of a uniform winding of height h and N turns whose middle is at height c is

        Bl(c) = (2 pi N / h) [psi_mean(c - h/2) - psi_mean(c + h/2)],

    so one profile holds Bl(x) for every winding height and rest position, as long as the
    coil's own field is neglected.

    Parameters
    ----------
    z : (n,) array
        Heights in metres, rising.
    fine, coarse : (n,) array
        Mean flux function in Wb on the fine and on the coarse mesh.
    errors : ErrorModel
        How the difference of the two turns into uncertainty.
    """

    z: Floats
    fine: Floats
    coarse: Floats
    errors: ErrorModel

    @functools.cached_property
    def _splines(self) -> tuple[CubicSpline, CubicSpline]:
        fine = CubicSpline(self.z, self.fine)
        return fine, fine if self.coarse is self.fine else CubicSpline(self.z, self.coarse)

    def force_factor(
        self, middle: ArrayLike, height: float, turns: float, *, coarse: bool = False
    ) -> Floats:
        """Return the signed force factor in T m of a winding at given heights.

        Parameters
        ----------
        middle : array
            Heights of the winding's middle above the middle of the gap, metres.
        height : float
            Winding height, metres.
        turns : float
        coarse : bool
            True for the value on the coarse mesh.

        Raises
        ------
        ValueError
            If the winding leaves the heights that the profile covers.
        """
        middle = np.asarray(middle, float)
        low, high = middle - height / 2, middle + height / 2
        slack = 1e-9
        if low.min() < self.z[0] - slack or high.max() > self.z[-1] + slack:
            raise ValueError(
                f"the winding must stay within the profile, {self.z[0]} to {self.z[-1]} m; "
                f"received {low.min()} to {high.max()} m"
            )
        spline = self._splines[1 if coarse else 0]
        result: Floats = bl_per_flux(turns, height) * (spline(low) - spline(high))
        return result


def bl_per_flux(turns: float, height: float) -> float:
    """Return the force factor over the mean flux function's fall along a winding, rad/m.

    2 pi N / h, see :class:`FluxProfile`; the height in metres.
    """
    return 2 * math.pi * turns / height


def bl_goal(coil: Coil, middle: float | None = None) -> Goal:
    """Return a coil's signed Bl in T m as a goal of the field.

    Parameters
    ----------
    coil : Coil
    middle : float or None
        Height of the main winding's middle in metres; None at rest.
    """
    points, weights = gauss(RADII)
    shift = 0.0 if middle is None else middle - coil.rest_position
    pieces = []
    for one, turns in zip(coil.each, coil.ampere_turns, strict=True):
        radii = one.mean_radius + one.build_up / 2 * points
        ends = one.rest_position + shift + np.array([[-0.5], [0.5]]) * one.winding_height
        scale = bl_per_flux(turns, one.winding_height)
        pieces.append((radii, ends, scale * np.array([[1.0], [-1.0]]) * weights / 2))
    return lambda level: np.sum([level.flux_functional(*piece) for piece in pieces], axis=0)


def flux_profile(
    field: Field, inner: float, outer: float, low: float, high: float, step: float
) -> FluxProfile:
    """Sample the mean flux function over the radii inner to outer.

    Parameters
    ----------
    field : Field
    inner, outer : float
        Radii of the winding in metres; equal for an infinitely thin one.
    low, high : float
        Heights to cover, metres.
    step : float
        Largest spacing of samples, metres.
    """
    z = np.linspace(low, high, max(8, int(np.ceil((high - low) / step)) + 1))
    points, weights = gauss(RADII if outer > inner else 1)
    radii = 0.5 * (inner + outer) + 0.5 * (outer - inner) * points
    weights = weights / weights.sum()

    def mean(level: FieldOnMesh) -> Floats:
        result: Floats = weights @ level.flux_function(radii[:, None], z[None, :])
        return result

    fine = mean(field.fine)
    coarse = fine if field.coarse is field.fine else mean(field.coarse)
    return FluxProfile(z, fine, coarse, field.errors)
