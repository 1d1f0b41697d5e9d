"""The radial flux density along the gap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries import Gap
from motor.arrays import Floats
from motor.field.field import Estimate, Field, Level

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["GapProfile", "gap_flux", "gap_profile"]

SAMPLES = 241


@dataclass(frozen=True)
class GapProfile:
    """B_r along z at two radii, positive where the flux through the gap is.

    Parameters
    ----------
    z : (n,) array
        Heights above the middle of the gap, metres.
    at_coil, at_middle : (n,) array
        B_r in tesla at the winding's mean radius and in the middle of the gap.
    uncertainty : (n,) array
        Numerical uncertainty of ``at_coil`` in tesla.
    coil_radius, middle_radius : float
        Those radii in metres.
    gap : Gap
    mean : Estimate
        Mean over the gap's depth at the winding's mean radius, tesla.
    """

    z: Floats
    at_coil: Floats
    at_middle: Floats
    uncertainty: Floats
    coil_radius: float
    middle_radius: float
    gap: Gap
    mean: Estimate

    @property
    def peak(self) -> float:
        """Largest B_r at the winding's mean radius, tesla."""
        return float(self.at_coil.max())

    def plot(self, ax: Axes | None = None, **options: Any) -> Axes:
        """Draw the profile; see :func:`motor.report.figures.plot_gap`."""
        from motor.report.figures import plot_gap

        return plot_gap(self, ax=ax, **options)


def gap_flux(level: Level, gap: Gap, radius: float) -> float:
    """Return the outward flux in Wb through a cylinder (radius in m) over the gap's depth."""
    ends = level.flux_function(radius, np.array([gap.bottom, gap.top]))
    return 2 * np.pi * float(ends[0] - ends[1])


def gap_profile(field: Field, gap: Gap, coil_radius: float, reach: float) -> GapProfile:
    """Sample B_r along the gap and ``reach`` beyond either end (metres)."""
    z = np.linspace(gap.bottom - reach, gap.top + reach, SAMPLES)

    def mean(level: Level) -> float:
        return gap_flux(level, gap, coil_radius) / (2 * np.pi * coil_radius * gap.depth)

    sign = 1.0 if mean(field.fine) >= 0 else -1.0
    fine = sign * field.fine.flux_density(coil_radius, z)[:, 0]
    coarse = sign * field.coarse.flux_density(coil_radius, z)[:, 0]
    return GapProfile(
        z=z,
        at_coil=fine,
        at_middle=sign * field.fine.flux_density(gap.mean_radius, z)[:, 0],
        uncertainty=field.errors.bounds(fine, coarse, float(np.abs(fine).max())),
        coil_radius=coil_radius,
        middle_radius=gap.mean_radius,
        gap=gap,
        mean=field.estimate(lambda level: sign * mean(level)),
    )
