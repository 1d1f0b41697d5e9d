"""Wire: sizes of the series, resistance per metre, flat wire, double coils, choice of wire."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest

from geometries import InvalidInput
from motor.design.coil import Coil
from motor.design.reading import design_from_toml, design_to_toml
from motor.design.starters import starter
from motor.design.wire import FlatWire, Wire, round_sizes, wire_of_size
from motor.design.wire_choice import nearest_wires
from motor.materials import conductor_named
from motor.results.motor_result import solve
from tests.unit.design.drawn import drawn_coil

MM = 1e-3
# Resistance per metre, copper at 20 degC, 1.7241e-8 ohm m (IEC 60028): computed independently.
METRIC = {"0.1 mm": 2.1952, "0.16 mm": 0.8575, "0.224 mm": 0.4375, "0.5 mm": 0.0878}
# ASTM B258 diameters: computed independently.
GAUGE = {24: (0.51056, 0.08421), 30: (0.25464, 0.33855), 36: (0.12700, 1.36102)}


def per_metre(wire: Wire) -> float:
    return conductor_named(wire.material).resistivity / wire.conductor_area


@pytest.mark.parametrize(("size", "ohms"), METRIC.items())
def test_metric_resistance_per_metre(size: str, ohms: float) -> None:
    assert per_metre(wire_of_size(size)) == pytest.approx(ohms, abs=6e-5)


@pytest.mark.parametrize(("gauge", "values"), GAUGE.items())
def test_gauge_diameter_and_resistance(gauge: int, values: tuple[float, float]) -> None:
    wire = wire_of_size(f"AWG {gauge}")
    assert wire.bare_diameter * 1e3 == pytest.approx(values[0], abs=6e-6)
    assert per_metre(wire) == pytest.approx(values[1], rel=2e-4)


@pytest.mark.parametrize(
    ("size", "grade", "overall"),
    [("0.1 mm", 1, 0.117), ("0.1 mm", 2, 0.125), ("0.315 mm", 1, 0.349), ("0.25 mm", 2, 0.297)],
)
def test_overall_diameter_of_the_series(size: str, grade: int, overall: float) -> None:
    """IEC 60317-0-1, largest overall diameters."""
    assert wire_of_size(size, grade=grade).overall_diameter == pytest.approx(overall * 1e-3)


@pytest.mark.parametrize("series", ["metric", "awg"])
@pytest.mark.parametrize("grade", [1, 2])
def test_series_rise_and_enamel_adds(series: str, grade: int) -> None:
    sizes = sorted(round_sizes(series, grade).values())
    assert all(a < b for (_, a), (_, b) in itertools.pairwise(sizes))
    assert all(1.0 < overall / bare < 1.6 for bare, overall in sizes)


@pytest.mark.parametrize("size", ["0.23 mm", "AWG 99", "AWG", "thin", ""])
def test_a_size_that_does_not_exist_is_refused(size: str) -> None:
    with pytest.raises(InvalidInput, match="size must be a size of the series"):
        wire_of_size(size)


def test_near_sizes_are_named() -> None:
    with pytest.raises(InvalidInput, match=r"0\.224 mm.*0\.236 mm|0\.236 mm.*0\.224 mm"):
        wire_of_size("0.23 mm")


def test_clad_wire_lies_between_its_metals() -> None:
    """15 % copper by volume: 0.1299 ohm/m more than copper of the same size (rule of mixtures)."""
    r = {
        m: per_metre(wire_of_size("0.25 mm", material=m))
        for m in ("copper", "cca-15", "cca-10", "aluminium")
    }
    assert r["copper"] < r["cca-15"] < r["cca-10"] < r["aluminium"]
    assert r["cca-15"] == pytest.approx(0.5254, abs=6e-5)


def flat_coil() -> Coil:
    wire = FlatWire(thickness=0.1e-3, width=0.6e-3, insulation=0.02e-3)
    return Coil(inner_diameter=30e-3, winding_height=12e-3, layers=1, wire=wire)


def test_flat_wire_fills_better_than_round() -> None:
    flat = flat_coil()
    assert flat.turns == 100
    assert flat.build_up == pytest.approx(0.62e-3)
    assert flat.fill_factor == pytest.approx(100 * 0.06 / (12 * 0.62))
    length = math.pi * 30.62e-3 * 100
    assert flat.resistance() == pytest.approx(1.7241e-8 * length / 0.06e-6)
    turn = 0.31e-3
    thick = Wire(bare_diameter=0.28e-3, overall_diameter=turn)
    round_coil = Coil(inner_diameter=30e-3, winding_height=12e-3, layers=2, wire=thick)
    assert round_coil.fill_factor < flat.fill_factor


def test_windings_in_parallel() -> None:
    """Two windings in parallel: a quarter of the resistance, half of the turns."""
    single = starter("outside-magnet").coil
    double = dataclasses.replace(single, windings=2, connection="parallel")
    assert double.resistance() == pytest.approx(single.resistance() / 4)
    assert double.turns_in_series == single.turns / 2
    assert double.mass == single.mass
    series = dataclasses.replace(single, windings=2)
    assert series.resistance() == single.resistance()
    assert series.turns_in_series == single.turns


def test_motor_constant_does_not_depend_on_the_connection() -> None:

    design = starter("outside-magnet")
    double = dataclasses.replace(design.coil, windings=2, connection="parallel")
    one, two = solve(design), solve(design.replace(coil=double))
    assert two.bl_curve.at_rest.value == pytest.approx(one.bl_curve.at_rest.value / 2)
    assert two.motor_constant.value == pytest.approx(one.motor_constant.value)


@pytest.mark.parametrize("series", ["metric", "awg"])
def test_the_nearest_wire_is_the_nearest(series: str) -> None:
    design = starter("outside-magnet")
    wanted = 4.2
    found = nearest_wires(design, wanted, series=series)
    every = nearest_wires(design, wanted, series=series, count=1000)
    errors = [abs(choice.coil.resistance() - wanted) for choice in every]
    assert errors == sorted(errors)
    assert found == every[:5]
    assert found[0].coil.layers == design.coil.layers
    assert found[0].coil.winding_height == design.coil.winding_height


def test_wire_that_does_not_fit_is_marked() -> None:
    choices = nearest_wires(starter("outside-magnet"), 0.2, count=3)
    assert not any(choice.fits for choice in choices)


def test_the_thinnest_wire_of_a_size_can_be_chosen() -> None:
    """IEC 60317-0-1, from memory: 0.2 mm of grade 1 from 0.200 - 0.003 + 0.014 to 0.226 mm."""
    thin, thick = (wire_of_size("0.2 mm", overall=name) for name in ("least", "greatest"))
    assert (thin.overall_diameter, thick.overall_diameter) == pytest.approx((0.211e-3, 0.226e-3))
    assert thin.bare_diameter == thick.bare_diameter
    for grade in (1, 2):
        least, greatest = (round_sizes("metric", grade, name) for name in ("least", "greatest"))
        assert list(least) == list(greatest)
        assert all(bare < over < greatest[k][1] for k, (bare, over) in least.items())
    text = design_to_toml(starter("outside-magnet"))
    head, tail = text.split("[coil.wire]")
    rest = tail.split("\n\n", 1)
    after = "\n\n" + rest[1] if len(rest) > 1 else ""
    chosen = '[coil.wire]\nsize = "0.2 mm"\noverall = "least"\n'
    assert design_from_toml(head + chosen + after).coil.wire == thin
    wide, narrow = (
        nearest_wires(starter("outside-magnet"), 4.2, overall=name)[0].coil.wire.build
        for name in ("greatest", "least")
    )
    assert narrow < wide
    with pytest.raises(InvalidInput, match="overall must be greatest for gauge sizes"):
        wire_of_size("AWG 32", overall="least")
    with pytest.raises(InvalidInput, match="overall must be greatest or least"):
        wire_of_size("0.2 mm", overall="thin")


@pytest.mark.parametrize("ohms", [0.0, -1.0, math.nan])
def test_impossible_resistance_is_refused(ohms: float) -> None:
    with pytest.raises(InvalidInput, match="resistance must be greater than 0 ohm"):
        nearest_wires(starter("outside-magnet"), ohms)


def test_flat_wire_stands_on_edge() -> None:
    """A conductor of 0.2 x 0.8 mm in 0.03 mm of enamel: 0.23 mm along the coil, 0.83 mm across."""
    wire = FlatWire(thickness=0.2 * MM, width=0.8 * MM, insulation=0.03 * MM)
    one = drawn_coil(wire=wire, layers=1, winding_height=11.5 * MM)
    assert one.turns == 50
    assert one.build_up == pytest.approx(0.83 * MM)
    assert wire.conductor_area == pytest.approx(0.16e-6)
    assert wire.overall_area == pytest.approx(0.1909e-6)


@pytest.mark.parametrize(("gauge", "bare"), [(20, 0.8118), (30, 0.2546), (36, 0.1270)])
def test_gauge_diameters_are_the_published_ones(gauge: int, bare: float) -> None:
    """Diameters in mm as ASTM B258 prints them."""
    assert wire_of_size(f"AWG {gauge}").bare_diameter == pytest.approx(bare * MM, rel=3e-4)


@pytest.mark.parametrize(
    ("size", "grade", "bare", "overall"),
    [
        ("0.224 mm", 1, 0.224, 0.252),
        ("0.224 mm", 2, 0.224, 0.266),
        ("AWG 20", 1, 0.8118, 0.8611),
        ("AWG 20", 2, 0.8118, 0.8915),
    ],
)
def test_enamelled_wire_is_as_wide_as_the_standard_says(
    size: str, grade: int, bare: float, overall: float
) -> None:
    """Largest overall diameters of IEC 60317-0-1 and NEMA MW 1000, in mm."""
    wire = wire_of_size(size, grade=grade)
    assert wire.bare_diameter == pytest.approx(bare * MM, rel=1e-4)
    assert wire.overall_diameter == pytest.approx(overall * MM, rel=1e-9)
