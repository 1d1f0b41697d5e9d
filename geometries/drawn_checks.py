"""Checks on outlines that anyone may have drawn: nothing finer than a mesh can follow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geometries.drawn_parts import Dimension
from geometries.errors import InvalidInput, millimetres
from geometries.regions import Gap, Region
from geometries.roles import Roles

__all__ = ["FINEST", "check_fine", "check_gap_near", "check_roles"]

FINEST = 0.5e-6
"""Points touch an edge or keep this distance from it, metres."""
TOUCH = 2e-9
"""Points this near to an edge count as touching it: outlines are rounded to 1e-9 m."""
BLOCK = 500


def check_fine(regions: Sequence[Region]) -> None:
    """Raise InvalidInput where a point comes closer to an edge than a mesh can follow.

    Slivers, necks, and parts that nearly touch have such a place.
    """
    outlines = [np.array(region.outline) for region in regions]
    points = np.concatenate(outlines)
    ends = np.concatenate([np.roll(o, -1, axis=0) for o in outlines])
    owner = np.repeat(np.arange(len(outlines)), [len(o) for o in outlines])
    along = ends - points
    square = np.maximum((along**2).sum(axis=1), 1e-30)
    for first in range(0, len(points), BLOCK):
        block = points[first : first + BLOCK]
        offset = block[:, None, :] - points[None, :, :]
        share = np.clip((offset * along).sum(axis=2) / square, 0.0, 1.0)
        distance = np.hypot(*np.moveaxis(offset - share[..., None] * along, 2, 0))
        close = np.argwhere((distance > TOUCH) & (distance < FINEST))
        if len(close):
            k, edge = close[0]
            r, z = block[k]
            one, other = regions[owner[first + k]].name, regions[owner[edge]].name
            raise InvalidInput(
                one,
                f"touch edges or keep {millimetres(FINEST)} from them",
                f"{distance[k, edge] * 1e6:.3g} micrometres from an edge of {other} "
                f"at r = {millimetres(r)}, z = {millimetres(z)} from the middle of the gap",
            )


def check_roles(roles: Roles, dimensions: Sequence[Dimension]) -> None:
    """Raise InvalidInput if roles name anything but lengths of the drawing."""
    lengths = [d.name for d in dimensions if d.quantity == "length"]
    given = {
        "outer": roles.outer,
        "height": (roles.height,) if roles.height else (),
        "follows": (*roles.follows, *roles.follows.values()),
        "flux_plates": roles.flux_plates,
        "gap": roles.gap,
    }
    for role, names in given.items():
        for name in names:
            if name not in lengths:
                known = ", ".join(lengths[:20]) or "none"
                raise InvalidInput(f"roles.{role}", f"name lengths ({known})", repr(name)[:80])
    if len(roles.gap) not in (0, 2):
        raise InvalidInput("roles.gap", "be the diameter inside and the width", list(roles.gap))


def check_gap_near(regions: Sequence[Region], gap: Gap) -> None:
    """Raise InvalidInput if a gap lies outside the sphere around all parts."""
    points = np.array([p for region in regions for p in region.outline])
    middle = (points[:, 1].min() + points[:, 1].max()) / 2
    reach = float(np.hypot(points[:, 0], points[:, 1] - middle).max())
    for one in gap.all:
        ends = (one.bottom - middle, one.top - middle)
        farthest = max(float(np.hypot(one.outer_radius, z)) for z in ends)
        if farthest > reach or one.inner_radius < 0:
            raise InvalidInput(
                "the gap" if one is gap else "a further gap",
                f"lie among the parts, within {millimetres(reach)} of their middle on the axis",
                f"a corner {millimetres(farthest)} from it",
            )
