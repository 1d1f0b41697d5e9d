"""Ways that heat takes between bodies and to the air, each as a sparse, symmetric matrix.

A way joins points of one body with points of another, or with the air around the driver, by a
conductance per area.  What leaves one side arrives at the other: the balance is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from scipy import sparse

from geometries import Gap
from motor.base.arrays import Floats, Ints
from motor.field.heat_mesh import POINTS, Edges, HeatMesh

__all__ = [
    "Link",
    "coil_links",
    "displacements",
    "joint_links",
    "link_between",
    "surface_links",
    "top_link",
]

SAMPLES = 16
"""Displacements that the coil's ways are averaged over."""


@dataclass(frozen=True)
class Link:
    """All ways of one kind.

    Parameters
    ----------
    kind : str
    matrix : (n, n) sparse array
        Conductance, W/K, for a coefficient of 1.
    to_air : (n,) array
        Temperature over ambient times this is the heat to the air, for a coefficient of 1;
        0 between bodies.
    near, far : (n,) array
        Mean temperature over ambient of either side; ``far`` 0 for the air.
    total : float
        Sum of all conductances for a coefficient of 1 (an area, where the coefficient is one per
        area).
    """

    kind: str
    matrix: sparse.csc_matrix
    to_air: Floats
    near: Floats
    far: Floats
    total: float


def _link(
    kind: str, near: sparse.csr_matrix, weights: Floats, far: sparse.csr_matrix | None = None
) -> Link:
    difference = near if far is None else near - far
    scaled = sparse.diags(weights) @ difference
    total = float(weights.sum())
    share = weights / total if total else weights
    none = np.zeros(near.shape[1])
    return Link(
        kind=kind,
        matrix=(difference.T @ scaled).tocsc(),
        to_air=np.asarray(near.T @ weights) if far is None else none,
        near=np.asarray(near.T @ share),
        far=none if far is None else np.asarray(far.T @ share),
        total=total,
    )


def _at(mesh: HeatMesh, edges: Edges) -> sparse.csr_matrix:
    return mesh.at(edges.triangle.repeat(len(POINTS)), edges.points.reshape(2, -1))


def link_between(kind: str, mesh: HeatMesh, near: Edges, far: Edges | None = None) -> Link:
    """Return the way from edges to the air, or to edges of the same place on another body."""
    other = None if far is None else _at(mesh, far)
    return _link(kind, _at(mesh, near), near.areas.ravel(), other)


def surface_links(mesh: HeatMesh, gap: Gap) -> list[Link]:
    """Return the ways to the air: per area, but for the basket's, whose areas sum to 1.

    "side" are faces away from the axis, "front" and "back" faces up and down, "bore" those of a
    vent.  Faces towards the coil belong to the coil's ways.
    """
    edges = mesh.outside
    radius, (nr, nz) = edges.ends[0].mean(axis=0), edges.normal
    upright = np.abs(nr) > np.abs(nz)
    beyond = radius > gap.outer_radius
    chosen = {
        "side": upright & (nr > 0) & beyond,
        "front": ~upright & (nz > 0),
        "back": ~upright & (nz < 0),
        "bore": upright & (nr < 0) & (radius < gap.inner_radius * (1 - 1e-9)),
        "basket": ~upright & (nz > 0) & beyond,
    }
    found = []
    for kind, here in chosen.items():
        part = edges[here]
        weights = part.areas.ravel()
        if kind == "basket":
            weights = weights / max(float(weights.sum()), 1e-12)
        found.append(_link(kind, _at(mesh, part), weights))
    return found


def joint_links(mesh: HeatMesh, glued: Sequence[str]) -> list[Link]:
    """Return the ways across joints: "glue" where one of the parts named is there, else "press"."""
    first, second = mesh.joints
    magnet = np.isin(mesh.label, [mesh.names.index(n) for n in glued])
    is_glue = magnet[first.triangle] | magnet[second.triangle]
    return [
        link_between(kind, mesh, first[here], second[here])
        for kind, here in (("glue", is_glue), ("press", ~is_glue))
    ]


def top_link(mesh: HeatMesh) -> Link:
    """Return the way up the former, whose areas sum to 1."""
    weights = mesh.top.areas.ravel()
    return _link("cone", _at(mesh, mesh.top), weights / max(float(weights.sum()), 1e-12))


def displacements(rms: float, low: float, high: float) -> Floats:
    """Return equally likely displacements of a programme, m, kept between two ends."""
    if rms == 0:
        return np.zeros(1)
    normal = NormalDist()
    x = np.array([normal.inv_cdf((k + 0.5) / SAMPLES) for k in range(SAMPLES)])
    spread: Floats = np.clip(rms * x / np.sqrt((x**2).mean()), low, high)
    return spread


def _hits(faces: Edges, radius: Floats, height: Floats, sign: float) -> tuple[Ints, Floats]:
    """Return which face a ray from each point meets first (-1: none), and at what radius."""
    (ra, rb), (za, zb) = faces.ends
    steep = np.abs(zb - za) > 1e-9
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (height[:, None] - za) / (zb - za)
        there = ra + share * (rb - ra)
    way = sign * (there - radius[:, None])
    valid = steep & (share >= 0) & (share <= 1) & (way > -1e-9)
    way = np.where(valid, way, np.inf)
    first = way.argmin(axis=1)
    rows = np.arange(len(radius))
    met = np.isfinite(way[rows, first])
    return np.where(met, first, -1), np.where(met, there[rows, first], 0.0)


def coil_links(mesh: HeatMesh, gap: Gap, x: Floats, *, filled: bool) -> list[Link]:
    """Return the coil's ways, averaged over its displacements ``x`` in m.

    "air" through air to the part across, in units of the air's conductivity, radially and as
    between cylinders; "fluid" the same where ``filled`` and within a gap; "radiation" per area
    of coil; "open" per area, to the air that the cone moves past all faces but wet ones.
    """
    near, far, gaps, areas, fluid = [], [], [], [], []
    open_rows, open_areas = [], []
    for edges, sign in ((mesh.inward, -1.0), (mesh.outward, 1.0)):
        values = _at(mesh, edges)
        r, z = edges.points.reshape(2, -1)
        area = edges.areas.ravel() / len(x)
        for shift in x:
            face, radius = _hits(mesh.faces, r, z + shift, sign)
            met = face >= 0
            distance = np.maximum(sign * (radius[met] - r[met]), 1e-6)
            outer = np.maximum(r[met], radius[met])
            inner = np.maximum(outer - distance, 1e-6)
            near.append(values[met])
            place = np.array([radius[met], z[met] + shift])
            far.append(mesh.at(mesh.faces.triangle[face[met]], place))
            gaps.append(area[met] / (r[met] * np.log(outer / inner)))
            areas.append(area[met])
            within = np.zeros(len(distance), bool)
            for one in (gap, *gap.further):
                level = (place[1] > one.bottom) & (place[1] < one.top)
                within |= level & (distance < one.width)
            fluid.append(within & filled)
            dry = np.ones(len(area), bool)
            dry[np.flatnonzero(met)[fluid[-1]]] = False
            open_rows.append(values[dry])
            open_areas.append(area[dry])
    side, other = sparse.vstack(near).tocsr(), sparse.vstack(far).tocsr()
    conductance, area = np.concatenate(gaps), np.concatenate(areas)
    wet = np.concatenate(fluid)
    return [
        _link("air", side[~wet], conductance[~wet], other[~wet]),
        _link("fluid", side[wet], conductance[wet], other[wet]),
        _link("radiation", side[~wet], area[~wet], other[~wet]),
        _link("open", sparse.vstack(open_rows).tocsr(), np.concatenate(open_areas)),
    ]
