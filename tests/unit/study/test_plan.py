"""Parameters by name, axes, rules: which designs a plan consists of, and how it fails."""

from __future__ import annotations

import dataclasses
import functools
import math

import numpy as np
import pytest

import motor
from geometries import outer_size
from motor.base.errors import InvalidInput
from motor.study.parameters import Draft, known_parameters, parameter_named
from motor.study.plan import Plan, hypercube, paired, span, values
from motor.study.rules import (
    keep_clearance,
    keep_envelope,
    keep_overhang,
    keep_plate_load,
    keep_resistance,
    keep_resonance,
    keep_shape,
    tie,
)
from tests.unit.study.plans import PLATE, ferrite, neodymium


def test_grid_has_every_combination_the_last_axis_fastest():
    plan = Plan(
        ferrite(),
        (values("coil.winding_height", ["10 mm", "12 mm"]), values("materials.magnet", ["Y30"])),
    )
    found = [point.values for point in plan.points()]
    assert found == [
        {"coil.winding_height": 0.010, "materials.magnet": "Y30"},
        {"coil.winding_height": 0.012, "materials.magnet": "Y30"},
    ]
    assert len(plan) == 2
    assert [p.design.coil.winding_height for p in plan.points() if p.design] == [0.010, 0.012]


def test_pairs_stay_together():
    axis = paired({"coil.winding_height": ["10 mm", "12 mm"], "coil.layers": [2, 4]})
    assert axis.rows == (("10 mm", 2), ("12 mm", 4))


def test_hypercube_has_one_design_in_every_slice_and_repeats():
    ranges = {"coil.winding_height": (8e-3, 16e-3), "coil.rest_position": (-1e-3, 1e-3)}
    axis = hypercube(ranges, 20, seed=3)
    assert axis == hypercube(ranges, 20, seed=3)
    assert axis != hypercube(ranges, 20, seed=4)
    for (low, high), column in zip(ranges.values(), zip(*axis.rows, strict=True), strict=True):
        slices = sorted(math.floor(20 * (v - low) / (high - low)) for v in column)
        assert slices == list(range(20))


def test_every_number_of_the_design_can_be_changed_by_name():
    for base in (ferrite(), neodymium()):
        draft = Draft(base)
        for name, parameter in known_parameters(base).items():
            if parameter.kind != "text" and draft.get(name) is not None:
                assert draft.having({name: draft.get(name)}).get(name) == draft.get(name)
        built = draft.having({"factors.stiffness": 1.1, "temperature": 300.0}).design()
        assert built.moving_parts is not None
        assert base.moving_parts is not None
        ratio = built.moving_parts.stiffness_at_rest / base.moving_parts.stiffness_at_rest
        assert ratio == pytest.approx(1.1, rel=1e-9)
        assert built.temperature == 300.0


def test_wire_by_size_and_factors_of_scatter():
    built = Draft(ferrite()).having({"coil.wire.size": "0.28 mm"}).design()
    assert getattr(built.coil.wire, "bare_diameter", 0) == pytest.approx(0.28e-3)
    weak = Draft(ferrite()).having({"factors.remanence": 0.9, "factors.steel": 0.95}).design()
    strong = ferrite().materials
    assert weak.materials.magnet_of("magnet").remanence == pytest.approx(
        0.9 * strong.magnet_of("magnet").remanence
    )
    before, after = (m.steel_of("yoke").curve() for m in (strong, weak.materials))
    b = np.array([1.2])
    assert after.field_and_slope(0.95 * b)[0] == pytest.approx(
        before.field_and_slope(b)[0], rel=2e-2
    )


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("geometry.gap_dept", "geometry.gap_depth"),
        ("coil.windingheight", "coil.winding_height"),
        ("material.magnet", "materials.magnet"),
    ],
)
def test_unknown_parameter_suggests_the_near_one(name: str, hint: str):
    with pytest.raises(InvalidInput, match=r"parameter must .*did you mean.*" + hint):
        parameter_named(ferrite(), name)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: values("coil.layers", []), "coil.layers must take at least one value"),
        (lambda: span("coil.winding_height", 9e-3, 8e-3, 3), "must end above its start"),
        (lambda: span("coil.winding_height", 8e-3, 8e-3, 3), "must end above its start"),
        (lambda: span("coil.winding_height", 8e-3, 9e-3, 1), "must be a whole number"),
        (lambda: hypercube({"coil.winding_height": (2.0, 1.0)}, 3), "must end above its start"),
        (lambda: hypercube({"coil.winding_height": (1.0, 2.0)}, 0), "at least 1"),
        (lambda: paired({"a": [1], "b": [1, 2]}), "must be of equal number; received 1 for a"),
        (
            lambda: Plan(ferrite(), (values("coil.layers", [2]), values("coil.layers", [4]))),
            "must name each parameter once",
        ),
        (lambda: Plan(ferrite(), (values("coil.layers", ["2 mm"]),)), "must be a whole number"),
        (lambda: Plan(ferrite(), (values("coil.winding_height", ["2 K"]),)), "wrong kind"),
        (lambda: Plan(ferrite(), (values("coil.winding_height", [math.nan]),)), "finite"),
        (lambda: Plan(ferrite(), (values("materials.magnet", [3]),)), "must be text"),
    ],
)
def test_bad_axes_are_refused(make, words: str):
    with pytest.raises(InvalidInput, match=words):
        make()


def test_a_design_that_cannot_be_built_becomes_a_point_with_its_reason():
    points = list(Plan(ferrite(), (values("geometry.gap_width", ["1.65 mm", "0.7 mm"]),)).points())
    assert points[0].design is not None
    assert points[1].design is None
    assert "clear" in points[1].error


def swept(base, rules, changes):
    return Plan(base, (), tuple(rules)).build(changes)


@pytest.mark.parametrize("base", [ferrite(), neodymium()], ids=["outside", "inside"])
@pytest.mark.parametrize("height", [8e-3, 11.3e-3, 18e-3])
def test_wire_keeps_the_resistance_exactly(base, height: float):
    built = swept(base, [keep_resistance, keep_clearance], {"coil.winding_height": height})
    assert built.coil.resistance() == pytest.approx(base.coil.resistance(), rel=1e-9)
    share = [c.wire.bare_diameter / c.wire.overall_diameter for c in (base.coil, built.coil)]
    assert share[1] == pytest.approx(share[0], abs=0.03)
    four = swept(base, [functools.partial(keep_resistance, resistance=3.0), keep_clearance], {})
    assert four.coil.resistance() == pytest.approx(3.0, rel=1e-9)


@pytest.mark.parametrize("connection", ["series", "parallel"])
@pytest.mark.parametrize("own", [False, True])
def test_resistance_is_kept_of_a_coil_in_parts(connection, own):
    base = motor.starter("two-gap")
    wire = dataclasses.replace(base.coil.wire, bare_diameter=0.17e-3, overall_diameter=0.19e-3)
    parts = tuple(dataclasses.replace(p, wire=wire if own else None) for p in base.coil.parts)
    base = base.replace(coil=dataclasses.replace(base.coil, parts=parts, connection=connection))
    taller = {"coil.winding_height": 0.8 * base.coil.winding_height}
    built = swept(base, [keep_resistance], taller).coil
    assert built.resistance() == pytest.approx(base.coil.resistance(), rel=1e-9)
    old, new = (
        [(w.bare_diameter, w.overall_diameter) for one in coil.each for w in (one.wire,)]
        for coil in (base.coil, built)
    )
    for side in (0, 1):  # all in one ratio
        ratio = [b[side] / a[side] for a, b in zip(old, new, strict=True)]
        assert ratio == pytest.approx([ratio[0]] * len(ratio))
        assert ratio[0] != pytest.approx(1)
    assert new[0][0] / new[0][1] == pytest.approx(old[0][0] / old[0][1], abs=0.04)
    half = functools.partial(keep_resistance, resistance=base.coil.resistance() / 2)
    assert swept(base, [half], {}).coil.resistance() == pytest.approx(base.coil.resistance() / 2)


@pytest.mark.parametrize("base", [ferrite(), neodymium()], ids=["outside", "inside"])
def test_clearance_is_kept_when_the_coil_changes(base):
    changes = {"coil.inner_diameter": 36e-3, "coil.wire.overall_diameter": 0.3e-3}
    built = swept(base, [keep_clearance, keep_shape], changes)
    for side in ("inner", "outer"):
        wanted = getattr(base.clearance, side)
        assert getattr(built.clearance, side) == pytest.approx(wanted, abs=2e-9)


@pytest.mark.parametrize("base", [ferrite(), neodymium()], ids=["outside", "inside"])
def test_envelope_is_kept(base):
    key = "gap_depth" if base.geometry.kind == "outside-magnet" else "pole_plate_thickness"
    ties = {
        "gap_depth": PLATE,
        "pole_plate_thickness": tie("geometry.lip_height", "geometry.pole_plate_thickness"),
    }
    rules = [ties[key], keep_clearance, keep_shape, keep_plate_load, keep_envelope]
    built = swept(base, rules, {f"geometry.{key}": 5e-3, "coil.inner_diameter": 33e-3})
    assert outer_size(built.regions) == pytest.approx(outer_size(base.regions), abs=3e-9)
    assert built.geometry.gap.depth == pytest.approx(5e-3)


def test_plate_load_follows_the_gap_depth():
    """A gap half as deep again carries half as much flux again: so thick the plate, not 1/1.5."""
    base = ferrite()
    depth = base.geometry.gap.depth
    built = swept(base, [PLATE, keep_plate_load], {"geometry.gap_depth": 1.5 * depth})
    thickness = base.geometry.back_plate_thickness
    assert built.geometry.back_plate_thickness == pytest.approx(1.5 * thickness)


def test_overhang_and_resonance_are_kept():
    base = ferrite()
    built = swept(base, [PLATE, keep_overhang, keep_resonance], {"geometry.gap_depth": 5e-3})
    assert built.overhang == pytest.approx(base.overhang)
    assert built.moving_parts is not None
    assert base.moving_parts is not None
    before, after = (
        d.moving_parts.stiffness_at_rest / d.moving_parts.moving_mass(d.coil) for d in (base, built)
    )
    assert after == pytest.approx(before, rel=1e-12)
    assert built.coil.mass != base.coil.mass
