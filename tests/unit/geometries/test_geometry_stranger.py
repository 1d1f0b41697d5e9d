"""A geometry from outside: declared in a test, it works like any other."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest

import geometries.contract
from geometries import RADIAL_IN, RADIAL_OUT, Gap, Geometry, Region, Role, registered
from geometries.contract import choice, length
from geometries.outlines import rectangle
from motor.design.starters import starter
from motor.field.field import Field
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import LinearSteel
from motor.results.motor_result import solve
from tests.unit.geometries.geometry_checks import check_contract, check_mesh


@pytest.fixture
def radial_stack() -> Iterator[type[Geometry]]:
    """Declare a geometry the project does not know: a radially magnetised ring in a yoke."""

    @dataclass(frozen=True, kw_only=True)
    class RadialStack(Geometry, kind="test-radial-stack"):
        """A ring magnet on the wall of a yoke, facing the pole across the gap."""

        title = "radially magnetised ring"

        pole_diameter: float = length("outer diameter of the pole")
        gap_width: float = length("distance from pole to magnet")
        magnet_width: float = length("radial thickness of the magnet")
        magnet_height: float = length("axial height of the magnet")
        wall: float = length("thickness of the yoke's wall and floor")
        direction: str = choice("where the magnet points", ("in", "out"))

        @property
        def gap(self) -> Gap:
            pole, half = self.pole_diameter / 2, self.magnet_height / 2
            return Gap(pole, pole + self.gap_width, -half, half)

        def regions(self) -> tuple[Region, ...]:
            gap = self.gap
            face = gap.outer_radius + self.magnet_width
            floor = gap.bottom - 0.75 * self.magnet_height
            yoke = (
                (0.0, floor - self.wall),
                (face + self.wall, floor - self.wall),
                (face + self.wall, gap.top),
                (face, gap.top),
                (face, floor),
                (gap.inner_radius, floor),
                (gap.inner_radius, gap.top),
                (0.0, gap.top),
            )
            magnet = tuple(rectangle(gap.outer_radius, face, gap.bottom, gap.top))
            towards = RADIAL_IN if self.direction == "in" else RADIAL_OUT
            return (
                Region("yoke", Role.STEEL, yoke),
                Region("magnet", Role.MAGNET, magnet, magnetisation=towards),
            )

        @classmethod
        def example(cls) -> RadialStack:
            return cls(
                pole_diameter=24e-3,
                gap_width=1.5e-3,
                magnet_width=3e-3,
                magnet_height=24e-3,
                wall=5e-3,
            )

    try:
        yield RadialStack
    finally:
        del geometries.contract._registry["test-radial-stack"]


REMANENCE, RECOIL = 0.4, 1.05


def radial_field(geometry: Geometry) -> Field:
    """Solve a radial stack with steel of nearly no resistance."""
    steel = LinearSteel("ideal", 7850.0, "", relative_permeability=1e6).curve()
    (magnet,) = (r for r in geometry.regions() if r.role is Role.MAGNET)
    assert magnet.magnetisation is not None
    m_r, m_z = magnet.magnetisation
    state = MagnetState((REMANENCE * m_r, REMANENCE * m_z), RECOIL)
    return solve_field(geometry.regions(), geometry.gap, {"yoke": steel}, {"magnet": state})


def test_stranger_registers_under_its_kind(radial_stack: type[Geometry]) -> None:
    assert registered()["test-radial-stack"] is radial_stack
    check_contract(radial_stack.example())
    check_mesh(radial_stack.example())


def test_stranger_leaves_no_trace() -> None:
    assert "test-radial-stack" not in registered()


def test_radial_ring_gives_the_closed_form_of_a_long_gap(radial_stack: type[Geometry]) -> None:
    """Without fringing B = C / r, with C from Ampere's law across magnet and gap."""
    geometry = radial_stack.example()
    gap = geometry.gap
    back = gap.outer_radius + geometry.magnet_width  # type: ignore[attr-defined]
    closed = (REMANENCE * (back - gap.outer_radius)) / (
        math.log(back / gap.outer_radius) + RECOIL * math.log(gap.outer_radius / gap.inner_radius)
    )
    b_r, b_z = radial_field(geometry).flux_density(gap.mean_radius, 0.0)
    assert -b_r * gap.mean_radius == pytest.approx(closed, rel=0.01)
    assert abs(b_z) < 0.01 * abs(b_r)


def test_turning_the_ring_turns_the_field(radial_stack: type[Geometry]) -> None:
    inward = radial_stack.example()
    outward = dataclasses.replace(inward, direction="out")
    r = np.linspace(1e-3, 30e-3, 7)[:, None]
    z = np.linspace(-30e-3, 30e-3, 9)
    one, other = radial_field(inward), radial_field(outward)
    psi = one.flux_function(r, z)
    assert np.abs(psi).max() > 1e-6
    assert np.abs(psi + other.flux_function(r, z)).max() < 1e-6 * np.abs(psi).max()


def test_stranger_goes_all_the_way(radial_stack: type[Geometry]) -> None:
    result = solve(starter(radial_stack.kind))
    assert result.bl_curve.at_rest.value > 0
    assert result.field.residual < 1e-6
    assert result.flux_budget.magnet.value > result.flux_budget.gap.value > 0
