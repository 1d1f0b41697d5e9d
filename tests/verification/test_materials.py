"""Materials against the tables, standards and closed forms they come from.

Sources, each named at its check: SJ/T 10410-2000 and SJ285-77 (sintered ferrite); trade tables of
sintered NdFeB; TEAM workshop problem 20; IEC 60317-0-1 (wire); ASTM B258 (gauge diameters);
IEC 60028 (copper, from memory); demagnetising factor of a cylinder by the Nagaoka coefficient
(computed independently).
"""

from __future__ import annotations

import math

import pytest

from geometries import AXIAL_UP, Gap, Region, Role
from geometries.outlines import rectangle
from motor.design.wire import wire_of_size
from motor.field.solve import solve_field
from motor.field.weak_form import MagnetState
from motor.materials import conductor_named, magnet_named
from motor.results.budget import working_points
from tests.verification.checks import Source, check, outside, transcription

EXACT = 1e-9
"""Table values are copied, not computed."""
DRAWN = 6e-5
"""The printed resistances per metre have four decimals."""
BAND = 0.08
"""Spread of (BH)max between trade tables of one grade."""
LOAD_LINE = 2e-3
"""Measured 3e-4: default mesh, magnet in free space."""

FERRITE = transcription("SJ/T 10410-2000, middle of the band")
NEODYMIUM = transcription("trade table of sintered NdFeB")
SINTERED = outside("trade table of sintered NdFeB, energy products (not read by this project)")
WIRE = transcription("IEC 60317-0-1, largest overall diameter")


@pytest.mark.parametrize(
    ("grade", "source", "remanence", "coercivity"),
    [
        ("Y30", FERRITE, 0.385, 200e3),
        ("Y33", transcription("SJ285-77, typical"), 0.420, 240e3),
        ("N42", NEODYMIUM, 1.315, 955e3),
        ("N48M", NEODYMIUM, 1.395, 1114e3),
        ("N38H", NEODYMIUM, 1.260, 1353e3),
    ],
)
def test_magnets(grade: str, source: Source, remanence: float, coercivity: float) -> None:
    magnet = magnet_named(grade)
    curve = magnet.curve_at(293.15)
    assert curve is not None
    check(f"{grade}, remanence (T)", source, remanence, magnet.remanence, EXACT)
    check(f"{grade}, HcJ (A/m)", source, coercivity, curve.intrinsic_coercivity, EXACT)


@pytest.mark.parametrize(
    ("grade", "source", "low", "high"),
    [
        ("Y30", outside("SJ/T 10410-2000"), 26e3, 30e3),
        ("Y35", outside("SJ285-77"), 30e3, 32e3),
        ("N35", SINTERED, 263e3, 287e3),
        ("N52", SINTERED, 398e3, 422e3),
        ("SmCo26", outside("trade table of samarium-cobalt"), 207e3, 207e3),
    ],
)
def test_energy_products(grade: str, source: Source, low: float, high: float) -> None:
    curve = magnet_named(grade).curve_at(293.15)
    assert curve is not None
    middle, half = (low + high) / 2, (high - low) / (high + low)
    what = f"{grade}, (BH)max of its own curve against the middle of the band (J/m3)"
    check(what, source, middle, curve.energy_product, half + BAND)


@pytest.mark.parametrize(
    ("grade", "degrees", "expected"),
    [("Y30", -40, 0.4312), ("Y30", 105, 0.31955), ("N42", 80, 1.22032)],
)
def test_remanence_at_temperature(grade: str, degrees: float, expected: float) -> None:
    """-0.20 %/K (ferrite) and -0.12 %/K (NdFeB), as published, worked by hand."""
    got = magnet_named(grade).remanence_at(273.15 + degrees)
    what = f"{grade}, remanence at {degrees} degC (T)"
    check(what, transcription("published coefficient, by hand"), expected, got, 1e-6)


@pytest.mark.parametrize(
    ("size", "grade", "overall"),
    [("0.1 mm", 1, 0.117), ("0.315 mm", 1, 0.349), ("0.2 mm", 2, 0.239)],
)
def test_wire_over_enamel(size: str, grade: int, overall: float) -> None:
    got = wire_of_size(size, grade=grade).overall_diameter * 1e3
    check(f"wire {size}, grade {grade}, over the enamel (mm)", WIRE, overall, got, EXACT)


@pytest.mark.parametrize(
    ("size", "material", "ohms", "source"),
    [
        (
            "0.1 mm",
            "copper",
            2.1952,
            transcription("IEC 60028 resistivity, computed independently"),
        ),
        (
            "0.25 mm",
            "copper",
            0.3512,
            transcription("IEC 60028 resistivity, computed independently"),
        ),
        ("0.25 mm", "aluminium", 0.5758, transcription("61 % IACS, computed independently")),
        ("0.25 mm", "cca-15", 0.5254, transcription("rule of mixtures, computed independently")),
        ("AWG 30", "copper", 0.33855, transcription("ASTM B258 diameter, computed independently")),
    ],
)
def test_wire_resistance(size: str, material: str, ohms: float, source: Source) -> None:
    wire = wire_of_size(size, material=material)
    got = conductor_named(material).resistivity / wire.conductor_area
    check(f"{material} wire {size}, resistance (ohm/m)", source, ohms, got, DRAWN, False)


@pytest.mark.parametrize(("ratio", "permeance"), [(1, 2.20948), (2, 1.10753), (4, 0.575875)])
def test_load_line_of_a_disc(ratio: int, permeance: float) -> None:
    """Pc = K/(1 - K) with the Nagaoka coefficient K(D/l); mu_rec = 1."""
    length = 10e-3
    outer = ratio * length / 2
    disc = Region(
        "disc",
        Role.MAGNET,
        tuple(rectangle(0.0, outer, -length / 2, length / 2)),
        magnetisation=AXIAL_UP,
    )
    gap = Gap(1.1 * outer, 1.3 * outer, -length / 4, length / 4)
    magnets = {"disc": MagnetState((0.0, 1.2), 1.0)}
    point = working_points(solve_field([disc], gap, {}, magnets), magnets)[0]
    source = outside("demagnetising factor of a cylinder (Nagaoka coefficient)")
    check(
        f"permeance of a disc, D/l = {ratio}", source, permeance, point.permeance.value, LOAD_LINE
    )
    line = 1.2 / (1 + 1 / permeance)
    check(f"mean B of a disc, D/l = {ratio} (T)", source, line, point.flux_density.value, LOAD_LINE)
    assert math.isclose(
        point.flux_density.value, 1.2 + 4e-7 * math.pi * point.field.value, rel_tol=1e-9
    )
