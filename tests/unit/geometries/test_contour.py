"""Contours: what moves, what stays, and what machining makes of them, by closed forms."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from geometries import Contour, Corner, Dimension, DrawnPart, InvalidInput, Outlines, Role
from geometries.contour import contour_ranges, freed, radius_room, rounded_contour, walls

POLE, TOP = 10.0, 3.0
YOKE = (
    *((0.0, -30.0), (40.0, -30.0), (40.0, -20.0), (POLE, -20.0)),
    *((POLE, -6.0), (POLE, -TOP), (POLE, TOP), (POLE, 8.0), (0.0, 8.0)),
)
"""mm; points 4 to 8 run up the pole."""


def motor(**changes: object) -> Outlines:
    """Return a pole on a back plate, a magnet, a top plate 12 to 40 mm; the pole is solid."""

    def part(name: str, role: Role, points: tuple[tuple[float, float], ...], **more: str):
        return DrawnPart(name, role, tuple(Corner(p) for p in points), **more)

    plates = {"magnet": (-20.0, -TOP, 20.0), "top_plate": (-TOP, TOP, 12.0)}
    boxes = {
        name: ((r, low), (40.0, low), (40.0, high), (r, high))
        for name, (low, high, r) in plates.items()
    }
    given = {
        "gap_formulas": ("pole", "pole + 2", -TOP, TOP),
        "dimensions": (Dimension("pole", POLE * 1e-3),),
        "parts": (
            part("yoke", Role.STEEL, YOKE),
            part("magnet", Role.MAGNET, boxes["magnet"], magnetisation="up"),
            part("top_plate", Role.STEEL, boxes["top_plate"]),
        ),
    }
    return Outlines(**(given | changes))


def contour(*points: int, reach: float = 2e-3, **more: object) -> Contour:
    return Contour("yoke", points, reach, **more)


def test_points_get_dimensions_of_their_own_and_move_by_them() -> None:
    free = freed(motor(), contour(5, 6))
    plain = [dataclasses.replace(region, kept=()) for region in free.regions()]
    assert plain == list(motor().regions())
    outline = {(round(r, 9), round(z, 9)) for r, z in free.regions()[0].outline}
    kept = {(POLE * 1e-3, z * 1e-3) for z in (-6.0, -TOP, TOP)}
    assert outline - set(plain[0].outline) == kept, "points 5 and 6, and 7, a corner once 6 moves"
    names = ["yoke_5_r", "yoke_5_z", "yoke_6_r", "yoke_6_z"]
    assert [d.name for d in free.dimensions] == ["pole", *names]
    assert freed(free, contour(5, 6)) == free
    moved = free.changed({"yoke_5_r": -1e-3, "yoke_6_z": 5e-4})
    before, after = (np.array(g.regions()[0].outline) for g in (free, moved))
    shift = np.zeros_like(before)
    shift[4, 0], shift[5, 1] = -1e-3, 5e-4
    assert after == pytest.approx(before + shift, abs=1e-12)


def test_they_stay_on_their_side_of_the_gap_and_off_the_axis() -> None:
    ranges = contour_ranges(freed(motor(), contour(5, reach=20e-3)), contour(5, reach=20e-3))
    assert ranges["yoke_5_z"] == (-20e-3, 20e-3)
    low, high = ranges["yoke_5_r"]
    assert high == 0.0
    assert -POLE * 1e-3 < low < -0.8 * POLE * 1e-3
    plate = Contour("top_plate", (4,), 1e-3)
    assert contour_ranges(freed(motor(), plate), plate)["top_plate_4_r"] == (0.0, 1e-3)


def test_square_cuts_keep_neighbours_in_line() -> None:
    """Points 5 and 6 stand between 4 and 7, above one another: only their heights are free."""
    free = freed(motor(), contour(5, 6, square=True))
    assert [d.name for d in free.dimensions] == ["pole", "yoke_5_z", "yoke_6_z"]
    stepped = list(YOKE)
    stepped[4:6] = [(POLE, -6.0), (8.0, -6.0), (8.0, -TOP), (POLE, -TOP)]
    parts = motor().parts
    yoke = dataclasses.replace(parts[0], outline=tuple(Corner(p) for p in stepped))
    step = motor(parts=(yoke, *parts[1:]))
    free = freed(step, contour(5, 6, 7, 8, square=True))
    assert [d.name for d in free.dimensions[1:]] == ["yoke_5_z", "yoke_6_r", "yoke_7_z"]
    moved = free.changed({"yoke_5_z": -1e-3, "yoke_6_r": 1e-3})
    wanted = np.array([(POLE, -7.0), (9.0, -7.0), (9.0, -TOP), (POLE, -TOP)]) * 1e-3
    assert np.array(moved.regions()[0].outline[4:8]) == pytest.approx(wanted)


def test_a_radius_takes_its_legs_from_the_cuts() -> None:
    """A corner of 90 degrees takes its radius from either cut: 8 turns up into the top."""
    radius, shortest = 1.5e-3, 0.05e-3
    room = radius_room(motor(), contour(7, 8, least_radius=radius))
    wanted = [2 * TOP * 1e-3, 5e-3 - radius, POLE * 1e-3 - radius]
    assert room == pytest.approx(np.array(wanted) - shortest)
    sharp = freed(motor(), contour(7, 8)).changed({"yoke_8_z": 4e-3, "yoke_8_r": -8e-3})
    leg = radius * abs(math.tan((math.pi - (math.atan(2 / 4) + math.atan(8 / 9))) / 2))
    room = radius_room(sharp, contour(7, 8, least_radius=radius))
    assert room[2] == pytest.approx(math.hypot(2e-3, 4e-3) - leg - shortest)


def test_walls_are_measured_through_the_part() -> None:
    """The top plate is 28 mm wide at its bore and 6 mm thick beside it; a pole is solid."""
    plate = Contour("top_plate", (1,), 1e-3, least_wall=1e-3)
    assert walls(motor(), plate) == pytest.approx(np.array([[28e-3] * 3, [6e-3] * 3]))
    assert np.isinf(walls(motor(), contour(6))).all()


def test_corners_that_turn_get_the_radius() -> None:
    free = freed(motor(), contour(5, 6)).changed({"yoke_5_r": -1e-3})
    cut = rounded_contour(free, contour(5, 6, least_radius=0.4e-3))
    rounds = [c.round for c in cut.parts[0].outline]
    assert rounds == [0.0] * 4 + [0.4, 0.4] + [0.0] * 3
    assert len(cut.regions()[0].outline) > len(free.regions()[0].outline)
    straight = rounded_contour(motor(), contour(5, 6, least_radius=0.4e-3))
    assert straight == motor()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (Contour("pole", (5,), 1e-3), "yoke, magnet, top_plate"),
        (contour(5, 7), "follow one another along yoke, 6 after 5"),
        (contour(12), "lie among the 9 of yoke"),
        (contour(3), "touches magnet"),
        (contour(4, square=True), "leave something to move"),
        (contour(5, 6, 7, 8, 9, 1, 2, 3), "leave two"),
    ],
)
def test_what_cannot_move_is_told(asked: Contour, words: str) -> None:
    with pytest.raises(InvalidInput, match=words):
        freed(motor(), asked)


def test_slanted_cuts_are_not_square() -> None:
    moved = freed(motor(), contour(5, 6)).changed({"yoke_5_r": -1e-3})
    with pytest.raises(InvalidInput, match="4 and 5"):
        freed(moved, contour(5, 6, square=True))


@pytest.mark.parametrize("wrong", [{"reach": 0.0}, {"least_radius": -1e-3}, {"least_wall": -1e-3}])
def test_a_contour_without_sense_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InvalidInput):
        contour(5, **wrong)
    with pytest.raises(InvalidInput, match="1 to 12"):
        contour()
