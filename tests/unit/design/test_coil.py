"""The winding: turns, length, resistance and mass against hand arithmetic and wire tables."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Any

import pytest

from geometries import InvalidInput
from motor.design.coil import Coil
from motor.design.wire import Wire
from motor.results.motor_result import MotorResult, read_off
from tests.unit.design.drawn import drawn_coil

MM = 1e-3
Solved = Callable[[str], MotorResult]
OHM_PER_METRE = {0.100: 2.1952, 0.200: 0.5488, 0.315: 0.2212, 0.500: 0.0878}
GRAM_PER_METRE = {0.100: 0.0698, 0.200: 0.2793, 0.315: 0.6928, 0.500: 1.7455}
OHM_PER_METRE_ALUMINIUM = {0.100: 3.5987, 0.200: 0.8997, 0.315: 0.3627, 0.500: 0.1439}
"""Round wire by bare diameter in mm at 20 degC, copper and electrical grade aluminium."""
PRINTED = 5e-4


def coil(**changes: Any) -> Coil:
    """Return a coil of two layers of 20 turns of 0.3 mm wire on a 25 mm former of 0.1 mm."""
    values: dict[str, Any] = {
        "inner_diameter": 25 * MM,
        "winding_height": 6 * MM,
        "layers": 2,
        "wire": Wire(bare_diameter=0.25 * MM, overall_diameter=0.3 * MM),
        "former_thickness": 0.1 * MM,
    }
    return Coil(**values | changes)


def test_turns_and_sizes_by_hand() -> None:
    one = coil()
    assert one.turns_per_layer == 20
    assert one.turns == 40
    assert one.build_up == pytest.approx(0.6 * MM)
    assert one.inner_radius == pytest.approx(12.6 * MM)
    assert one.outer_radius == pytest.approx(13.2 * MM)
    assert one.mean_radius == pytest.approx(12.9 * MM)
    assert one.wire_length == pytest.approx(2 * math.pi * 12.9 * MM * 40)


@pytest.mark.parametrize(
    ("height", "turns"), [(5.99, 19), (6.0, 20), (6.29, 20), (6.3, 21), (0.3, 1), (0.59, 1)]
)
def test_only_whole_turns_count(height: float, turns: int) -> None:
    assert coil(winding_height=height * MM).turns_per_layer == turns


@pytest.mark.parametrize(
    ("material", "table"), [("copper", OHM_PER_METRE), ("aluminium", OHM_PER_METRE_ALUMINIUM)]
)
@pytest.mark.parametrize("bare", sorted(OHM_PER_METRE))
def test_resistance_per_metre_of_the_wire_table(
    material: str, table: dict[float, float], bare: float
) -> None:
    wire = Wire(material=material, bare_diameter=bare * MM, overall_diameter=1.2 * bare * MM)
    one = coil(wire=wire)
    assert one.resistance() / one.wire_length == pytest.approx(table[bare], rel=PRINTED)


@pytest.mark.parametrize("bare", sorted(GRAM_PER_METRE))
def test_mass_per_metre_of_the_wire_table(bare: float) -> None:
    one = coil(wire=Wire(bare_diameter=bare * MM, overall_diameter=1.2 * bare * MM))
    assert one.mass * 1e3 / one.wire_length == pytest.approx(GRAM_PER_METRE[bare], rel=8e-4)


def test_resistance_rises_with_temperature() -> None:
    one = coil()
    assert one.resistance(293.15) == one.resistance()
    assert one.resistance(393.15) == pytest.approx(one.resistance() * (1 + 0.00393 * 100))
    assert one.resistance(253.15) == pytest.approx(one.resistance() * (1 - 0.00393 * 40))


def test_enamel_adds_mass_but_no_conductor() -> None:
    bare = Wire(bare_diameter=0.3 * MM, overall_diameter=0.3 * MM)
    assert coil(wire=bare).mass_with_enamel == pytest.approx(coil(wire=bare).mass)
    assert coil().mass_with_enamel > coil().mass


def test_twice_the_layers_are_twice_the_turns() -> None:
    assert coil(layers=4).turns == 2 * coil(layers=2).turns
    assert coil(layers=4).build_up == pytest.approx(2 * coil(layers=2).build_up)


def test_outlines_are_winding_and_former() -> None:
    shapes = dict(coil(rest_position=2 * MM, former_below=1 * MM).outlines())
    assert set(shapes) == {"winding", "former"}
    winding, former = shapes["winding"], shapes["former"]
    assert {p[0] for p in winding} == {coil().inner_radius, coil().outer_radius}
    assert sorted({p[1] for p in winding}) == pytest.approx([-1 * MM, 5 * MM])
    assert min(p[1] for p in former) == pytest.approx(-2 * MM)
    assert max(p[1] for p in former) >= 5 * MM
    assert {p[0] for p in former} == {12.5 * MM, coil().inner_radius}


def test_no_former_no_outline() -> None:
    one = coil(former_thickness=0.0)
    assert [name for name, _ in one.outlines()] == ["winding"]
    assert one.inner_radius == one.inner_diameter / 2


LIMITS = {
    "inner_diameter": [1 * MM, 0.6, -1.0, math.nan, math.inf, "25 mm", True, None],
    "winding_height": [0.05 * MM, 0.3, 0.0, math.nan],
    "rest_position": [-0.3, 0.3, math.nan],
    "former_thickness": [-0.1 * MM, 0.2, math.nan],
    "former_below": [-0.1 * MM, math.inf],
    "travel_margin": [-1 * MM, 0.2],
    "layers": [0, 21, -1, 1.5, "2", True, 2.0],
}


@pytest.mark.parametrize(
    ("name", "value"), [(name, value) for name, values in LIMITS.items() for value in values]
)
def test_value_out_of_range_is_refused(name: str, value: Any) -> None:
    with pytest.raises(InvalidInput) as caught:
        coil(**{name: value})
    assert caught.value.field == name
    assert str(caught.value).startswith(f"{name} must be ")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"bare_diameter": 0.0}, "bare_diameter must be between 0.01 mm and 5 mm; received 0 mm"),
        ({"bare_diameter": 6 * MM}, "bare_diameter must be between 0.01 mm and 5 mm; received 6"),
        ({"overall_diameter": 7 * MM}, "overall_diameter must be between 0.01 mm and 6 mm"),
        (
            {"overall_diameter": 0.2 * MM},
            "overall_diameter must be at least bare_diameter, 0.25 mm; received 0.2 mm",
        ),
        ({"material": "copprr"}, "conductor must be a known one (did you mean copper?)"),
    ],
)
def test_wire_that_cannot_be(changes: dict[str, Any], message: str) -> None:
    wire = Wire(bare_diameter=0.25 * MM, overall_diameter=0.3 * MM)
    with pytest.raises(InvalidInput) as caught:
        dataclasses.replace(wire, **changes)
    assert message in str(caught.value)


def test_a_turn_must_fit() -> None:
    with pytest.raises(
        InvalidInput, match=r"winding_height must hold .* 0\.3 mm; received 0\.2 mm"
    ):
        coil(winding_height=0.2 * MM)


def test_a_coil_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        coil().layers = 3  # type: ignore[misc]


def test_two_equal_windings_in_parallel_are_a_quarter_of_the_resistance() -> None:
    """Each holds half the wire, and two of them share the current."""
    series, parallel = drawn_coil(windings=2), drawn_coil(windings=2, connection="parallel")
    assert parallel.resistance() == pytest.approx(series.resistance() / 4)
    assert series.turns_in_series == 80
    assert parallel.turns_in_series == 40
    assert parallel.wire_length == series.wire_length
    four = drawn_coil(windings=4, connection="parallel")
    assert four.resistance() == pytest.approx(series.resistance() / 16)
    assert four.turns_in_series == 20


def test_motor_constant_does_not_depend_on_the_connection(solved: Solved) -> None:
    """The same copper in the same field: Bl^2/R is that of the section, however it is joined."""
    result = solved("outside-magnet")
    own = result.design.coil
    results = [
        read_off(
            result.design.replace(coil=dataclasses.replace(own, windings=2, connection=connection)),
            result.field,
        )
        for connection in ("series", "parallel")
    ]
    series, parallel = results
    assert parallel.motor_constant.value == pytest.approx(series.motor_constant.value)
    assert parallel.bl_curve.at_rest.value == pytest.approx(series.bl_curve.at_rest.value / 2)
    loaded = [r.loaded(1 * MM, 0.2 * n).force.value for r, n in zip(results, (1, 2), strict=True)]
    assert loaded[1] == pytest.approx(loaded[0], rel=1e-6)


def test_enamel_by_hand() -> None:
    """Ring of pi/4 (0.3^2 - 0.25^2) mm^2 = 0.0215984 mm^2 at 1400 kg/m^3: 30.238 mg per metre."""
    one = drawn_coil()
    enamel = (one.mass_with_enamel - one.mass) / one.wire_length
    assert enamel == pytest.approx(30.238e-6, rel=1e-4)


def test_former_by_hand() -> None:
    """A tube of 31.6 and 31.8 mm, 22 mm long, of aluminium (2700 kg/m^3): 591.6 mg."""
    one = drawn_coil(former_material="aluminium", former_below=4 * MM, former_above=6 * MM)
    section = math.pi / 4 * (31.8**2 - 31.6**2)
    assert one.former_mass == pytest.approx(section * 22 * 2700e-9)
    assert one.former_mass == pytest.approx(0.5916e-3, rel=1e-3)
    assert drawn_coil(former_material="").former_mass == 0.0
