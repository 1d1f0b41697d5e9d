"""Drawn motors that declare what their dimensions are for: rules of studies change them."""

from __future__ import annotations

from pathlib import Path

import pytest

import motor
from geometries import InvalidInput, Outlines, outer_size
from motor.design.reading import design_from_toml
from motor.design.writing import design_to_toml
from motor.study.parameters import Draft
from motor.study.rules import keep_clearance, keep_envelope, keep_plate_load, keep_shape

PATH = Path(__file__).parents[3] / "studies" / "designs" / "midrange_conical_pole.toml"
TEXT = PATH.read_text()


def test_rules_change_what_is_declared() -> None:
    base = motor.read_design(PATH)
    wider = Draft(base, {"coil.inner_diameter": base.coil.inner_diameter + 2e-3})
    design = keep_envelope(keep_shape(keep_clearance(wider))).design()
    assert design.clearance.inner == pytest.approx(base.clearance.inner)
    assert design.clearance.outer == pytest.approx(base.clearance.outer)
    assert outer_size(design.regions) == pytest.approx(outer_size(base.regions))
    bore, before = (d.geometry.changeable()["magnet_bore"].value for d in (design, base))
    assert bore == pytest.approx(before + 2e-3)
    deeper = keep_plate_load(Draft(base, {"geometry.gap_depth": 5e-3}))
    assert deeper.get("geometry.back_thickness") == pytest.approx(7e-3 * 5 / 4)


def test_roles_stand_in_files() -> None:
    base = motor.read_design(PATH)
    assert isinstance(base.geometry, Outlines)
    assert base.geometry.roles.height == "magnet_thickness"
    assert design_from_toml(design_to_toml(base)) == base


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('height = "magnet_thickness"', 'height = "tall"', r"roles.height must name lengths \(tip"),
        ('gap = ["tip_diameter", "gap_width"]', 'gap = ["tip_diameter"]', "roles.gap must be the"),
        ('flux_plates = ["back_thickness"]', "flux_plates = 7", "flux_plates must be a list"),
        ('height = "magnet_thickness"', 'highth = "magnet_thickness"', "highth"),
    ],
)
def test_role_of_nothing_is_refused(old: str, new: str, words: str) -> None:
    with pytest.raises(InvalidInput, match=words):
        design_from_toml(TEXT.replace(old, new))
