"""Overhang, clearance, contact and travel, by hand from one drawing."""

from __future__ import annotations

import pytest

from tests.unit.design.drawn import drawn_design

MM = 1e-3


def test_distances_of_the_drawing() -> None:
    design = drawn_design()
    assert design.overhang == pytest.approx(3 * MM)
    assert design.clearance.inner == pytest.approx(0.3 * MM)
    assert design.clearance.outer == pytest.approx(0.6 * MM)
    assert design.contact.inward == pytest.approx(9 * MM)
    assert design.contact.outward == pytest.approx(8 * MM)
    assert design.travel.inward == pytest.approx(8.3 * MM)
    assert design.travel.outward == pytest.approx(7.3 * MM)
    assert design.travel.limit == pytest.approx(7.3 * MM)


def test_a_winding_without_former_goes_deeper() -> None:
    free = drawn_design(former_thickness=0.0, former_below=0.0).contact
    assert free.inward == pytest.approx(13 * MM)
    assert drawn_design(former_below=0.0).contact.inward == pytest.approx(13 * MM)


def test_an_underhung_coil_has_a_negative_overhang() -> None:
    assert drawn_design(winding_height=3 * MM).overhang == pytest.approx(-1.5 * MM)


def test_travel_ends_at_the_margin_and_never_below_zero() -> None:
    travel = drawn_design(travel_margin=8.5 * MM).travel
    assert travel.outward == 0.0
    assert travel.inward == pytest.approx(0.5 * MM)
