"""Coils beside conductors: inductance and resistance that eddy currents add, in closed form.

Sources: a coil of rectangular section around an infinite rod and above a half space, integrals
with modified Bessel and Bessel functions (C. V. Dodd and W. E. Deeds, Analytical solutions to
eddy-current probe-coil problems, J. Appl. Phys. 39, 1968, 2829-2838; derived here anew and
integrated numerically); a thin ring as the shorted turn of a transformer, its inductances from
the integrals of ``test_coils.py``.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.special import ive, j1, kve

from geometries import Gap, Region
from motor.base.arrays import Floats
from motor.base.constants import MU0
from motor.field.eddy_currents import Harmonic, resolved
from motor.field.field import FieldOnMesh
from motor.field.meshing import Sizing
from motor.materials import LinearSteel
from motor.results.at_coil import fine_at_coil
from motor.results.loaded import carried, coil_load
from tests.verification.cases import MM, field_level, millimetre_box, winding
from tests.verification.checks import Source, check, outside
from tests.verification.test_coils import coil_of, mutual, self_inductance

ROD_SOURCE = outside("coil around a rod (Dodd and Deeds 1968, derived anew)")
PLATE_SOURCE = outside("coil above a half space (Dodd and Deeds 1968, derived anew)")
RING_SOURCE = outside("shorted turn: (w M)^2 / (R + i w L)")

SECTION = (6.0, 7.0, 4.0)
"""Inner and outer radius and height of the coil in mm."""
LIFT = 0.5
"""Its distance above the plate, mm."""
COPPER = 58e6
STEEL = 7e6
"""Conductivities in S/m."""
SIZING = Sizing(at_gap=0.15, away=0.02, growth=0.2, largest=0.05)
ALONG = Sizing(at_gap=0.3, away=0.015, growth=0.25, largest=0.02)
"""Finer along the permeable rod, which leads the flux far from the coil."""

LONG = 250.0
"""Half the length of that rod, mm."""
PLATE_RADIUS = 120.0
"""Of the disc that stands for the half space, mm; it is half as thick."""
COPPER_TOLERANCE = (2e-4, 2e-4)
"""Of inductance and resistance; measured 2e-5 and 1.7e-4 at 20 kHz, 1e-5 below."""
STEEL_ROD = {20.0: (2e-3, 1e-2), 500.0: (2e-4, 1e-3), 10000.0: (1e-3, 1e-3)}
"""At 20 Hz the ends count: 0.4 % and 3.6 % less with a rod of 150 mm, 0.1 % and 0.8 % with 250 mm.
Measured 8e-5 and 3e-4 at 500 Hz; 9e-4 and 3e-4 at 10 kHz, where the skin is 0.2 mm deep."""
STEEL_PLATE = (3e-4, 2e-3)
"""Measured 1e-4 and, at 20 Hz, where the rim counts (0.5 % with a disc of 80 mm), 1.6e-3."""
RING = (1e-3, 1e-3)
"""Measured 4e-4 and 9e-5: the ring's section is 2 % of its radius, its current not uniform."""


def material(permeability: float) -> LinearSteel:
    return LinearSteel("linear", 7800.0, "test", relative_permeability=permeability)


def nodes(edges: Floats, order: int = 12) -> tuple[Floats, Floats]:
    """Return Gauss points and weights over all intervals between the edges."""
    x, w = np.polynomial.legendre.leggauss(order)
    half = np.diff(edges)[:, None] / 2
    return (edges[:-1, None] + half * (1 + x)).ravel(), (half * w).ravel()


def rod_change(
    radius: float, permeability: float, conductivity: float, frequency: float
) -> complex:
    """Return what an infinite rod adds to the coil's inductance per turn squared, H."""
    inner, outer, height = (v * MM for v in SECTION)
    k, weight = nodes(np.geomspace(1e-3, 4e4, 400))
    q = np.sqrt(k**2 + 2j * np.pi * frequency * MU0 * permeability * conductivity)
    wall = q / permeability * ive(0, q * radius) / ive(1, q * radius)
    a = k * radius
    part = (k * ive(0, a) - wall * ive(1, a)) / (k * kve(0, a) + wall * kve(1, a))
    r, w = nodes(np.linspace(inner, outer, 4))
    reach = (w * r * kve(1, np.outer(k, r)) * np.exp(-np.outer(k, r - radius))).sum(axis=1)
    along = (np.sin(k * height / 2) / (k / 2)) ** 2
    section = (outer - inner) * height
    return complex(2 * MU0 / section**2 * (weight @ (part * reach**2 * along)))


def plate_change(permeability: float, conductivity: float, frequency: float) -> complex:
    """Return what a half space adds to the inductance of the coil above it, H per turn squared."""
    inner, outer, height = (v * MM for v in SECTION)
    k, weight = nodes(np.linspace(1e-3, 50 / (LIFT * MM), 4000), 6)
    q = np.sqrt(k**2 + 2j * np.pi * frequency * MU0 * permeability * conductivity)
    part = (permeability * k - q) / (permeability * k + q)
    r, w = nodes(np.linspace(inner, outer, 41))
    radial = (w * r * j1(np.outer(k, r))).sum(axis=1)
    axial = -np.exp(-k * LIFT * MM) * np.expm1(-k * height) / k
    section = (outer - inner) * height
    return complex(np.pi * MU0 / section**2 * (weight @ (part * (radial * axial) ** 2)))


def ring_change(radius: float, side: float, lift: float, frequency: float) -> complex:
    """Return what a thin ring adds to the inductance of the coil, H per turn squared."""
    inner, outer, height = (v * MM for v in SECTION)
    r, w = nodes(np.array([inner, outer]))
    z, v = nodes(np.array([-height / 2, height / 2]))
    share = np.outer(w, v) / ((outer - inner) * height)
    common = sum(
        share[i, k] * mutual(float(r[i]), radius, lift + float(z[k]))
        for i, k in itertools.product(range(len(r)), range(len(z)))
    )
    a, b = radius - side / 2, radius + side / 2
    resistance = 2 * math.pi / (COPPER * side * math.log(b / a))
    omega = 2 * math.pi * frequency
    own = self_inductance(a, b, side)
    return complex(-1j * omega * common**2 / (resistance + 1j * omega * own))


def computed_change(
    body: Region,
    permeability: float,
    conductivity: float,
    frequency: float,
    sizing: Sizing = SIZING,
) -> complex:
    """Return the same by finite elements: with the body less without it, on one mesh."""
    inner, outer, height = SECTION
    coil = coil_of(inner * MM, outer * MM, height * MM)
    gap = Gap(inner * MM, outer * MM, -height / 2 * MM, height / 2 * MM)
    own = winding("coil", millimetre_box(inner, outer, -height / 2, height / 2))
    steels = {body.name: material(permeability).curve()}
    about = field_level([own, body], gap, steels, sizing=sizing, solve=False)

    def load_on(level: FieldOnMesh) -> Floats:
        return coil_load(level, coil, 0.0, 1.0)[:, None]

    near = (outer - inner) * MM
    mesh = fine_at_coil(about.system.mesh, coil, np.zeros(1), near)
    conductivities = {body.name: conductivity}
    finest = resolved(carried(about, mesh), conductivities, frequency)
    load = load_on(finest.level)
    bare = Harmonic(finest.level.system.mesh, {}, {}, {}, about)
    change = finest.potentials(frequency, load) - bare.potentials(0.0, load)
    return complex(2 * math.pi * (load.T @ change).item())


def both_parts(
    what: str,
    source: Source,
    frequency: float,
    expected: complex,
    got: complex,
    tolerances: tuple[float, float],
) -> None:
    """Check the change of the inductance and the resistance, per turn squared."""
    in_phase, lossy = tolerances
    check(f"{what}, change of inductance (H)", source, expected.real, got.real, in_phase)
    omega = 2 * math.pi * frequency
    what = f"{what}, resistance (ohm)"
    check(what, source, -omega * expected.imag, -omega * got.imag, lossy)


@pytest.mark.parametrize("frequency", [50.0, 1000.0, 20000.0])
def test_copper_rod(frequency: float) -> None:
    rod = winding("rod", millimetre_box(0, 5, -60, 60))
    expected = rod_change(5 * MM, 1, COPPER, frequency)
    got = computed_change(rod, 1, COPPER, frequency)
    what = f"coil around a copper rod at {frequency:g} Hz"
    both_parts(what, ROD_SOURCE, frequency, expected, got, COPPER_TOLERANCE)


@pytest.mark.parametrize(("frequency", "tolerances"), STEEL_ROD.items())
def test_permeable_rod(frequency: float, tolerances: tuple[float, float]) -> None:
    rod = winding("rod", millimetre_box(0, 5, -LONG, LONG))
    expected = rod_change(5 * MM, 100, STEEL, frequency)
    got = computed_change(rod, 100, STEEL, frequency, ALONG)
    what = f"coil around a steel rod of permeability 100 at {frequency:g} Hz"
    both_parts(what, ROD_SOURCE, frequency, expected, got, tolerances)


@pytest.mark.parametrize(
    ("name", "permeability", "conductivity", "frequency", "tolerances"),
    [
        ("copper", 1.0, COPPER, 50.0, COPPER_TOLERANCE),
        ("copper", 1.0, COPPER, 1000.0, COPPER_TOLERANCE),
        ("copper", 1.0, COPPER, 20000.0, COPPER_TOLERANCE),
        ("steel of permeability 100", 100.0, STEEL, 20.0, STEEL_PLATE),
        ("steel of permeability 100", 100.0, STEEL, 500.0, STEEL_PLATE),
        ("steel of permeability 100", 100.0, STEEL, 10000.0, STEEL_PLATE),
    ],
)
def test_plate(
    name: str,
    permeability: float,
    conductivity: float,
    frequency: float,
    tolerances: tuple[float, float],
) -> None:
    radius, top = PLATE_RADIUS, -SECTION[2] / 2 - LIFT
    plate = winding("plate", millimetre_box(0, radius, top - radius / 2, top))
    expected = plate_change(permeability, conductivity, frequency)
    got = computed_change(plate, permeability, conductivity, frequency)
    what = f"coil above a plate of {name} at {frequency:g} Hz"
    both_parts(what, PLATE_SOURCE, frequency, expected, got, tolerances)


@pytest.mark.parametrize("frequency", [1000.0, 20000.0])
def test_ring(frequency: float) -> None:
    expected = ring_change(10 * MM, 0.2 * MM, 3 * MM, frequency)
    ring = winding("ring", millimetre_box(9.9, 10.1, -3.1, -2.9))
    got = computed_change(ring, 1, COPPER, frequency)
    what = f"coil with a thin copper ring at {frequency:g} Hz"
    both_parts(what, RING_SOURCE, frequency, expected, got, RING)
