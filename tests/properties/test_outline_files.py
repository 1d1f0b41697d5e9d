"""Outlines of any kind: a motor that can be meshed, or an error in a sentence."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeVar

from hypothesis import event, given, settings
from hypothesis import strategies as st

from geometries import Corner, Dimension, DrawnPart, InvalidInput, Outlines, Role, polygon
from geometries.formulas import evaluate
from motor import starter
from motor.base.errors import MeshError
from motor.design.reading import design_from_toml, design_to_toml
from motor.field.meshing import generate
from motor.field.partition import partition

T = TypeVar("T")
TEXT = design_to_toml(starter("outlines"))
MESHES = settings.default.max_examples // 2
TOKENS = st.sampled_from(
    ["a", "b", "1", "0", "-", "+", "*", "/", "**", "(", ")", ",", " ", "sqrt(", "min(", "tan(",
     "9e99", ".", "x", "//", "lambda", "[", "]", "'", "@", ":=", "not ", "if", "\\", "#", "\n"]
)  # fmt: skip


def tried(make: Callable[[], T]) -> T | None:
    """Return what can be made, or None if it is refused in a sentence."""
    try:
        made = make()
    except InvalidInput as error:
        refusal = str(error)
    else:
        event("made")
        return made
    event("refused")
    assert " must " in refusal or "unknown key " in refusal
    assert len(refusal) < 2000
    return None


@given(st.lists(TOKENS, max_size=30).map("".join) | st.text(max_size=30))
def test_any_formula_has_a_finite_value_or_is_refused(text: str) -> None:
    value = tried(lambda: evaluate(text, {"a": 2.0, "b": -0.5}, "x"))
    assert value is None or math.isfinite(value)


@given(st.data())
def test_any_change_of_a_file_gives_a_design_or_is_refused(data: st.DataObject) -> None:
    lines = TEXT.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        k = data.draw(st.integers(0, len(lines) - 1))
        what = data.draw(st.sampled_from(["drop", "double", "swap", "letter"]))
        if what == "drop":
            del lines[k]
        elif what == "double":
            lines.insert(k, lines[k])
        elif what == "swap":
            j = data.draw(st.integers(0, len(lines) - 1))
            lines[k], lines[j] = lines[j], lines[k]
        elif lines[k]:
            j = data.draw(st.integers(0, len(lines[k]) - 1))
            letter = data.draw(st.sampled_from('0129-+*/()[]{}",.= aemz'))
            lines[k] = lines[k][:j] + letter + lines[k][j + 1 :]
    design = tried(lambda: design_from_toml("\n".join(lines)))
    assert design is None or design_from_toml(design_to_toml(design)) == design


COARSE = st.sampled_from([0.0, 1.0, 2.0, 3.0, 5.0, 8.0, 8.0005, 8.000001, 12.0])
NEAR = st.sampled_from([*[0.0] * 12, 1e-9, 1e-6, 4e-4, 6e-4, 1e-3])


@st.composite
def corners(draw: st.DrawFn) -> tuple[Corner, ...]:
    """Return corners that often touch, cross or nearly meet, mm."""
    points = draw(
        st.lists(st.tuples(COARSE, COARSE), min_size=3, max_size=7, unique=draw(st.booleans()))
    )
    if draw(st.sampled_from([True, True, False])):
        points = sorted(set(points), key=lambda p: math.atan2(p[1] - 3.9, p[0] - 4.1))
    cuts = draw(st.sampled_from([[""], [""], ["", "", "round", "chamfer", "through"]]))
    found = []
    for r, z in points:
        at = (r + draw(NEAR), z + draw(NEAR))
        kind = draw(st.sampled_from(cuts))
        size = draw(st.sampled_from([0.1, 0.5, 3.0]))
        if kind == "through":
            found.append(Corner(at, through=(r + size, z + size)))
        else:
            found.append(
                Corner(
                    at,
                    round=size if kind == "round" else 0.0,
                    chamfer=size if kind == "chamfer" else 0.0,
                )
            )
    return tuple(found)


@settings(max_examples=MESHES)
@given(corners(), corners(), st.sampled_from([8.0, 12.0, 13.0, 20.0]))
def test_any_two_parts_are_meshed_or_refused(
    one: tuple[Corner, ...], other: tuple[Corner, ...], lift: float
) -> None:
    geometry = tried(
        lambda: Outlines(
            dimensions=(Dimension("lift", lift * 1e-3),),
            gap_formulas=(14.0, 15.0, -1.0, 1.0),
            parts=(
                DrawnPart("frame", Role.STEEL, _square(16.0, 0.0)),
                DrawnPart("magnet", Role.MAGNET, one, "up"),
                DrawnPart("plate", Role.STEEL, other, move=(0.0, "lift")),
            ),
        )
    )
    if geometry is None:
        return
    try:
        mesh = generate(partition(geometry.regions(), geometry.gap))
    except MeshError:
        event("not meshed")
        return
    for region in geometry.regions():
        assert polygon(region).is_valid
        assert len(mesh.triangles_of(region.name))
    assert len(mesh.label) < 100_000


def _square(r: float, z: float) -> tuple[Corner, ...]:
    return tuple(Corner(p) for p in ((r, z), (r + 1, z), (r + 1, z + 1), (r, z + 1)))
