"""The demo designs of the built-in geometries: each file reads, each new kind and option solves."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

import motor
from geometries import InvalidInput, Role, registered
from geometries.outside_magnet import OutsideMagnet
from motor.results.motor_result import solve

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
SOLVED = (
    "bass_conical_pole",
    "bass_two_gaps",
    "centre_bass_can",
    "midrange_copper_cap",
    "tweeter_ring_inside",
)


def test_every_kind_has_a_demo_that_reads() -> None:
    kinds = {motor.read_design(path).geometry.kind for path in DESIGNS.glob("*.toml")}
    assert kinds == set(registered())


@pytest.mark.parametrize("name", SOLVED)
def test_demo_is_solved_within_its_uncertainty(name: str) -> None:
    result = solve(motor.read_design(DESIGNS / f"{name}.toml"))
    bl = result.bl_curve.at_rest
    assert 2.0 < bl.value < 20.0
    assert 0 < bl.uncertainty < 2e-3 * bl.value
    assert result.usable_stroke.value > 1e-3


def test_cap_stands_flush_on_the_turned_down_pole() -> None:
    """The gap's steel recedes by the cap's thickness; cap and pole fill the pole's cylinder."""
    capped = OutsideMagnet.example().changed({"cap_thickness": 0.4e-3, "cap_height": 15e-3})
    plain = OutsideMagnet.example()
    assert capped.gap.inner_radius == pytest.approx(plain.gap.inner_radius - 0.4e-3)
    assert capped.gap.outer_radius == plain.gap.outer_radius
    (cap,) = (r for r in capped.regions() if r.role is Role.CONDUCTOR)
    assert max(r for r, _ in cap.outline) == plain.pole_diameter / 2
    assert OutsideMagnet.with_gap(capped.gap.inner_radius, 17e-3, lambda name: 0.4e-3) == {
        "pole_diameter": pytest.approx(plain.pole_diameter),
        "gap_width": pytest.approx(17e-3 - plain.pole_diameter / 2),
    }


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"cap_height": 15e-3}, "cap_height must be left out where cap_thickness is 0"),
        ({"cap_thickness": 1e-3, "cap_height": 5e-3}, "cap_height must reach from"),
        (
            {"cap_thickness": 1e-3, "cap_height": 15e-3, "pole_chamfer": 1e-3},
            "pole_chamfer must be 0 mm where the pole has a cap",
        ),
        ({"pole_foot_diameter": 30e-3}, "pole_foot_diameter must be greater than the pole"),
        (
            {"pole_foot_diameter": 38e-3, "pole_foot_height": 16e-3},
            "pole_foot_height must end below gap and undercut, within 15 mm",
        ),
    ],
)
def test_option_that_cannot_be_is_refused(changes: dict[str, float], words: str) -> None:
    with pytest.raises(InvalidInput, match=words):
        dataclasses.replace(OutsideMagnet.example(), **changes)
