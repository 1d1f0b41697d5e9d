"""Heat conduction, convection and time against closed forms of print.

- Composite cylinder wall: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids (1959),
  section 7.2 (from memory), and any handbook.
- Straight fin with an adiabatic tip: any handbook of heat transfer.
- Slab that cools at both faces: Carslaw and Jaeger, section 3.11, page 122 (from memory).
- Order of a manufactured solution: second-order elements err by h^3.
- Nusselt numbers: values of the correlations' own limits and of a handbook's worked numbers.
- Two cylinders with air between: the coil's way through the gap, NGSolve on its own mesh.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.linalg import eigh
from skfem import MeshTri

from geometries import Gap
from motor.field.convection import (
    air_at,
    horizontal_cylinder,
    radiation,
    sphere,
    vertical_plate,
)
from motor.field.heat import HeatSystem, Solid
from motor.field.heat_links import Link, coil_links, joint_links, link_between
from motor.field.heat_mesh import Edges, HeatMesh, edges_of

EMPTY = Edges(np.empty(0, int), np.empty((2, 2, 0)), np.empty((2, 0)))


def ring(inner: float, outer: float, height: float, across: int, along: int) -> MeshTri:
    return MeshTri.init_tensor(
        np.linspace(inner, outer, across + 1), np.linspace(0, height, along + 1)
    )


def bodies(*parts: MeshTri) -> tuple[HeatMesh, list[Edges]]:
    """Return bodies side by side, each with nodes of its own, and all their edges."""
    p, t, label, edges, nodes, count = [], [], [], [], 0, 0
    for k, part in enumerate(parts):
        p.append(part.p)
        t.append(part.t + nodes)
        label.append(np.full(part.nelements, k))
        found = edges_of(part, np.flatnonzero(part.f2t[1] < 0), 0)
        edges.append(Edges(found.triangle + count, found.ends, found.normal))
        nodes, count = nodes + part.nvertices, count + part.nelements
    names = ("coil-winding", *(f"part{k}" for k in range(1, len(parts))))
    mesh = MeshTri(np.ascontiguousarray(np.hstack(p)), np.ascontiguousarray(np.hstack(t)))
    body = HeatMesh(
        mesh, names, np.concatenate(label), EMPTY, EMPTY, (EMPTY, EMPTY), EMPTY, EMPTY, EMPTY
    )
    return body, edges


def side(edges: Edges, direction: tuple[float, float]) -> Edges:
    """Return the edges whose normal has a direction."""
    return edges[np.array(direction) @ edges.normal > 0.9]


def to_air(kind: str, mesh: HeatMesh, edges: Edges) -> Link:
    return link_between(kind, mesh, edges)


def flux(mesh: HeatMesh, edges: Edges, density: np.ndarray | float) -> np.ndarray:
    """Return the load of a heat flux in W/m^2 at an edge's Gauss points."""
    at = mesh.at(edges.triangle.repeat(3), edges.points.reshape(2, -1))
    return np.asarray(at.T @ (edges.areas * density).ravel())


def test_composite_cylinder_is_the_sum_of_its_resistances() -> None:
    height, k1, k2, bond, h, heat = 0.05, 50.0, 0.2, 5e-4, 12.0, 10.0
    mesh, (first, second) = bodies(ring(0.01, 0.02, height, 8, 2), ring(0.02, 0.03, height, 16, 2))
    out, back = side(first, (1, 0)), side(second, (-1, 0))
    mesh = HeatMesh(
        mesh.mesh, mesh.names, mesh.label, EMPTY, EMPTY, (out, back), EMPTY, EMPTY, EMPTY
    )
    links = [*joint_links(mesh, ["part1"]), to_air("side", mesh, side(second, (1, 0)))]
    solids = {"coil-winding": Solid(k1, k1, 1.0), "part1": Solid(k2, k2, 1.0)}
    system = HeatSystem(mesh, solids, links)
    hot = side(first, (-1, 0))
    load = flux(mesh, hot, heat / hot.areas.sum())
    rise = system.steady({"glue": 1 / bond, "press": 0.0, "side": h}, load)
    around = 2 * math.pi * height
    expected = (
        heat / around * (math.log(2) / k1 + bond / 0.02 + math.log(1.5) / k2 + 1 / (h * 0.03))
    )
    inner = mesh.at(hot.triangle.repeat(3), hot.points.reshape(2, -1)) @ rise
    assert inner == pytest.approx(expected, rel=1e-5)
    assert h * float(system.links["side"].to_air @ rise) == pytest.approx(heat, rel=1e-9)


def test_thin_rod_is_a_fin() -> None:
    radius, length, k, h = 1e-3, 0.05, 200.0, 40.0
    mesh, (edges,) = bodies(ring(0.0, radius, length, 2, 40))
    system = HeatSystem(
        mesh, {"coil-winding": Solid(k, k, 1.0)}, [to_air("side", mesh, side(edges, (1, 0)))]
    )
    foot = side(edges, (0, -1))
    rise = system.steady({"side": h}, flux(mesh, foot, 1.0 / foot.areas.sum()))
    m = math.sqrt(2 * h / (k * radius))
    root = 1 / (math.sqrt(2 * h * k * math.pi**2 * radius**3) * math.tanh(m * length))
    tip = rise[mesh.basis.nodal_dofs[0]][mesh.mesh.p[1] > length - 1e-9]
    base = rise[mesh.basis.nodal_dofs[0]][mesh.mesh.p[1] < 1e-9]
    assert base.mean() == pytest.approx(root, rel=1e-3)
    assert tip.mean() == pytest.approx(root / math.cosh(m * length), rel=1e-3)


def test_wall_whose_conductivity_falls_with_temperature() -> None:
    """A disc, k = k0 (1 + s (T - T0)): the flow is k at the faces' mean (Kirchhoff's transform)."""
    height, radius, k0, slope, cold, flow, h = 0.05, 0.02, 50.0, -2e-3, 30.0, 40.0, 500.0
    mesh, (edges,) = bodies(ring(0.0, radius, height, 2, 16))
    solids = {"coil-winding": Solid(k0, k0, 1.0, slope)}
    system = HeatSystem(mesh, solids, [to_air("back", mesh, side(edges, (0, -1)))])
    area = math.pi * radius**2
    load = flux(mesh, side(edges, (0, 1)), flow / area)
    top = mesh.basis.nodal_dofs[0][mesh.mesh.p[1] > height - 1e-9]
    rise, mean = np.zeros(mesh.basis.N), 0.0
    for _ in range(30):
        solid = np.array([1 + slope * (mean + cold)])
        rise = system.steady({"back": h}, load, solid)
        mean = float(system.mean["coil-winding"] @ rise)
    foot = flow / area / h
    # k0 ((1 + s c) d + s d (2 foot + d) / 2) = flow L / A for the difference d between the faces
    a, b = slope / 2, 1 + slope * (cold + foot)
    difference = (-b + math.sqrt(b**2 + 4 * a * flow * height / area / k0)) / (2 * a)
    assert rise[top].mean() == pytest.approx(foot + difference, rel=1e-9)
    assert difference > 1.1 * flow * height / area / k0


def test_slab_cools_as_in_carslaw_and_jaeger() -> None:
    half, k, capacity, h = 5e-3, 2.0, 3e6, 800.0
    mesh, (edges,) = bodies(ring(0.0, 0.01, 2 * half, 1, 64))
    ends = [to_air(n, mesh, side(edges, (0, s))) for n, s in (("front", 1), ("back", -1))]
    system = HeatSystem(mesh, {"coil-winding": Solid(k, k, capacity)}, ends)
    stiffness = system.matrix({"front": h, "back": h}).toarray()
    rate, shape = eigh(stiffness, system.capacity.toarray())
    start = shape.T @ (system.capacity @ np.ones(mesh.basis.N))
    biot = h * half / k
    roots = [_root(biot, n) for n in range(12)]
    middle = np.argmin(np.hypot(*(mesh.basis.doflocs - np.array([[0.0], [half]]))))
    for time in (2.0, 10.0, 40.0):
        fourier = k * time / (capacity * half**2)
        exact = sum(
            4 * math.sin(s) / (2 * s + math.sin(2 * s)) * math.exp(-(s**2) * fourier) for s in roots
        )
        found = shape[middle] @ (start * np.exp(-rate * time))
        assert found == pytest.approx(exact, abs=2e-4)


def _root(biot: float, n: int) -> float:
    """Return the n-th root of s tan s = Bi."""
    from scipy.optimize import brentq

    low, high = n * math.pi + 1e-9, n * math.pi + math.pi / 2 - 1e-9
    return float(brentq(lambda s: s * math.sin(s) - biot * math.cos(s), low, high))


def test_a_manufactured_solution_converges_with_the_third_power() -> None:
    """T = exp(r) cos z between r = 1 and 2: -div grad T = -exp(r) cos z / r."""
    errors = []
    for count in (4, 8, 16):
        mesh, (edges,) = bodies(ring(1.0, 2.0, 1.0, count, count))
        system = HeatSystem(
            mesh, {"coil-winding": Solid(1.0, 1.0, 1.0)}, [to_air("side", mesh, edges)]
        )
        basis = mesh.basis

        from skfem import LinearForm

        @LinearForm
        def inside(v, w):  # type: ignore[no-untyped-def]
            return -2 * np.pi * np.exp(w.x[0]) * np.cos(w.x[1]) * v

        r, z = edges.points
        slope = np.exp(r) * (
            np.cos(z) * edges.normal[0, :, None] - np.sin(z) * edges.normal[1, :, None]
        )
        load = inside.assemble(basis) + flux(mesh, edges, slope + np.exp(r) * np.cos(z))
        found = system.steady({"side": 1.0}, load)
        exact = np.exp(basis.doflocs[0]) * np.cos(basis.doflocs[1])
        gap = found - exact
        errors.append(math.sqrt(gap @ system.capacity @ gap))
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert (orders > 2.7).all()
    assert errors[-1] < 1e-5


def test_nusselt_numbers() -> None:
    """Limits without flow (0.825^2, 0.6^2, 2), and numbers of the correlations by hand."""
    assert vertical_plate(0.71, 0.0) == pytest.approx(0.680625)
    assert horizontal_cylinder(0.71, 0.0) == pytest.approx(0.36)
    assert sphere(0.71, 0.0) == 2.0
    # simplified forms in print for air at Pr = 0.7: 0.1 Ra^(1/3) for tall plates within 15 %
    assert vertical_plate(0.7, 1e11) == pytest.approx(0.1 * 1e11 ** (1 / 3), rel=0.2)
    # 0.53 Ra^(1/4) (McAdams) for horizontal cylinders, 1e4 to 1e9
    assert horizontal_cylinder(0.7, 1e6) == pytest.approx(0.53 * 1e6**0.25, rel=0.15)
    # 2 + 0.43 Ra^(1/4) (Yuge 1960) for spheres in air
    assert sphere(0.7, 1e5) == pytest.approx(2 + 0.43 * 1e5**0.25, rel=0.1)


def test_air_as_in_tables() -> None:
    """Dry air at 300 and 400 K: tables of any handbook (from memory)."""
    for kelvin, conductivity, viscosity, prandtl in (
        (300.0, 0.0263, 15.89e-6, 0.707),
        (400.0, 0.0338, 26.41e-6, 0.690),
    ):
        air = air_at(kelvin)
        assert air.conductivity == pytest.approx(conductivity, rel=0.02)
        assert air.viscosity == pytest.approx(viscosity, rel=0.02)
        assert air.prandtl == pytest.approx(prandtl, rel=0.03)
    assert radiation(1.0, 300.0, 300.0) == pytest.approx(6.124, rel=1e-3)


def test_coil_between_two_cylinders() -> None:
    """A warm tube between two cylinders: each side ln(r2/r1)/(2 pi k L), averaged over travel."""
    height = 0.01
    mesh, (tube, pole, plate) = bodies(
        ring(0.0160, 0.0165, height, 2, 20),
        ring(0.005, 0.0155, 3 * height, 6, 12),
        ring(0.0171, 0.03, height / 2, 6, 6),
    )
    faces = Edges(
        np.concatenate([pole.triangle, plate.triangle]),
        np.concatenate([pole.ends, plate.ends], axis=-1),
        np.concatenate([pole.normal, plate.normal], axis=-1),
    )
    mesh = HeatMesh(
        mesh.mesh,
        mesh.names,
        mesh.label,
        EMPTY,
        faces,
        (EMPTY, EMPTY),
        side(tube, (-1, 0)),
        side(tube, (1, 0)),
        EMPTY,
    )
    gap = Gap(0.0155, 0.0171, 0.0, height / 2)
    links = {x.kind: x for x in coil_links(mesh, gap, np.zeros(1), filled=False)}
    inner = 2 * math.pi * height / math.log(0.0160 / 0.0155)
    outer = 2 * math.pi * height / 2 / math.log(0.0171 / 0.0165)
    assert links["air"].total == pytest.approx(inner + outer, rel=1e-6)
    assert links["fluid"].total == 0.0
    moved = {x.kind: x for x in coil_links(mesh, gap, np.array([height]), filled=False)}
    assert moved["air"].total == pytest.approx(inner, rel=1e-6)  # past the plate
    wet = {x.kind: x for x in coil_links(mesh, gap, np.zeros(1), filled=True)}
    assert wet["fluid"].total == pytest.approx(inner / 2 + outer, rel=1e-6)
    # what leaves the coil arrives
    heat = links["air"].matrix @ np.random.default_rng(5).normal(size=mesh.basis.N)
    assert heat.sum() == pytest.approx(0.0, abs=1e-9 * np.abs(heat).sum())
