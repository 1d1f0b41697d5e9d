"""Whatever comes in, what comes out is a result or one of the program's own errors.

``HYPOTHESIS_PROFILE=many`` tries thousands of cases.
"""

from __future__ import annotations

import contextlib
import dataclasses
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from geometries import Geometry, InvalidInput, Ring, UnknownKey, free_gap, polygon, registered
from motor import starter
from motor.base.errors import MotorError
from motor.base.units import UNITS, format_quantity, parse_quantity
from motor.design.coil import Coil
from motor.design.design import Design, Materials
from motor.design.reading import design_from_toml, design_to_toml, read_design
from motor.design.wire import Wire
from motor.results.motor_result import MotorResult, solve
from tests.unit.geometries.options import FIXED as KINDS
from tests.unit.geometries.options import off_options, switched_on

STARTERS = [design_to_toml(starter(kind), comments=True) for kind in registered()]
SOLVES = settings.default.max_examples // 4
"""Random motors that are solved: 25 unless many are asked for."""


def read_or_refused(text: str) -> Design | InvalidInput:
    """Return what a design file's text gives; any other error goes up and fails the test."""
    try:
        return design_from_toml(text)
    except InvalidInput as error:
        return error


def check_outcome(text: str) -> None:
    """Assert that a text is a design that writes and reads back, or is refused in a sentence."""
    outcome = read_or_refused(text)
    if isinstance(outcome, Design):
        event("design")
        assert design_from_toml(design_to_toml(outcome)) == outcome
    else:
        event("refused")
        if isinstance(outcome, UnknownKey):
            assert f"unknown key {outcome.field} ({outcome.must})" in str(outcome)
        else:
            assert f"{outcome.field} must {outcome.must}; received " in str(outcome)
        assert outcome.must


# text


@given(st.text() | st.binary().map(lambda b: b.decode("latin-1")))
def test_any_text(text: str) -> None:
    check_outcome(text)


@given(data=st.binary(max_size=300))
def test_any_bytes(data: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(data)
    with pytest.raises(InvalidInput, match=" must "):
        read_design(Path(path))


TOML_VALUES = st.one_of(
    st.integers(-(10**20), 10**20).map(str),
    st.floats().map(repr),
    st.sampled_from(["true", "false", "[]", "{}", '""', "1979-05-27", "[[]]", '{mm = "8"}']),
    st.text(max_size=8).map(json.dumps),
    st.builds(
        lambda number, unit: json.dumps(f"{number:.6g} {unit}"),
        st.floats(-50, 200) | st.floats(),
        st.sampled_from(["mm", "m", "um", "degC", "kelvin", "g", "furlong", "mm**2", "", "A"]),
    ),
)


@st.composite
def mutated_starters(draw: st.DrawFn) -> str:
    """Return a starter file with some values, lines or characters changed."""
    lines = draw(st.sampled_from(STARTERS)).splitlines()
    for _ in range(draw(st.integers(1, 4))):
        i = draw(st.integers(0, len(lines) - 1))
        what = draw(st.sampled_from(["value", "drop", "double", "uncomment", "characters"]))
        line = lines[i]
        if what == "value" and " = " in line:
            lines[i] = line.lstrip("# ").split(" = ")[0] + " = " + draw(TOML_VALUES)
        elif what == "drop" and len(lines) > 1:
            del lines[i]
        elif what == "double":
            lines.insert(draw(st.integers(0, len(lines))), line)
        elif what == "uncomment":
            lines[i] = line.lstrip("# ")
        elif what == "characters":
            k = draw(st.integers(0, len(line)))
            lines[i] = line[:k] + draw(st.text(max_size=3)) + line[k + draw(st.integers(0, 3)) :]
    return "\n".join(lines)


@given(mutated_starters())
def test_mutated_starter(text: str) -> None:
    check_outcome(text)


@given(
    st.sampled_from(sorted(UNITS)),
    st.floats(allow_nan=False, allow_infinity=False, min_value=-1e9, max_value=1e9),
)
def test_any_quantity_reads_back_the_same(kind: str, value: float) -> None:
    assert parse_quantity(format_quantity(value, kind), kind, "field") == value


QUANTITY_LIKE = st.builds(
    "{}{}{}".format,
    st.floats().map(repr) | st.integers().map(str),
    st.sampled_from(["", " ", "  "]),
    st.sampled_from(["mm", "degC", "g", "m**2", "N/mm", "kg/s", "A", "ohm", "T", "s", "mm*m/m"]),
)


@given(st.text(max_size=20) | QUANTITY_LIKE, st.sampled_from(sorted(UNITS)))
def test_any_text_as_a_quantity(text: str, kind: str) -> None:
    try:
        value = parse_quantity(text, kind, "field")
    except InvalidInput:
        event("refused")
    else:
        event("read")
        assert math.isfinite(value)


# shapes

MICROMETRE = 1e-6
OPTIONS = {kind: [name for k, name in off_options() if k == kind] for kind in KINDS}
NEARNESS = (0.0, 1e-18, 1e-12, 1e-9, 1e-8, 1e-7, MICROMETRE, 1e-5, 1e-4)


@st.composite
def dimensions(draw: st.DrawFn, kind: str, spread: float) -> dict[str, Any]:
    """Return the example's dimensions with options on, some changed, some nearly equal.

    ``spread`` is the largest factor between a dimension and that of the example.
    """
    example = registered()[kind].example()
    for name in draw(st.lists(st.sampled_from(OPTIONS[kind]), max_size=3, unique=True)):
        option = switched_on(kind, name)
        changed = {
            f.name: getattr(option, f.name)
            for f in dataclasses.fields(option)
            if getattr(option, f.name) != getattr(registered()[kind].example(), f.name)
        }
        with contextlib.suppress(InvalidInput):
            example = dataclasses.replace(example, **changed)
    scale = draw(st.sampled_from([1.0, 1.0, 0.4, 2.5]))
    values = {
        f.name: value * scale if isinstance(value := getattr(example, f.name), float) else value
        for f in dataclasses.fields(example)
    }
    lengths = [name for name, value in values.items() if isinstance(value, float) and value > 0]
    for name in draw(st.lists(st.sampled_from(lengths), max_size=4, unique=True)):
        values[name] *= spread ** draw(st.floats(-1, 1))
    for _ in range(draw(st.sampled_from([0, 0, 1, 2]))):
        one, other = draw(st.sampled_from(lengths)), draw(st.sampled_from(lengths))
        off = draw(st.sampled_from(NEARNESS)) * draw(st.sampled_from([-1, 1]))
        values[one] = abs(values[other] + off)
    return values


def built_or_refused(kind: str, values: dict[str, Any]) -> Geometry | InvalidInput:
    """Return the geometry of some dimensions, or the error that refuses them."""
    try:
        return registered()[kind](**values)
    except InvalidInput as error:
        return error


@given(st.data(), st.sampled_from(KINDS), st.sampled_from([1.1, 2.0, 30.0, 1e4]))
def test_any_dimensions(data: st.DataObject, kind: str, spread: float) -> None:
    values = data.draw(dimensions(kind, spread))
    geometry = built_or_refused(kind, values)
    if isinstance(geometry, InvalidInput):
        event("refused")
        assert " must " in str(geometry)
        return
    event("built")
    regions, gap = geometry.regions(), geometry.gap
    assert gap.width > 0
    assert gap.depth > 0
    for region in regions:
        assert polygon(region).is_valid
        assert polygon(region).area > 0
    inner, outer = free_gap(regions, gap)
    assert gap.inner_radius <= inner < outer <= gap.outer_radius
    assert "nan" not in geometry._repr_svg_()


@st.composite
def motors(draw: st.DrawFn) -> tuple[str, dict[str, Any], dict[str, Any]]:
    """Return kind and dimensions of a motor, and of a coil as shares of its gap."""
    kind = draw(st.sampled_from(KINDS))
    values = draw(dimensions(kind, draw(st.sampled_from([1.15, 1.15, 1.5, 3.0]))))
    share = st.floats(0.02, 0.98)
    coil = {
        "clearance": draw(share),
        "former": draw(st.floats(0.0, 0.2)),
        "layers": draw(st.integers(1, 4)),
        "height": draw(st.floats(0.05, 3.0)),
        "rest": draw(st.sampled_from([0.0, 0.0, 0.4, -0.4])),
        "sleeve": draw(st.sampled_from([0.0, 0.0, 0.1, 0.3])),
        "temperature": draw(st.floats(220.0, 450.0)),
        "magnet": draw(st.sampled_from(["Y25", "Y35", "N35", "N52"])),
        "steel": draw(st.sampled_from(["low-carbon-a", "low-carbon-b"])),
    }
    return kind, values, coil


def built_design(kind: str, values: dict[str, Any], shares: dict[str, Any]) -> Design:
    """Return a design with a coil that takes up some of the gap's free width."""
    geometry = registered()[kind](**values)
    if shares["sleeve"] > 0:
        gap = geometry.gap
        sleeve = Ring(
            name="sleeve",
            inner_diameter=2 * gap.inner_radius,
            outer_diameter=2 * (gap.inner_radius + shares["sleeve"] * gap.width),
            bottom=gap.bottom,
            height=gap.depth,
        )
        geometry = dataclasses.replace(geometry, rings=(sleeve,))
    inner, outer = free_gap(geometry.regions(), geometry.gap)
    width = outer - inner
    former = shares["former"] * width
    room = (width - former) * (1 - shares["clearance"])
    overall = room / shares["layers"]
    coil = Coil(
        inner_diameter=2 * inner + shares["clearance"] * (width - former),
        former_thickness=former,
        layers=shares["layers"],
        wire=Wire(bare_diameter=0.9 * overall, overall_diameter=overall),
        winding_height=max(shares["height"] * geometry.gap.depth, 1.01 * overall),
        rest_position=shares["rest"] * geometry.gap.depth,
    )
    return Design(
        geometry=geometry,
        materials=Materials(magnet=shares["magnet"], steel=shares["steel"]),
        coil=coil,
        temperature=shares["temperature"],
    )


def solved_or_failed(design: Design) -> MotorResult | MotorError:
    """Return the result, or the error that a run may end with."""
    try:
        return solve(design)
    except MotorError as error:
        return error


def check_result(result: MotorResult) -> None:
    """Assert that a result is one: converged, finite, and consistent with itself."""
    assert result.field.residual <= 1e-7
    record = json.loads(json.dumps(result.summary(), allow_nan=False))
    assert record["converged"] is True
    curve = result.bl_curve
    assert np.isfinite(curve.bl).all()
    assert (curve.uncertainty >= 0).all()
    assert curve.at_rest.value >= 0
    assert curve.peak.value >= curve.at_rest.value * (1 - 1e-9)
    assert record["turns"] >= 1
    assert record["usable_stroke_mm"] is None or record["usable_stroke_mm"] >= 0
    for key, value in record.items():
        if "uncertainty" in key:
            assert value is None or value >= 0, key
    assert all(
        0 <= load.mean.value <= load.peak.value * (1 + 1e-9) < 10 for load in result.steel_loads
    )
    assert design_from_toml(design_to_toml(result.design)) == result.design


@settings(max_examples=SOLVES)
@given(motors())
def test_any_motor(motor: tuple[str, dict[str, Any], dict[str, Any]]) -> None:
    try:
        design = built_design(*motor)
    except InvalidInput as error:
        event("refused")
        assert error.must  # noqa: PT017
        return
    outcome = solved_or_failed(design)
    event(type(outcome).__name__)
    if isinstance(outcome, MotorResult):
        check_result(outcome)
    else:
        assert str(outcome)
