"""Motors drawn as outlines: equal to built-in ones, with dimensions, arcs, and clear errors."""

from __future__ import annotations

import dataclasses
import itertools
import math
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from shapely import Polygon

import motor
from geometries import Corner, Dimension, DrawnPart, InvalidInput, Outlines, Role, polygon
from geometries.arcs import arc_through
from geometries.formulas import evaluate
from motor.design.reading import design_from_toml, design_to_toml
from motor.results.motor_result import MotorResult, solve
from motor.study.parameters import Draft, known_parameters
from tests.unit.geometries.drawn_twins import DRAWN, twin
from tests.unit.geometries.geometry_checks import check_mesh

SQUARE = ((1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0))


def drawn(*corners: Any, formulas: dict[str, Any] | None = None, **dimensions: float) -> Outlines:
    """Return a magnet of given corners in mm, and one around it with a gap at 30 mm."""
    return Outlines(
        dimensions=tuple(Dimension(k, v) for k, v in dimensions.items()),
        formulas=tuple((formulas or {}).items()),
        gap_formulas=(30.0, 31.0, -1.0, 1.0),
        parts=(
            DrawnPart(
                "magnet",
                Role.MAGNET,
                tuple(c if isinstance(c, Corner) else Corner(c) for c in corners),
                "up",
            ),
            DrawnPart(
                "outer",
                Role.MAGNET,
                tuple(Corner(p) for p in ((32.0, -1.0), (33.0, -1.0), (33.0, 1.0))),
                "up",
            ),
        ),
    )


@pytest.mark.parametrize("kind", DRAWN)
def test_a_built_in_motor_drawn_again_has_the_same_outlines_and_results(
    kind: str, solved: Callable[[str], MotorResult]
) -> None:
    ours, theirs = twin(kind), motor.starter(kind)
    assert [r.name for r in ours.regions] == [r.name for r in theirs.regions]
    for mine, other in zip(ours.regions, theirs.regions, strict=True):
        assert mine.outline == other.outline
        assert mine.magnetisation == pytest.approx(other.magnetisation, abs=1e-15)
    assert ours.geometry.gap == theirs.geometry.gap
    one, two = (
        {k: v for k, v in result.summary().items() if isinstance(v, float)}
        for result in (solve(ours), solved(kind))
    )
    assert len(two) > 60
    assert one == pytest.approx(two, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("kind", DRAWN)
def test_dimensions_change_under_dotted_names(kind: str) -> None:
    ours, theirs = twin(kind), motor.starter(kind)
    for name in ("magnet_outer_diameter", "magnet_thickness"):
        key = f"geometry.{name}"
        value = Draft(theirs).get(key) + 0.5e-3
        assert Draft(ours).get(key) == Draft(theirs).get(key)
        assert known_parameters(ours)[key] == known_parameters(theirs)[key]
        changed = Draft(ours, {key: value}).design()
        assert changed.regions[1].outline == Draft(theirs, {key: value}).design().regions[1].outline
        assert design_from_toml(design_to_toml(changed)) == changed


def test_heights_count_from_the_middle_of_the_gap() -> None:
    ours = twin("outside-magnet").geometry
    assert isinstance(ours, Outlines)
    moved = dataclasses.replace(
        ours,
        formulas=(*ours.formulas[:2], ("top", "gap_depth / 2 + 7"), ("low", "top - gap_depth")),
        gap_formulas=("pole", "bore", "low", "top"),
        parts=tuple(
            dataclasses.replace(
                part,
                outline=tuple(
                    Corner((c.at[0], z if (z := _lifted(c.at[1])) else c.at[1]))
                    for c in part.outline
                ),
            )
            for part in ours.parts
        ),
    )
    assert moved.gap == ours.gap
    assert [r.outline for r in moved.regions()] == [r.outline for r in ours.regions()]


def _lifted(formula: Any) -> str:
    """Return a height of the outside twin in the drawing that lies 7 mm higher."""
    return {
        "-top": "low",
        "face": "low - magnet_thickness",
        "under": "low - magnet_thickness - back_plate_thickness",
    }.get(formula, "")


def test_arc_keeps_within_its_tolerance_on_either_side() -> None:
    for end in ((0.0, 10.0), (0.0, -10.0)):
        middle = (10 / math.sqrt(2), math.copysign(10 / math.sqrt(2), end[1]))
        points = [(10.0, 0.0), *arc_through((10.0, 0.0), middle, end, 0.01)]
        assert points[-1] == end
        assert all(math.hypot(*p) == pytest.approx(10.0, abs=1e-12) for p in points)
        sides = [math.dist(a, b) for a, b in itertools.pairwise(points)]
        sagitta = 10 - math.sqrt(100 - max(sides) ** 2 / 4)
        assert 0.003 < sagitta <= 0.01
        assert max(sides) == pytest.approx(min(sides))
    assert arc_through((0.0, 0.0), (1.0, 1.0), (3.0, 3.0)) == [(3.0, 3.0)]


def test_rounding_and_chamfer_take_their_areas_off() -> None:
    plain = polygon(drawn(*[(10 * r, 10 * z) for r, z in SQUARE]).regions()[0]).area
    corners = [Corner((10 * r, 10 * z)) for r, z in SQUARE]
    cut = dataclasses.replace(corners[1], chamfer=2.0)
    area = polygon(drawn(corners[0], cut, *corners[2:]).regions()[0]).area
    assert plain - area == pytest.approx(2e-6, rel=1e-9)
    turned = dataclasses.replace(corners[1], round="size / 2")
    area = polygon(drawn(corners[0], turned, *corners[2:], size=4e-3).regions()[0]).area
    # the sides are chords, so they take off a little more than the circle does
    assert 0 <= plain - area - (4 - math.pi) * 1e-6 < 0.01e-3 * math.pi * 1e-3


def test_half_a_disc_drawn_with_an_arc() -> None:
    motor_ = drawn((0.0, -5.0), Corner((0.0, 5.0), through=(5.0, 0.0)))
    area = Polygon(motor_.regions()[0].outline).area
    assert area == pytest.approx(math.pi * 25e-6 / 2, rel=3e-3)
    check_mesh(motor_)


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("2 * a - b / 4", 5.5),
        ("-(a + 1)**2", -16.0),
        ("sqrt(a*3) + abs(-b) + min(a, b) + max(a, b)", 3 + 2 + 2 + 3),
        ("10 * sin(30) + cos(60) + tan(45)", 6.5),
        ("+a", 3.0),
        (" a ", 3.0),
        (7.0, 7.0),
    ],
)
def test_formula(formula: Any, value: float) -> None:
    assert evaluate(formula, {"a": 3.0, "b": 2.0}, "x") == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        ("a / (a - 3)", "not divide by zero"),
        ("c + 1", "use only names defined above it"),
        ("a.real", "be plain arithmetic"),
        ("__import__('os')", "call only sqrt"),
        ("(lambda: 1)()", "be plain arithmetic"),
        ("a if a else 1", "be plain arithmetic"),
        ("'text'", "be plain arithmetic"),
        ("True", "be plain arithmetic"),
        ("[a][0]", "be plain arithmetic"),
        ("a // 2", "be plain arithmetic"),
        ("9 ** 9 ** 9 ** 9", "have a value"),
        ("(-a) ** 0.5", "have a finite value"),
        ("1e999", "have a finite value"),
        ("sqrt(-1)", "have a value"),
        ("sqrt()", "have a value"),
        ("sqrt(*a)", "be plain arithmetic"),
        ("a +", "be plain arithmetic"),
        ("", "be plain arithmetic"),
        ("(" * 1_000_000 + "1" + ")" * 1_000_000, "be plain arithmetic"),
        ("(" * 90 + "1" + ")" * 90, None),
        ("-" * 100 + "1", "be plain arithmetic"),
        ("\0", "be plain arithmetic"),
    ],
)
def test_formula_that_is_refused(formula: str, words: str | None) -> None:
    if words is None:
        assert evaluate(formula, {}, "x") == 1.0
        return
    with pytest.raises(InvalidInput, match=r"formula .* of yoke, point 3, r must") as caught:
        evaluate(formula, {"a": 3.0}, "yoke, point 3, r")
    assert words in str(caught.value)
    assert len(str(caught.value)) < 600


def star(count: int) -> list[tuple[float, float]]:
    """Return a wavy outline of so many points."""
    angles = [2 * math.pi * k / count for k in range(count)]
    return [
        (15 + (5 + math.cos(40 * t)) * math.cos(t), (5 + math.cos(40 * t)) * math.sin(t))
        for t in angles
    ]


BAD = {
    "crosses itself": ([(1, 0), (2, 1), (2, 0), (1, 1)], "magnet must have an outline that does"),
    "touches itself": (
        [(1, 0), (3, 0), (3, 2), (2, 0), (1, 2)],
        "magnet must have an outline that does not cross",
    ),
    "no area": ([(1, 0), (2, 0), (3, 0)], "magnet must have a thickness"),
    "a sliver": ([(1, 0), (2, 0), (2, 1e-5), (1, 1e-5)], "magnet must touch edges or keep"),
    "a neck": (
        [(1, 0), (5, 0), (5, 4), (3.00005, 4), (3.00005, 1), (3, 1), (3, 4), (1, 4)],
        "magnet must touch edges or keep",
    ),
    "beyond the axis": ([(-1, 0), (2, 0), (2, 1)], "magnet must stay at radii of 0 or more"),
    "too many points": (star(10_000), "the drawing must have at most 2000 points"),
    "closed on the axis only": ([(0, 0), (0, 1), (0, 2)], "magnet must have a thickness"),
    "far out": ([(1, 0), (2000, 0), (2, 1)], r"magnet, point 2, r must be within 1000 mm"),
    "round too large": (
        [(1, 0), Corner((2, 0), round=1.5), (2, 1), (1, 1)],
        "magnet, point 2 must be cut by less",
    ),
    "two rounds too large": (
        [(1, 0), Corner((2, 0), round=0.6), Corner((2, 1), round=0.6), (1, 1)],
        "magnet, point 2 must leave its edge of 1 mm room",
    ),
    "round before an arc": (
        [(1, 0), Corner((2, 0), round=0.1), Corner((2, 1), through=(2.2, 0.5)), (1, 1)],
        "magnet, point 2 must join straight edges",
    ),
    "round on a straight edge": (
        [(1, 0), Corner((1.5, 0), round=0.1), (2, 0), (2, 1)],
        "magnet, point 2 must be a corner",
    ),
    "the same point twice, rounded": (
        [(1, 0), Corner((2, 0), round=0.1), (2, 0), (2, 1)],
        "magnet, point 2 must be a corner",
    ),
    "no number": (
        [(1, "size - 2 * size / 0"), (2, 0), (2, 1)],
        "of magnet, point 1, z must not divide by zero",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_meshed_is_refused_with_its_place(name: str) -> None:
    corners, words = BAD[name]
    with pytest.raises(InvalidInput, match=words) as caught:
        drawn(*corners, size=1e-3)
    assert len(str(caught.value)) < 1000


def test_gap_away_from_all_parts_is_refused() -> None:
    far = dataclasses.replace(drawn(*SQUARE), rings=())
    with pytest.raises(InvalidInput, match="the gap must lie among the parts"):
        dataclasses.replace(far, gap_formulas=(40.0, 41.0, -1.0, 1.0))
    with pytest.raises(InvalidInput, match="the gap must lie among the parts"):
        dataclasses.replace(far, gap_formulas=(-2.0, 0.5, -1.0, 1.0))
    with pytest.raises(InvalidInput, match="the gap must be at least"):
        dataclasses.replace(far, gap_formulas=(30.0, 29.0, -1.0, 1.0))


def test_clockwise_and_repeated_points_are_the_same_part() -> None:
    one = drawn(*SQUARE)
    other = drawn(*SQUARE[::-1], SQUARE[0])
    assert polygon(one.regions()[0]).equals(polygon(other.regions()[0]))


def test_many_points_are_meshed() -> None:
    check_mesh(drawn(*star(400)))


@pytest.mark.parametrize("name", ["parts", "sin", "9lives", "Pole", "a-b", "x" * 100])
def test_names_that_cannot_stand_in_a_formula(name: str) -> None:
    with pytest.raises(InvalidInput, match="the name of a dimension or formula must"):
        Dimension(name, 1e-3)
    with pytest.raises(InvalidInput, match="the name of a dimension or formula must"):
        drawn(*SQUARE, formulas={name: "1"})


def test_name_for_two_things_is_refused() -> None:
    with pytest.raises(InvalidInput, match="size must be defined once"):
        drawn(*SQUARE, size=1e-3, formulas={"size": "1"})


def test_formula_that_uses_itself_is_refused() -> None:
    with pytest.raises(InvalidInput, match=r"formula 'b \+ 1' of a must use only names defined"):
        drawn(*SQUARE, formulas={"a": "b + 1", "b": "a + 1"})


def test_a_drawing_is_read_in_ten_milliseconds() -> None:
    count = 12
    parts = tuple(
        DrawnPart(
            f"p{k}",
            Role.MAGNET if k == 0 else Role.STEEL,
            tuple(
                Corner((f"{r!r} * size + {k} - {k}", f"{z!r} * size + {20 * k}"))
                for r, z in star(13)
            ),
            "up" if k == 0 else "",
        )
        for k in range(count)
    )
    took = []
    for turn in range(5):
        start = time.process_time()
        Outlines(
            dimensions=(Dimension("size", 1.0 + 1e-6 * turn, "number"),),
            gap_formulas=(8.0, 9.0, 20.0, 21.0),
            parts=parts,
        )
        took.append(time.process_time() - start)
    assert min(took) < 0.010


def test_drawings_show_the_dimensions_that_a_file_marks(tmp_path: Path) -> None:
    design = motor.starter("outlines")
    (span,) = design.geometry.marked
    assert (span.what, span.axial) == ("tip height", pytest.approx(4e-3))
    higher = Draft(design, {"geometry.tip_height": 5e-3}).design()
    assert ">tip height 4<" in design._repr_svg_()
    assert ">tip height 5<" in higher._repr_svg_()
    found = []
    for drawn_ in (design, design.replace(geometry=_unmarked(design.geometry))):
        motor.write_dxf(drawn_, tmp_path / "a.dxf")
        doc = ezdxf.readfile(tmp_path / "a.dxf")
        found.append([d.get_measurement() for d in doc.modelspace().query("DIMENSION")])
    assert sorted(found[0]) == pytest.approx(sorted([*found[1], 4.0]))


def _unmarked(geometry: Any) -> Outlines:
    bare = tuple(dataclasses.replace(d, ends=None) for d in geometry.dimensions)
    return dataclasses.replace(geometry, dimensions=bare)


def test_a_mark_spans_its_dimension_or_half_a_diameter() -> None:
    for ends in (((0.0, 1.0), (4.0, 1.0)), ((1.0, 1.0), (1.0, 9.0))):
        across = Dimension("size", 8e-3, ends=ends)
        assert dataclasses.replace(drawn(*SQUARE), dimensions=(across,)).marked
    short = Dimension("size", 8e-3, ends=((1.0, 1.0), (5.0, 1.0)))
    with pytest.raises(InvalidInput, match=r"size, from and to must span its 8 mm; .* 4 mm"):
        dataclasses.replace(drawn(*SQUARE), dimensions=(short,))
    with pytest.raises(InvalidInput, match="size must be a length to be drawn"):
        Dimension("size", 1.0, "angle", ends=((1.0, 1.0), (5.0, 1.0)))
