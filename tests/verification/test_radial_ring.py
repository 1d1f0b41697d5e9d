"""Magnets drawn as outlines in free space: a radially and an obliquely magnetised ring.

Source: M. Ortner and L. G. Coliado Bandeira, Magpylib, SoftwareX 11, 2020, 100466: its segment of
a ring, uniformly magnetised.  A ring of N such segments, each along its own middle, has an
azimuthal mean that is the continuous ring's times sin(pi/N)/(pi/N): the mean over a turn of the
radial share of its magnetisation (the tangential share cancels).  Dividing by that leaves no
segmentation error, only that of the mean over finitely many directions; half as many move it by
less than 2e-5 of the strongest field.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometries import Corner, DrawnPart, Outlines, Role
from motor.base.arrays import Floats
from motor.field.field import FieldOnMesh
from motor.field.weak_form import MagnetState
from tests.verification.cases import MM, box, field_level, winding
from tests.verification.checks import check, outside
from tests.verification.test_free_magnets import POINTWISE

SOURCE = outside("magpylib's ring segment, mean over a turn (Ortner and Coliado Bandeira 2020)")
INNER, OUTER, LENGTH, REMANENCE = 10.0, 16.0, 8.0, 1.2
"""mm and tesla."""
SEGMENTS, DIRECTIONS = 16, 60
WORST, MEDIAN = 1e-3, 1e-4
"""Over the local |B| but at least a twentieth of the strongest, 2.5 mm and more from the ring's
surface; measured 5e-4 and 4e-5."""


def ring(magnetisation: str, angle: float) -> FieldOnMesh:
    """Return the field of a ring magnet drawn as an outline, its middle at height 0.

    The angle in degrees is what the magnetisation says.
    """
    corners = tuple(Corner(p) for p in box(INNER, OUTER, -LENGTH / 2, LENGTH / 2))
    drawn = Outlines(
        gap_formulas=(INNER - 2, INNER - 1, -1.0, 1.0),
        parts=(DrawnPart("magnet", Role.MAGNET, corners, magnetisation),),
    )
    along = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
    assert drawn.regions()[0].magnetisation == pytest.approx(along)
    m_r, m_z = drawn.regions()[0].magnetisation or (0.0, 0.0)
    reach = 2.2 * OUTER * MM
    return field_level(
        [*drawn.regions(), winding("space", box(0.0, reach, -reach, reach))],
        drawn.gap,
        magnets={"magnet": MagnetState((REMANENCE * m_r, REMANENCE * m_z), 1.0)},
        sizing=POINTWISE,
    )


def continuous(r: Floats, z: Floats, angle: float, directions: int) -> Floats:
    """Return (B_r, B_z) of the ring, by a segment's mean over half a turn, its mirror plane."""
    magpylib = pytest.importorskip("magpylib")
    half = 180.0 / SEGMENTS
    share = math.sin(math.pi / SEGMENTS) / (math.pi / SEGMENTS)
    up = math.radians(angle)
    segment = magpylib.magnet.CylinderSegment(
        polarization=(REMANENCE * math.cos(up) / share, 0.0, REMANENCE * math.sin(up)),
        dimension=(INNER * MM, OUTER * MM, LENGTH * MM, -half, half),
    )
    turn = math.pi * (np.arange(directions) + 0.5) / directions
    points = np.stack(
        [np.outer(r, np.cos(turn)), np.outer(r, np.sin(turn)), np.outer(z, np.ones(directions))],
        axis=-1,
    )
    b = segment.getB(points.reshape(-1, 3)).reshape(len(r), directions, 3)
    radial = b[..., 0] * np.cos(turn) + b[..., 1] * np.sin(turn)
    return SEGMENTS * np.stack([radial.mean(axis=1), b[..., 2].mean(axis=1)], axis=-1)


@pytest.mark.parametrize(("magnetisation", "angle"), [("outward", 0.0), ("120", 120.0)])
def test_ring_in_free_space(magnetisation: str, angle: float) -> None:
    level = ring(magnetisation, angle)
    r, z = np.meshgrid(np.linspace(1.0, 30.0, 9) * MM, np.linspace(-30.0, 30.0, 8) * MM)
    r, z = r.ravel(), z.ravel()
    beside = np.maximum(np.abs(r - (INNER + OUTER) / 2 * MM) - (OUTER - INNER) / 2 * MM, 0.0)
    above = np.maximum(np.abs(z) - LENGTH / 2 * MM, 0.0)
    keep = np.hypot(beside, above) > 2.5 * MM
    r, z = r[keep], z[keep]
    expected = continuous(r, z, angle, DIRECTIONS)
    size = np.hypot(*expected.T)
    scattered = np.hypot(*(continuous(r, z, angle, DIRECTIONS // 2) - expected).T)
    assert scattered.max() < 2e-5 * size.max()
    apart = np.hypot(*(level.flux_density(r, z) - expected).T)
    worst = (apart / np.maximum(size, 0.05 * size.max())).max()
    what = f"ring magnetised {magnetisation}, B at {len(r)} points"
    check(f"{what}: largest difference over |B|", SOURCE, 0.0, worst, WORST, relative=False)
    median = np.median(apart / size)
    check(f"{what}: median difference over |B|", SOURCE, 0.0, median, MEDIAN, relative=False)
