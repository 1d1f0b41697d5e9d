"""Contours of a target search: read, refused, and their machining among its requirements."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from geometries import Contour, InvalidInput, Outlines
from geometries.redrawn import redrawn
from motor.cli import main
from motor.design.reading import design_to_toml, read_design
from motor.study import descending, processes
from motor.study.bench import _machining_slopes
from motor.study.contours import machining, machining_pieces
from motor.study.evaluate import Around
from motor.study.processes import Here
from motor.study.slopes import sides_of
from motor.study.study_file import StudyFile, read_study
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
