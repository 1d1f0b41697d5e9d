"""Heat of whole drivers solved again by another finite-element library on a mesh of its own.

Source: NGSolve and Netgen (J. Schoeberl, C++11 Implementation of Finite Elements in NGSolve, ASC
Report 30/2014, TU Wien).  Third-order elements for each part, contact conductances between them.
Both solve one linear problem: conductivities, the coil's heat and the coefficients of all ways are
those where the project's model has settled.  Which face is which way, what a ray from the coil
meets, and all quadrature are made anew here, from the outlines and by shapely.  Measured: at worst
0.7 of the uncertainty that is stated; with finer grids on both sides they come within 0.05 %.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from scipy import sparse
from scipy.sparse.linalg import spsolve
from shapely.geometry import LineString, Point, Polygon, box

import motor
from geometries import Role
from motor.base.arrays import Floats
from motor.field.heat import Solid
from motor.field.heat_links import displacements
from motor.materials import REFERENCE_TEMPERATURE, conductor_named
from motor.materials.thermal import thermal_named, thermal_of
from motor.results.heat import Warmth
from motor.results.heat import heat as settled_heat
from motor.results.heat_model import winding_solid
from tests.verification.checks import check, outside

ngsolve = pytest.importorskip("ngsolve")

SOURCE = outside("NGSolve, third order, its own mesh")
DESIGNS = Path(__file__).parents[2] / "studies" / "designs"
MM, FAR, STRIPS = 1e3, 1e3, 240
"""Millimetres a metre; half size of the air around in mm; points along a face of the coil."""


@dataclass(frozen=True)
class Section:
    """The parts of a warm driver, in mm, and what each side of them is."""

    warmth: Warmth

    @cached_property
    def coil(self) -> dict[str, Polygon]:
        """Winding and former."""
        shapes = self.warmth.design.coil.outlines()
        return {name: Polygon(np.array(points) * MM) for name, points in shapes}

    @cached_property
    def parts(self) -> dict[str, Polygon]:
        """What stands still."""
        return {r.name: Polygon(np.array(r.outline) * MM) for r in self.warmth.design.regions}

    @cached_property
    def air(self) -> Polygon:
        """What reaches the outside without passing the gap."""
        gap = self.warmth.design.geometry.gap
        edges = (gap.inner_radius, gap.bottom, gap.outer_radius, gap.top)
        plug = box(*(MM * c for c in edges))
        rest = box(0, -FAR, FAR, FAR) - shapely.union_all([*self.parts.values(), plug])
        return next(p for p in getattr(rest, "geoms", [rest]) if p.covers(Point(FAR, FAR)))

    def ways(self, side: LineString, around: tuple[str, str]) -> str:
        """Return the name of what happens at a side between two bodies ("" for air)."""
        (ra, za), (rb, zb) = side.coords
        middle, upright = side.centroid, abs(ra - rb) < abs(za - zb)
        gap = self.warmth.design.geometry.gap
        body = next(name for name in around if name)
        off = middle.x - (self.coil | self.parts)[body].centroid.x
        high = middle.y - (self.coil | self.parts)[body].centroid.y
        if "" not in around:
            return "within" if body in self.coil else f"joint {' '.join(sorted(around))}"
        if body in self.coil:
            if upright:
                return "open"
            top = max(shape.bounds[3] for shape in self.coil.values())
            return "cone" if body == "former" and middle.y > top - 1e-6 else "still"
        if self.air.distance(middle) > 1e-6:
            return "still"
        beyond = middle.x > MM * gap.outer_radius
        if upright:
            vent = off < 0 and middle.x < MM * gap.inner_radius - 1e-6
            return "bore" if vent else "side" if beyond and off > 0 else "still"
        return "back" if high < 0 else "front basket" if beyond else "front"

    @cached_property
    def mesh(self) -> Any:
        """Netgen's mesh; each side's name is the number of its kind in ``kinds``."""
        from netgen.geom2d import SplineGeometry

        drawn, names = SplineGeometry(), [*self.parts, *self.coil]
        shapes = self.parts | self.coil
        lines = shapely.node(shapely.MultiLineString([s.exterior for s in shapes.values()]))
        number: dict[tuple[float, float], int] = {}
        for line in lines.geoms:
            for a, b in itertools.pairwise(line.coords):
                side = LineString([a, b])
                if side.length < 1e-6:
                    continue
                ends = [number.setdefault(p, len(number)) for p in (_rounded(a), _rounded(b))]
                while drawn.GetNPoints() < len(number):
                    drawn.AppendPoint(*list(number)[drawn.GetNPoints()])
                across = np.array([a[1] - b[1], b[0] - a[0]]) / side.length * 1e-5
                beside = []
                for sign in (1, -1):
                    spot = Point(np.array(side.centroid.coords[0]) + sign * across)
                    beside.append(next((n for n in names if shapes[n].contains(spot)), ""))
                left, right = beside
                if (not left and not right) or left == right:
                    continue
                kind = self.ways(side, (left, right))
                inside = [0 if n == "" else 1 + names.index(n) for n in beside]
                drawn.Append(
                    ["line", *ends],
                    leftdomain=inside[0],
                    rightdomain=inside[1],
                    bc=kind.replace(" ", "-"),
                    maxh=0.3 if {left, right} & set(self.coil) else 1.5,
                )
        for k, name in enumerate(names):
            drawn.SetMaterial(k + 1, name)
            drawn.SetDomainMaxH(k + 1, 0.3 if name in self.coil else 3.0)
        return ngsolve.Mesh(drawn.GenerateMesh(maxh=3.0, grading=0.3))

    def met(self, r: float, z: float, sign: int) -> tuple[float, str] | None:
        """Return where a level ray meets a part first, and which, mm."""
        ray = LineString([(r, z), (FAR if sign > 0 else 0.0, z)])
        found = [
            (abs(x - r), x, name)
            for name, shape in self.parts.items()
            for x, _ in shapely.get_coordinates(ray.intersection(shape))
        ]
        return min(found)[1:] if found else None


def _rounded(point: tuple[float, float]) -> tuple[float, float]:
    return round(point[0], 7), round(point[1], 7)


def solid_of(warmth: Warmth, name: str) -> Solid:
    """Return a body's conductivities where the model has settled."""
    model, design = warmth.model, warmth.design
    if name == "winding":
        found = winding_solid(design.coil)
        k = found.across, found.along
    elif name == "former":
        k = (thermal_named(design.coil.former_material or "polyimide").conductivity,) * 2
    else:
        region = next(r for r in design.regions if r.name == name)
        k = (thermal_of(design.materials.material_of(region)).conductivity,) * 2
    bodies = model.reduced.bodies
    body = bodies.index(name) if name in bodies else len(bodies) - 1
    factor = float(model.solid(warmth.settled.state)[body])
    return Solid(k[0] * factor, k[1] * factor, 0.0)


class Theirs:
    """The same driver by the other library."""

    def __init__(self, warmth: Warmth) -> None:
        self.section = section = Section(warmth)
        self.coil = "|".join(section.coil)
        self.names = [*section.parts, self.coil]
        mesh = section.mesh
        self.spaces = [ngsolve.H1(mesh, order=3, definedon=name) for name in self.names]
        self.space = ngsolve.FESpace(self.spaces)
        self.warmth, self.mesh = warmth, mesh
        self.around = 2 * math.pi * ngsolve.x / MM**2
        self.rise = self._solved()

    def _index(self, body: str) -> int:
        return next(k for k, name in enumerate(self.names) if body in name.split("|"))

    def _solved(self) -> Floats:
        given, joint = self.warmth.settled.coefficients, ngsolve.BilinearForm(self.space)
        (u, v), around, winding = self.space.TnT(), self.around, self._index("winding")
        areas = {w: self._area(w) for w in ("front-basket", "cone")}
        for body in [*self.section.parts, *self.section.coil]:
            k, solid = self._index(body), solid_of(self.warmth, body)
            du, dv = ngsolve.grad(u[k]), ngsolve.grad(v[k])
            flow = solid.across * du[0] * dv[0] + solid.along * du[1] * dv[1]
            joint += around * MM * flow * ngsolve.dx(body)
        per_area = {w: given[w] for w in ("side", "front", "back", "bore", "open")}
        per_area["front-basket"] = given["front"] + given["basket"] / areas["front-basket"]
        per_area["cone"] = given["cone"] / areas["cone"] if areas["cone"] else 0.0
        kinds = set(self.mesh.GetBoundaries())
        for way in kinds & set(per_area):
            for k in range(len(self.names)):
                if (k == winding) == (way in ("open", "cone")):
                    joint += around * per_area[way] * u[k] * v[k] * ngsolve.ds(way)
        roles = {r.name: r.role for r in self.warmth.design.regions}
        for way in kinds:
            if way.startswith("joint-"):
                pair = way.split("-")[1:]
                a, b = (self._index(name) for name in pair)
                glued = any(roles[name] is Role.MAGNET for name in pair)
                h = given["glue" if glued else "press"]
                joint += around * h * (u[a] - u[b]) * (v[a] - v[b]) * ngsolve.ds(way)
        # the coil's heat goes with the local resistance, 1 + slope (T - 20 degC)
        coil, heat = self.warmth.design.coil, self.warmth.settled.heat
        slope = conductor_named(coil.wire.material).temperature_coefficient
        base = 1 + slope * (self.warmth.model.ambient - REFERENCE_TEMPERATURE)
        warm = 1 + slope * (self.warmth.settled.coil - REFERENCE_TEMPERATURE)
        inside = ngsolve.dx("winding")
        each = heat / warm / float(ngsolve.Integrate(self.around * inside, self.mesh))
        joint += -around * each * slope * u[winding] * v[winding] * inside
        joint.Assemble()
        load = ngsolve.LinearForm(self.space)
        load += around * each * base * v[winding] * inside
        load.Assemble()
        rows, columns, values = joint.mat.COO()
        whole = sparse.csr_matrix((values, (rows, columns)), joint.mat.shape) + self._gap()
        free = np.flatnonzero(np.array(list(self.space.FreeDofs())))
        found = np.zeros(self.space.ndof)
        found[free] = spsolve(whole[free][:, free].tocsc(), load.vec.FV().NumPy()[free])
        return found

    def _area(self, way: str) -> float:
        return float(ngsolve.Integrate(self.around * ngsolve.ds(way), self.mesh))

    def _row(self, body: str, r: float, z: float) -> tuple[list[int], list[float]]:
        """Return unknowns and weights that read a body's temperature at a point in mm."""
        k = self._index(body)
        at = self.mesh(r, z)
        element = ngsolve.ElementId(ngsolve.VOL, at.nr)
        start = self.space.Range(k).start
        shape = self.spaces[k].GetFE(element).CalcShape(*at.pnt[:2])
        return [start + d for d in self.spaces[k].GetDofNrs(element)], list(shape)

    def _gap(self) -> sparse.csr_matrix:
        """Return the coil's ways through the gap, averaged over its displacements."""
        warmth, section = self.warmth, self.section
        k, shine = (warmth.settled.coefficients[n] for n in ("air", "radiation"))
        travel = warmth.design.contact
        x = MM * displacements(warmth.displacement, -travel.inward, travel.outward)
        whole = shapely.union_all([*section.coil.values()])
        rows: list[list[int]] = []
        values: list[list[float]] = []
        weights = []
        for a, b in itertools.pairwise(whole.normalize().exterior.coords):
            if abs(a[0] - b[0]) > 1e-6:
                continue
            sign = 1 if whole.covers(Point(a[0] - 1e-4, (a[1] + b[1]) / 2)) else -1
            length, r = abs(a[1] - b[1]), a[0]
            count = max(int(STRIPS * length / 13), 8)
            for z in min(a[1], b[1]) + (np.arange(count) + 0.5) * length / count:
                own = next(
                    n for n, s in section.coil.items() if s.covers(Point(r - sign * 1e-4, z))
                )
                here = self._row(own, r - sign * 1e-7, z)
                area = 2 * math.pi * r * length / count / MM**2 / len(x)
                for shift in x:
                    hit = section.met(r, z + shift, sign)
                    if hit is None:
                        continue
                    there = self._row(hit[1], hit[0] + sign * 1e-7, z + shift)
                    low, high = sorted((r, hit[0]))
                    rows.append(here[0] + there[0])
                    values.append([*here[1], *(-w for w in there[1])])
                    weights.append(area * (k * MM / (r * math.log(high / low)) + shine))
        each = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
        shape = (len(rows), self.space.ndof)
        flat = np.concatenate(values), (each, np.concatenate(rows))
        difference = sparse.csr_matrix(flat, shape)
        return (difference.T @ sparse.diags(weights) @ difference).tocsr()

    def mean(self, body: str) -> float:
        """Return the mean rise of a body."""
        k, found = self._index(body), ngsolve.GridFunction(self.space)
        found.vec.FV().NumPy()[:] = self.rise
        inside = ngsolve.dx(body)
        volume = ngsolve.Integrate(self.around * inside, self.mesh)
        whole = ngsolve.Integrate(self.around * found.components[k] * inside, self.mesh)
        return float(whole / volume)


@pytest.mark.parametrize("name", ["ferrite", "neodymium"])
def test_a_whole_driver_is_as_warm_as_by_another_library(name: str) -> None:
    result = motor.solve(motor.read_design(DESIGNS / f"door_woofer_{name}.toml"))
    warmth = settled_heat(result, 15.0)
    theirs, ambient = Theirs(warmth), warmth.model.ambient
    bodies = {"winding": "coil-winding", "former": "coil-former"}
    bodies |= {n: n for n in theirs.section.parts}
    for other, own in bodies.items():
        found = warmth.mean(own)
        what = f"mean rise of {other} over air, door woofer with {name}, 15 W, K"
        expected = theirs.mean(other)
        got = found.value - ambient
        check(what, SOURCE, expected, got, found.uncertainty, relative=False)
