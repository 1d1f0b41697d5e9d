"""How permeable biased steel is to small alternating fields: Gans' universal curve.

A small alternating field on top of a steady one runs on minor loops, which are flatter than the
magnetising curve.  R. Gans (Annalen der Physik, 1910 and 1911) found one course for the
reversible susceptibility over magnetisation, the same for all soft materials, from memory here:

    M/Ms = coth x - 1/x,    chi/chi_initial = 3 (1/x^2 - 1/sinh^2 x)  along the magnetisation.

Across it, by the same isotropic model (M follows the direction of H): 3 (M/Ms)/x.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.errors import InvalidInput
from motor.base.arrays import Floats
from motor.base.constants import MU0

__all__ = ["TYPICAL_INITIAL", "TYPICAL_SPREAD", "ReversibleLaw", "gans_ratios"]

TYPICAL_INITIAL, TYPICAL_SPREAD = 250.0, 2.0
"""Relative initial permeability of steel whose own is not known, and the factor by which it may
be more or less (common practice, no source)."""
_X = np.geomspace(1e-3, 1e5, 4001)
_SHARE = np.where(_X < 0.03, _X / 3 - _X**3 / 45, 1 / np.tanh(_X) - 1 / _X)


def gans_ratios(share: Floats) -> tuple[Floats, Floats]:
    """Return reversible over initial susceptibility, along and across the magnetisation.

    Parameters
    ----------
    share : array
        M/Ms, 0 to 1.
    """
    x = np.interp(share, _SHARE, _X)
    capped = np.minimum(x, 300.0)
    with np.errstate(divide="ignore"):
        along = np.where(
            x < 0.03, 1 - x**2 / 5, 3 * (1 / x**2 - 1 / np.sinh(np.maximum(capped, 0.03)) ** 2)
        )
    across = np.where(x < 0.03, 1 - x**2 / 15, 3 * share / x)
    full = share >= 1.0
    return np.where(full, 0.0, along), np.where(full, 0.0, across)


@dataclass(frozen=True)
class ReversibleLaw:
    """A steel's permeability to small alternating fields.

    Parameters
    ----------
    initial : float
        Relative initial permeability.
    spread : float
        Factor by which it may be more or less.
    measured : tuple of pairs of float
        Flux density in tesla and relative reversible permeability along it, flux density rising;
        empty to take Gans' curve.
    """

    initial: float
    spread: float = TYPICAL_SPREAD
    measured: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if not self.initial >= 1:
            raise InvalidInput("initial_permeability", "be at least 1", self.initial)
        if not self.spread >= 1:
            raise InvalidInput("initial_spread", "be at least 1", self.spread)
        b, mu = np.array(self.measured, float).reshape(-1, 2).T
        if not ((np.diff(b, prepend=-1e-9) > 0).all() and (mu >= 1).all()):
            what = "rise in flux density from 0 or more, with permeabilities of at least 1"
            raise InvalidInput("reversible_permeability", what, self.measured)

    def reluctivities(
        self, b: Floats, nu: Floats, slope: Floats, saturation: float, scale: float = 1.0
    ) -> tuple[Floats, Floats]:
        """Return the reluctivity across and along the flux density, m/H.

        Never less than that of the magnetising curve: beyond the knee both are the same thing.

        Parameters
        ----------
        b : array
            Flux density in tesla.
        nu, slope : array
            H/B and dH/dB of the magnetising curve there, m/H.
        saturation : float
            Polarisation that the curve ends in, tesla.
        scale : float
            What the steel's reversible susceptibility is multiplied by.
        """
        share = np.clip((b - MU0 * nu * b) / saturation, 0.0, 1.0)
        along, across = (scale * (self.initial - 1) * ratio for ratio in gans_ratios(share))
        if self.measured:
            at, mu = np.array(self.measured).T
            along = scale * (np.interp(b, at, mu) - 1)
        return (
            np.maximum(nu, 1 / (MU0 * (1 + across))),
            np.maximum(slope, 1 / (MU0 * (1 + along))),
        )
