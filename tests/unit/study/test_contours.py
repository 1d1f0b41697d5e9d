"""Contours of a target search: read, refused, and their machining among its requirements."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from geometries import Contour, InvalidInput, Outlines
from geometries.redrawn import divided, redrawn
from motor.cli import main
from motor.design.design import Design
from motor.design.reading import design_to_toml, read_design
from motor.study import descending, processes
from motor.study.bench import _machining_slopes
from motor.study.contours import free_contours, machining, machining_pieces
from motor.study.evaluate import Around
from motor.study.parameters import Draft
from motor.study.problem import Problem
from motor.study.processes import Here
from motor.study.slopes import SHARE, sides_of
from motor.study.study_file import StudyFile, read_study
from motor.study.target import Target
from tests.unit.study.plans import DESIGNS

HEAD = f'design = "{DESIGNS / "door_woofer_ferrite.toml"}"\n[target]\nbl_least = "5 T*m"\n'
GIVEN = {
    "part": '"yoke"',
    "along": "[5, 6]",
    "count": "3",
    "reach": '"2 mm"',
    "least_radius": '"0.3 mm"',
    "least_wall": '"3 mm"',
}


def asked(tmp_path: Path, head: str = HEAD, **changes: str | None) -> StudyFile:
    lines = [f"{k} = {v}" for k, v in (GIVEN | changes).items() if v is not None]
    path = tmp_path / "study.toml"
    path.write_text("\n".join([head, "[[contour]]", *lines]), encoding="utf-8")
    return read_study(path)


def test_any_motor_gets_new_points_on_an_edge(tmp_path: Path) -> None:
    """The ferrite woofer's pole from 18 mm below to 7 mm above the gap: 3 points divide 25 mm."""
    study = asked(tmp_path)
    assert study.problem is not None
    names = [f"geometry.yoke_{k}_{axis}" for k in (6, 7, 8) for axis in "rz"]
    assert list(study.problem.free) == names
    assert study.problem.free["geometry.yoke_6_r"] == (-2e-3, 0.0)
    yoke = study.design.regions[0].outline
    assert [z for _, z in yoke[5:8]] == pytest.approx([-11.75e-3, -5.5e-3, 0.75e-3])
    before = read_design(DESIGNS / "door_woofer_ferrite.toml")
    assert [r.outline for r in redrawn(before.geometry).regions()] == [
        r.outline for r in before.regions
    ]


def test_a_moved_contour_is_a_design_file_like_any_other(tmp_path: Path) -> None:
    study = asked(tmp_path)
    assert study.problem is not None
    moved = study.problem.plan.build({"geometry.yoke_7_r": -1.5e-3, "geometry.yoke_8_z": 1e-3})
    path = tmp_path / "moved.toml"
    path.write_text(design_to_toml(moved), encoding="utf-8")
    again = read_design(path)
    assert isinstance(again.geometry, Outlines)
    cleaned = [r.outline for r in again.regions]
    assert np.array(cleaned[0]) == pytest.approx(np.array(moved.regions[0].outline), abs=2e-9)
    assert sum(c.round == 0.3 for c in again.geometry.parts[0].outline) == 3


def test_machining_is_required_and_differentiated(tmp_path: Path) -> None:
    """A point 1.5 mm in: the wall behind is to the vent at 4 mm; moved on it gets thinner."""
    study = asked(tmp_path)
    assert study.problem is not None
    problem = study.problem
    at = {"geometry.yoke_7_r": -1.5e-3}
    moved = problem.plan.build(at)
    room, wall = machining(moved, problem.contours)
    pieces = machining_pieces(moved, problem.contours)
    assert wall.value == min(p.value for p in pieces if p.key.startswith("wall"))
    assert 9.0 < wall.value < 15.5 - 4.0
    assert wall.slack == pytest.approx(wall.value / 3 - 1)
    assert room.slack > 0
    low, high = np.array(list(problem.free.values())).T

    def build(unit: np.ndarray):  # type: ignore[type-arg]
        return problem.plan.build(dict(zip(problem.free, low + unit * (high - low), strict=True)))

    unit = (np.array([at.get(name, 0.0) for name in problem.free]) - low) / (high - low)
    around = Around(sides_of(build, unit, moved), (), rough=True)
    slopes = _machining_slopes(problem, around)
    step = 1e-3
    for k in range(len(unit)):
        ends = [unit + sign * step * np.eye(len(unit))[k] for sign in (-1, 1)]
        if max(ends[1]) > 1:  # at the end of its range one side is all there is
            continue
        values = [machining_pieces(build(e), problem.contours) for e in ends]
        wanted = [(b.slack - a.slack) / (2 * step) for a, b in zip(*values, strict=True)]
        free = np.array([abs(p.slack) < 9 for p in pieces])
        assert slopes[free, k] == pytest.approx(np.array(wanted)[free], rel=2e-2, abs=2e-3)


def test_clearances_are_those_of_the_moved_outline(tmp_path: Path) -> None:
    """To the top plate and to the coil's bore, the contour's own cuts measured by shapely."""
    given = {"least_clearance": '"0.8 mm"', "coil_clearance": '"0.2 mm"'}
    head = HEAD + 'band = "4 mm"\n'
    study = asked(tmp_path, head, count="2", **given)
    assert study.problem is not None
    problem, (contour,) = study.problem, study.problem.contours
    assert contour.coil_way == 4e-3
    moved = problem.plan.build({"geometry.yoke_6_r": -1e-3, "coil.rest_position": 1e-3})
    *_, others, coil = machining(moved, problem.contours)
    line = shapely.LineString([(15.5e-3, -9.67e-3), (14.5e-3, -9.67e-3), (15.5e-3, -1.33e-3)])
    assert others.name == "clearance of the contour of yoke to other parts"
    assert coil.name == "clearance of the contour of yoke to the coil on its way of 4 mm"
    plate = next(r for r in moved.regions if r.name == "top_plate")
    gap = shapely.Polygon(plate.outline).distance(line)
    assert others.value == pytest.approx(1e3 * gap, rel=1e-2)
    bore = moved.coil.inner_diameter / 2
    assert coil.value == pytest.approx(1e3 * (bore - 15.5e-3), abs=1e-6)
    assert coil.slack == pytest.approx(coil.value / 0.2 - 1)
    alone = asked(tmp_path, HEAD, count="2", coil_clearance='"0.2 mm"')
    assert alone.problem is not None
    assert alone.problem.contours[0].coil_way == 0.0


def test_the_coil_s_way_is_seen_below_it_too() -> None:
    """A rise of the back plate under the coil: what its way leaves of the room below."""
    design = read_design(DESIGNS / "door_woofer_ferrite.toml")
    drawing = divided(redrawn(design.geometry), "yoke", 4, 12)
    contour = Contour("yoke", (16,), 12e-3, coil_clearance=1e-3, coil_way=6e-3)
    ready, ranges = free_contours(design.replace(geometry=drawing), [contour])
    problem = Problem(ready, Target(bl_least=5.0), ranges, contours=(contour,))
    coil = design.coil
    foot = coil.bottom - coil.former_below
    former = shapely.box(coil.inner_diameter / 2, foot - 6e-3, coil.inner_radius, 0.02)
    winding = shapely.box(coil.inner_radius, coil.bottom - 6e-3, coil.outer_radius, 0.02)
    way = shapely.union(former, winding)
    found = []
    for rise in (0.0, 4e-3, 8e-3):
        moved = problem.plan.build({"geometry.yoke_16_z": rise, "geometry.yoke_16_r": -5e-4})
        found.append(machining(moved, [contour])[-1].value)
        start, point, end = np.array(
            [[40 - 24.5 * 11 / 13, -18.0], [39.5 - 24.5 * 12 / 13, 1e3 * rise - 18], [15.5, -18.0]]
        )
        cuts = [start + (point - start) / 4, point, end + (point - end) / 4]
        line = shapely.LineString(1e-3 * np.array(cuts))
        assert found[-1] == pytest.approx(1e3 * way.distance(line), abs=2e-6)
    assert found[0] > found[1] > found[2]


def test_the_command_moves_a_point_and_solves_what_is_cut(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A short search: as little steel at the pole's top as leaves the Bl that is asked for."""
    for name, value in (("STARTS", 1), ("ROUGH_STEPS", 3), ("FINE_STEPS", 2), ("FOLLOWED", 1)):
        monkeypatch.setattr(descending, name, value)
    head = HEAD.replace("5 T*m", "6.05 T*m") + 'band = "4 mm"\nminimise = "steel_mass"\n'
    asked(tmp_path, head=head, points="[6]", along=None, count=None)
    out = tmp_path / "out"
    command = ["study", str(tmp_path / "study.toml"), "--out", str(out), "--json", "--no-figures"]
    monkeypatch.setattr(processes, "Processes", lambda *_: Here())
    result = CliRunner().invoke(main, command)
    assert result.exit_code == 0, result.output
    record = json.loads(result.stdout)
    rows = {row["figure"]: row for row in record["contour"]}
    steel, bl = rows["steel_mass_g"], rows["bl_at_rest_Tm"]
    assert steel["moved"] < steel["drawn"] - 1
    assert 6.05 <= bl["moved"] < 6.12 < bl["drawn"]
    assert record["motor"]["steel_mass_g"] == pytest.approx(steel["moved"])
    assert all(r["value"] >= r["limit"] for r in record["requirements"])
    assert len(record["requirements"]) == 3
    best = (out / "best" / "design.toml").read_text(encoding="utf-8")
    assert "round = 0.3" in best
    assert "The contour:" in (out / "answer.txt").read_text(encoding="utf-8")


CASES: dict[str, tuple[dict[str, str | None], str]] = {
    "no part": ({"part": None}, "[contour] part must be given"),
    "another part": ({"part": '"pole"'}, "be one of the drawing's (yoke, magnet, top_plate)"),
    "points and along": ({"points": "[5, 6]"}, "received both"),
    "neither": ({"along": None, "count": None}, "along with count"),
    "no edge": ({"along": "[3, 5]"}, "two successive points of yoke"),
    "out of the outline": ({"along": "[7, 8]"}, "two successive points of yoke; received 7 and 8"),
    "too many": ({"count": "13"}, "be 1 to 12 new points"),
    "touching": ({"along": "[4, 5]"}, "move alone"),
    "no reach": ({"reach": '"0 mm"'}, "reach must be greater than 0"),
    "reach a number": ({"reach": "2"}, "be a length with its unit"),
    "cuts": ({"cuts": '"round"'}, "[contour] cuts must be one of straight, square"),
    "radius too large": ({"least_radius": '"40 mm"', "points": "[6, 7]", "along": None}, "radius"),
    "wall too thick": ({"least_wall": '"60 mm"'}, "least_wall must be met by yoke somewhere"),
    "too near others": (
        {"least_clearance": '"40 mm"'},
        "least_clearance must be met by yoke somew",
    ),
    "too near the coil": ({"coil_clearance": '"9 mm"'}, "coil_clearance must be met by yoke somew"),
    "a way alone": (
        {"coil_way": '"4 mm"'},
        "coil_way must come with coil_clearance; received alone",
    ),
    "below 0": ({"least_clearance": '"-1 mm"'}, "least_clearance must be 0 or more"),
    "unknown": ({"radius": '"1 mm"'}, "radius"),
}


@pytest.mark.parametrize("case", CASES)
def test_what_cannot_be_cut_is_refused_as_it_is_read(case: str, tmp_path: Path) -> None:
    changes, words = CASES[case]
    with pytest.raises(InvalidInput) as caught:
        asked(tmp_path, **changes)
    assert words in str(caught.value)


def test_a_contour_belongs_to_a_target(tmp_path: Path) -> None:
    sweep = HEAD.partition("[target]")[0] + '[[sweep]]\n"coil.rest_position" = ["0 mm", "1 mm"]'
    with pytest.raises(InvalidInput, match=r"contour must come with \[target\]"):
        asked(tmp_path, head=sweep)


def test_two_contours_share_no_point(tmp_path: Path) -> None:
    study = asked(tmp_path)
    assert study.problem is not None
    more = '\n[[contour]]\npart = "yoke"\npoints = [6, 7]\nreach = "1 mm"\n'
    path = tmp_path / "study.toml"
    path.write_text(path.read_text(encoding="utf-8") + more, encoding="utf-8")
    with pytest.raises(InvalidInput, match="belong to one contour only"):
        read_study(path)
    assert study.problem.contours == (Contour("yoke", (6, 7, 8), 2e-3, False, 0.3e-3, 3e-3),)


def test_a_slope_at_the_end_of_a_range_is_that_of_the_side_that_is_left(tmp_path: Path) -> None:
    """Points at the face of the gap stand at the upper end: half a step there, half a change."""
    study = asked(tmp_path)
    assert study.problem is not None
    free, plan = study.problem.free, study.problem.plan
    low, high = np.array(list(free.values())).T

    def build(unit: np.ndarray) -> Design:  # type: ignore[type-arg]
        where = low + np.clip(unit, 0, 1) * (high - low)
        return plan.build(dict(zip(free, where, strict=True)))

    unit = (0.0 - low) / (high - low)
    sides = sides_of(build, unit, build(unit))
    for k, name in enumerate(free):
        side = sides[k]
        assert side is not None
        at = [Draft(d).get(name) for d in (side.low, side.high)]
        assert at[1] - at[0] == pytest.approx(side.step * (high - low)[k], rel=1e-3)
    assert [s.step for s in sides if s] == pytest.approx([SHARE, 2 * SHARE] * 3)
