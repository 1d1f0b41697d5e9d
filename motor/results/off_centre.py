"""Radial pull on a part that stands off centre, to first order in the offset.

A part that is moved sideways by d carries the field along: with V = g(r, z) e, e the way of the
motion and g the share of it, 1 on the surfaces of what moves and 0 on all others, the fields
pulled back to the round motor see every material stand still.  The magnetic coenergy with
H = - grad phi, expanded to second order in d, has the least value

    F' = integral of (e.H)^2 a.M a  -  integral of grad u . M grad u,    a = grad g,

whose second derivative is the force per offset: u, the change of phi, is of the first harmonic
about the axis and solves, for every v of it,

    integral of grad u . M grad v = integral of (a.e) B.grad v - (e.H) a.M grad v - (B.a)(e.grad v)

with M = dB/dH, along the flux density that of the magnetising curve, across it B/H (the shape
derivative in magnetostatics, e.g. J. Sokolowski and J.-P. Zolesio, Introduction to Shape
Optimization, 1992; this form derived here).  g must keep to the parts only where their surfaces
have a radial normal: parts slide on flat joints.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sparse
import scipy.sparse.linalg
from skfem import BilinearForm, FacetBasis

from geometries import Gap, InvalidInput
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.field.field import Estimate, Field, FieldOnMesh, shape_functions

__all__ = ["OffCentre", "first_order", "off_centre", "off_centre_by_hand"]

RIGID = {"steel": 30.0, "magnet": 3.0}
"""How much stiffer than air parts are while the motion is spread; what comes out hardly moves."""
CHANGE, FLOOR = 0.9, 1e-3
"""Uncertainty: times the change between the meshes, and a share of the value: set on 93 joints
of 40 random motors, and looked at on others."""
DECAY = 2.5
"""Power of the distance with which the change of phi falls beyond the outer circle: 3 of a dipole
that has moved, 2 of steel that has turned its magnetisation."""
SLANT = 1e-9
"""Radial part of a normal from which on a side keeps to its part."""
ACROSS = 9
"""Heights along the gap over which its flux density is taken."""


@dataclass(frozen=True)
class OffCentre:
    """What an offset of some parts from the axis does, to first order.

    Parameters
    ----------
    moving : tuple of str
        Parts that stand off centre together.
    stiffness : Estimate
        Newton per metre of offset; positive where the pull grows the offset.
    by_hand : float or None
        N/m, from the flux density in the gap alone; None where the gap stays as wide.
    widths : float
        Change of the gap's width per offset where it grows least; 1 or 0.
    field_change : float
        Relative change of the flux density in the middle of the gap on the narrow side, per
        metre of offset.
    """

    moving: tuple[str, ...]
    stiffness: Estimate
    by_hand: float | None
    widths: float
    field_change: float


def off_centre(field: Field, moving: Collection[str], gap: Gap) -> OffCentre:
    """Return what an offset of some parts does.

    Parameters
    ----------
    field : Field
    moving : collection of str
    gap : Gap

    Raises
    ------
    InvalidInput
        If the parts touch others on a surface that is not flat: they cannot slide.
    """
    stiffness, field_change = first_order(field.fine, moving, gap)
    spread = math.nan
    if field.fine is not field.coarse:
        change = abs(stiffness - first_order(field.coarse, moving, gap)[0])
        spread = CHANGE * change + FLOOR * abs(stiffness)
    sides = _sides_of_gap(field, gap)
    moved = [name in moving for name in sides]
    opens = moved[0] != moved[1]
    return OffCentre(
        tuple(moving),
        Estimate(stiffness, spread),
        off_centre_by_hand(field.fine, gap) if opens else None,
        1.0 if opens else 0.0,
        abs(field_change) if opens else 0.0,
    )


def off_centre_by_hand(level: FieldOnMesh, gap: Gap) -> float:
    """Return B^2 A / (2 mu0 w) in N/m: the pull of a gap of width w at constant magnetic tension.

    Mean over half the turn of the pull B^2 / (2 mu0) that changes as 1 / w^2; any handbook of
    electric machines (unbalanced magnetic pull), from memory.
    """
    b = _across(level, gap)
    area = 2 * math.pi * gap.mean_radius * gap.depth
    return float((b**2).mean()) * area / (2 * MU0 * gap.width)


def _across(level: FieldOnMesh, gap: Gap, shift: float = 0.0) -> Floats:
    z = gap.bottom + (np.arange(ACROSS) + 0.5) / ACROSS * gap.depth
    return level.flux_density(np.full(ACROSS, gap.mean_radius + shift), z)[:, 0]


def _sides_of_gap(field: Field, gap: Gap) -> tuple[str, str]:
    """Return the parts inside and outside the gap."""
    mesh, middle = field.fine.system.mesh, 0.5 * (gap.bottom + gap.top)
    beside = 0.02 * gap.width
    radii = np.array([gap.inner_radius - beside, gap.outer_radius + beside])
    triangles, _ = mesh.locate(radii, np.full(2, middle))
    inner, outer = (mesh.names[k] for k in mesh.label[triangles])
    return inner, outer


def _permeability(level: FieldOnMesh) -> tuple[Floats, Floats]:
    """Return dB/dH in the half plane (n, q, 2, 2) and B/H across it (n, q), H/m."""
    system = level.system
    b = level.flux_densities
    secant = np.full(b.shape[:2], MU0)
    for name, magnet in system.magnets.items():
        secant[system.mesh.triangles_of(name)] = MU0 * magnet.recoil_permeability
    here = system.steel.triangles
    state = system.steel_at(level.solution.reduced)
    secant[here] = 1 / state.nu
    along = np.zeros_like(secant)
    along[here] = 1 / state.slope - secant[here]
    size = np.maximum((b**2).sum(axis=-1), 1e-18)
    tensor = (along / size)[..., None, None] * b[..., :, None] * b[..., None, :]
    tensor[..., 0, 0] += secant
    tensor[..., 1, 1] += secant
    return tensor, secant


def first_order(level: FieldOnMesh, moving: Collection[str], gap: Gap) -> tuple[float, float]:
    """Return the stiffness in N/m and the relative change of the gap's flux density per metre."""
    system = level.system
    share, slope = _motion(level, moving)
    b, h = level.flux_densities, level.field_strengths
    tensor, secant = _permeability(level)
    weight, basis = system.weight, system.basis
    radius = np.asarray(basis.global_coordinates())[0]
    parts = [fields[0] for fields in basis.basis]
    shape = np.broadcast_shapes(*(np.asarray(p).shape for p in parts), radius.shape)
    values = np.stack([np.broadcast_to(np.asarray(p), shape) for p in parts], axis=-1)
    grads = np.stack([np.moveaxis(np.asarray(p.grad), 0, -1) for p in parts], axis=-1)
    a = slope.T[:, None, :]
    pushed = np.einsum("nqij,nqj->nqi", tensor, np.broadcast_to(a, h.shape))
    rigid = (weight * h[..., 0] ** 2 * (a * pushed).sum(axis=-1)).sum()
    onto = a[..., :1] * b - h[..., :1] * pushed
    inner = (b * a).sum(axis=-1)
    onto[..., 0] -= inner
    load = np.einsum("nq,nqi,nqik->nk", weight, onto, grads)
    load -= np.einsum("nq,nqk->nk", weight * inner / radius, values)
    flow = np.einsum("nqij,nqjk->nqik", tensor, grads)
    blocks = np.einsum("nq,nqik,nqil->nkl", weight, grads, flow, optimize=True)
    turn = weight * secant / radius**2
    blocks += np.einsum("nq,nqk,nql->nkl", turn, values, values, optimize=True)
    nodes = system.nodes
    count = basis.N
    rows, columns = (np.broadcast_to(x, blocks.shape) for x in (nodes[:, :, None], nodes[:, None]))
    matrix = sparse.csc_matrix((blocks.ravel(), (rows.ravel(), columns.ravel())), (count, count))
    right = np.bincount(nodes.ravel(), load.ravel(), minlength=count)
    matrix = matrix + _outside(level)
    free = np.flatnonzero(basis.doflocs[0] > 1e-12)
    u = np.zeros(count)
    u[free] = scipy.sparse.linalg.splu(matrix[free][:, free]).solve(right[free])
    stiffness = math.pi * float(rigid - right @ u)
    return stiffness, _field_change(level, u, share, gap)


@BilinearForm  # type: ignore[untyped-decorator]
def _around(u: Any, v: Any, w: Any) -> Any:
    """Return what the field beyond the outer circle adds, as of the far field of an offset."""
    r, z = w.x
    return MU0 * DECAY / np.hypot(r, z - w.centre) * u * v * r


def _outside(level: FieldOnMesh) -> sparse.csc_matrix:
    """Return the outer circle's part of the matrix."""
    grid = level.system.basis.mesh
    outer = grid.boundary_facets()
    outer = outer[grid.p[0, grid.facets[:, outer]].max(axis=0) > 1e-12]
    around = FacetBasis(grid, level.system.basis.elem, facets=outer)
    return _around.assemble(around, centre=level.system.mesh.partition.centre).tocsc()


def _motion(level: FieldOnMesh, moving: Collection[str]) -> tuple[Floats, Floats]:
    """Return the share of the motion at the vertices (n,) and its slopes in triangles (2, n)."""
    grid, mesh, label = level.system.mesh, level.system.mesh.mesh, level.system.mesh.label
    active = [n in level.system.steels or n in level.system.magnets for n in grid.names]
    goes = np.array([n in moving for n in grid.names], float)
    left, right = mesh.f2t
    outer = right < 0
    one, other = label[left], label[np.where(outer, left, right)]
    ends = mesh.p[:, mesh.facets]
    steep = np.abs(ends[1, 1] - ends[1, 0]) > SLANT * np.hypot(*(ends[:, 1] - ends[:, 0]))
    solid = np.array(active, bool)
    both = solid[one] & solid[other] & steep & ~outer
    if (both & (goes[one] != goes[other])).any():
        locked = sorted({grid.names[k] for k in one[both & (goes[one] != goes[other])]})
        raise InvalidInput("part", "touch others on flat faces only", " and ".join(locked))
    total, owners = np.zeros(mesh.nvertices), np.zeros(mesh.nvertices)
    for side in (one, other):
        keeps = steep & ~outer & solid[side] & (one != other)
        for vertices in mesh.facets[:, keeps]:
            np.add.at(total, vertices, goes[side[keeps]])
            np.add.at(owners, vertices, 1.0)
    rim = mesh.facets[:, outer & (mesh.p[0, mesh.facets].max(axis=0) > 1e-12)].ravel()
    owners[rim] = 1.0
    held = owners > 0
    share = np.where(held, total / np.maximum(owners, 1.0), 0.0)
    stiff = np.ones(len(grid.names))
    for k, name in enumerate(grid.names):
        stiff[k] = RIGID["steel"] if name in level.system.steels else stiff[k]
        stiff[k] = RIGID["magnet"] if name in level.system.magnets else stiff[k]
    slopes = grid.barycentric_slopes(np.arange(mesh.nelements))
    size = stiff[label] * level.system.weight.sum(axis=1)
    blocks = np.einsum("n,kjn,ljn->nkl", size, slopes, slopes)
    corners = mesh.t.T
    rows, columns = (
        np.broadcast_to(x, blocks.shape).ravel() for x in (corners[:, :, None], corners[:, None])
    )
    matrix = sparse.csc_matrix((blocks.ravel(), (rows, columns)), (mesh.nvertices,) * 2)
    free = np.flatnonzero(~held)
    right_side = -(matrix[free][:, np.flatnonzero(held)] @ share[held])
    share[free] = scipy.sparse.linalg.splu(matrix[free][:, free]).solve(right_side)
    return share, np.einsum("kn,kjn->jn", share[mesh.t], slopes)


def _field_change(level: FieldOnMesh, u: Floats, share: Floats, gap: Gap) -> float:
    """Return the relative change of B_r in the middle of the gap, per metre, towards the offset."""
    mesh = level.system.mesh
    r = np.full(ACROSS, gap.mean_radius)
    z = gap.bottom + (np.arange(ACROSS) + 0.5) / ACROSS * gap.depth
    step = 0.02 * gap.width

    def at(values: Floats, shift: float) -> Floats:
        triangle, bary = mesh.locate(r + shift, z)
        if len(values) == mesh.mesh.nvertices:
            return np.asarray((values[mesh.mesh.t[:, triangle]] * bary).sum(axis=0))
        return np.asarray((shape_functions(bary) * values[level.system.nodes[triangle]].T).sum(0))

    b, near, far = (_across(level, gap, x) for x in (0.0, -step, step))
    u_r = (at(u, step) - at(u, -step)) / (2 * step)
    g, g_r = at(share, 0.0), (at(share, step) - at(share, -step)) / (2 * step)
    change = -MU0 * u_r - g_r * b - g * (far - near) / (2 * step)
    return float(change.mean() / b.mean())
