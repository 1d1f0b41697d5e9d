"""Quantities with units: what they are in SI, and what is refused."""

from __future__ import annotations

import pytest

from geometries import InvalidInput
from motor.base import units
from motor.base.units import COMMON, UNITS, format_quantity, parse_quantity

DEFINITIONS = [
    ("8 mm", "length", 0.008),
    ("8mm", "length", 0.008),
    (" 8  mm ", "length", 0.008),
    ("-0.35 mm", "length", -0.00035),
    ("+.5 cm", "length", 0.005),
    ("1e-3 m", "length", 0.001),
    ("8. mm", "length", 0.008),
    ("1 in", "length", 0.0254),
    ("1 inch", "length", 0.0254),
    ("1 foot", "length", 0.3048),
    ("5 µm", "length", 5e-6),
    ("5 μm", "length", 5e-6),
    ("20 degC", "temperature", 293.15),
    ("-40 degC", "temperature", 233.15),
    ("-40 degF", "temperature", 233.15),
    ("300 kelvin", "temperature", 300.0),
    ("300 K", "temperature", 300.0),
    ("12 g", "mass", 0.012),
    ("1 lb", "mass", 0.45359237),
    ("133 cm**2", "area", 0.0133),
    ("133 cm^2", "area", 0.0133),
    ("1.2 N/mm", "stiffness", 1200.0),
    ("1.2 N / mm", "stiffness", 1200.0),
    ("1 kg/s", "mechanical_resistance", 1.0),
    ("1 N*s/m", "mechanical_resistance", 1.0),
    ("5 A", "current", 5.0),
    ("250 mA", "current", 0.25),
    ("4 ohm", "resistance", 4.0),
    ("385 mT", "flux_density", 0.385),
]
"""Values by the definitions of the units; 1 in = 25.4 mm and 1 lb = 0.45359237 kg exactly."""


@pytest.mark.parametrize(("text", "kind", "value"), DEFINITIONS)
def test_quantity_in_si(text: str, kind: str, value: float) -> None:
    assert parse_quantity(text, kind, "field") == pytest.approx(value, rel=1e-14, abs=0)


@pytest.mark.parametrize("kind", UNITS)
@pytest.mark.parametrize("value", [1.0, 0.1, 1 / 3, 1e-9, 123456.789, 2.5e-5, 0.0, 273.15, 7e12])
def test_written_quantity_reads_back_the_same_float(kind: str, value: float) -> None:
    text = format_quantity(value, kind)
    assert parse_quantity(text, kind, "field") == value
    assert text.split(" ")[1] in UNITS[kind]


@pytest.mark.parametrize("value", [-0.00035, -1e-6])
def test_negative_lengths_read_back(value: float) -> None:
    assert parse_quantity(format_quantity(value, "length"), "length", "field") == value


def test_written_quantity_is_short() -> None:
    assert format_quantity(0.0016, "length") == "1.6 mm"
    assert format_quantity(233.15, "temperature") == "-40 degC"
    assert format_quantity(0.1 + 0.2, "mass") != "300 g"


REFUSED = [
    (8, "length", "a bare number without a unit"),
    (8.0, "length", "a bare number without a unit"),
    (None, "length", "NoneType"),
    (["8 mm"], "length", "list"),
    ("8", "length", "no unit"),
    ("mm", "length", "'mm'"),
    ("", "length", "''"),
    ("8 mm mm", "length", "unknown unit"),
    ("8 kg", "length", "wrong kind of unit 'kg'"),
    ("8 degC", "length", "wrong kind of unit 'degC'"),
    ("8 mm", "temperature", "wrong kind of unit 'mm'"),
    ("8 mm", "area", "wrong kind of unit 'mm'"),
    ("8 mm**3", "area", "wrong kind of unit"),
    ("8 bogus", "length", "unknown unit 'bogus'"),
    ("8 mm; import os", "length", "unknown unit"),
    ("8 mm**9999999", "length", "unknown unit"),
    ("8 mm**mm", "length", "unknown unit"),
    ("1e999 mm", "length", "'1e999 mm'"),
    ("inf mm", "length", "'inf mm'"),
    ("nan mm", "length", "'nan mm'"),
    ("0x10 mm", "length", "unknown unit"),
    ("1_000 mm", "length", "unknown unit"),
]


@pytest.mark.parametrize(("text", "kind", "problem"), REFUSED)
def test_refused_quantity_names_field_and_problem(text: object, kind: str, problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_quantity(text, kind, "gap_width")
    message = str(caught.value)
    article = {"area": "an", "acceleration": "an"}.get(kind, "a")
    assert message.startswith(f"gap_width must be {article} {kind} with its unit, such as ")
    assert problem in message.split("; received ")[1]
    assert caught.value.field == "gap_width"


@pytest.mark.parametrize(("kind", "unit"), COMMON)
def test_common_units_are_those_of_the_library(
    kind: str, unit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    numbers = [-273.15, -40.0, -1e-3, 0.0, 0.1, 0.3, 1.65, 7.0, 13.0, 120.5, 1234.5678, 2.5e7]
    texts = [f"{number!r} {unit}" for number in numbers]
    quick = [parse_quantity(text, kind, "x") for text in texts]
    with monkeypatch.context() as patch:
        patch.setattr(units, "COMMON", {})
        library = [parse_quantity(text, kind, "x") for text in texts]
    assert quick == library
