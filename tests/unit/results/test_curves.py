"""Bl(x) and stroke from flux functions that are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from motor.base.arrays import Floats
from motor.field.field import ErrorModel
from motor.results.bl import MOVED, BlCurve, bl_curve
from motor.results.profile import FluxProfile

MM = 1e-3
FIELD, RADIUS, TURNS = 1.2, 16 * MM, 60
REACH = 40 * MM
"""A gap field of 1.2 T at a winding of 16 mm mean radius with 60 turns."""


def uniform_gap(depth: float) -> FluxProfile:
    """Return the flux function of B_r = FIELD over the gap's depth and 0 beyond."""
    z = np.linspace(-REACH, REACH, 16_001)
    psi = -RADIUS * FIELD * np.clip(z, -depth / 2, depth / 2)
    return FluxProfile(z, psi, psi, ErrorModel())


def overlap(middle: Floats, height: float, depth: float) -> Floats:
    """Return the share of a winding that lies in the gap."""
    low = np.maximum(middle - height / 2, -depth / 2)
    high = np.minimum(middle + height / 2, depth / 2)
    result: Floats = np.maximum(high - low, 0.0) / height
    return result


def rectangular(height: float, depth: float, rest: float = 0.0) -> BlCurve:
    """Return Bl(x) of a winding in a uniform gap, over the whole way out of it."""
    reach = (height + depth) / 2 + 1 * MM + abs(rest)
    return bl_curve(uniform_gap(depth), height, TURNS, rest, reach, reach)


CASES = [
    (12, 6, 3.00, 4.08, 4.80, 9.0),
    (4, 10, 3.00, 3.72, 4.20, 7.0),
    (16, 8, 4.00, 5.44, 6.40, 12.0),
]
"""Winding height, gap depth; then flat to, x82, x70 and end of Bl, all in mm: the overlap of two
rectangles is flat to |h - d|/2 and falls by straight lines to 0 at (h + d)/2."""
NEAR = 0.01 * MM


@pytest.mark.parametrize(("height", "depth", "flat", "x82", "x70", "end"), CASES)
def test_strokes_of_rectangular_overlap(
    height: float, depth: float, flat: float, x82: float, x70: float, end: float
) -> None:
    curve = rectangular(height * MM, depth * MM)
    for share, expected in ((0.82, x82), (0.70, x70)):
        stroke = curve.stroke(share)
        assert stroke.share == share
        assert stroke.inward.value == pytest.approx(expected * MM, abs=NEAR)
        assert stroke.outward.value == pytest.approx(expected * MM, abs=NEAR)
        assert stroke.symmetric.value == min(stroke.inward.value, stroke.outward.value)
        assert stroke.symmetric.uncertainty < 1e-3 * expected * MM
    top = 2 * math.pi * RADIUS * FIELD * TURNS * min(height, depth) / height
    assert curve.at_rest.value == pytest.approx(top, rel=1e-6)
    assert curve(flat * MM * 0.95) == pytest.approx(top, rel=1e-3)
    assert curve(flat * MM + 0.5 * MM) < 0.99 * top
    assert curve(end * MM) == pytest.approx(0.0, abs=2e-3 * top)


@pytest.mark.parametrize(("height", "depth"), [(12, 6), (4, 10), (8, 8)])
def test_curve_is_the_overlap_everywhere(height: float, depth: float) -> None:
    curve = rectangular(height * MM, depth * MM)
    whole = 2 * math.pi * RADIUS * FIELD * TURNS
    expected = whole * overlap(curve.x, height * MM, depth * MM)
    np.testing.assert_allclose(curve.bl, expected, atol=2e-4 * whole)


def test_winding_as_tall_as_the_gap_peaks_at_rest() -> None:
    curve = rectangular(8 * MM, 8 * MM)
    assert curve.peak_position.value == pytest.approx(0.0, abs=0.05 * MM)
    assert curve.stroke(0.82).symmetric.value == pytest.approx(0.18 * 8 * MM, abs=NEAR)


@pytest.mark.parametrize("offset", [0.5, -0.5, 2.0])
def test_coil_off_centre_has_unequal_strokes(offset: float) -> None:
    curve = rectangular(12 * MM, 6 * MM, rest=offset * MM)
    stroke = curve.stroke(0.82)
    assert stroke.outward.value == pytest.approx((4.08 - offset) * MM, abs=NEAR)
    assert stroke.inward.value == pytest.approx((4.08 + offset) * MM, abs=NEAR)
    assert stroke.symmetric.value == pytest.approx((4.08 - abs(offset)) * MM, abs=NEAR)


@pytest.mark.parametrize("offset", [0.0, 0.7, -1.5])
def test_best_rest_position_is_the_middle_of_the_gap(offset: float) -> None:
    found = rectangular(12 * MM, 6 * MM, rest=offset * MM).best_rest_position(0.82)
    best, stroke = (e.value for e in found)
    assert best == pytest.approx(0.0, abs=2 * NEAR)
    assert stroke == pytest.approx(4.08 * MM, abs=2 * NEAR)


@pytest.mark.parametrize("offset", [1.0, -1.0])
def test_asymmetry_of_a_displaced_coil(offset: float) -> None:
    height, depth = 12 * MM, 6 * MM
    reach = 7 * MM
    curve = bl_curve(uniform_gap(depth), height, TURNS, offset * MM, reach, reach)
    x, found = curve.asymmetry()
    out = overlap(offset * MM + x, height, depth)
    inn = overlap(offset * MM - x, height, depth)
    assert x[0] > 0
    assert x[-1] == pytest.approx(reach)
    np.testing.assert_allclose(found, (out - inn) / (out + inn), atol=2e-3)
    assert found[-1] * offset < 0


def test_centred_coil_has_no_asymmetry() -> None:
    curve = bl_curve(uniform_gap(6 * MM), 12 * MM, TURNS, 0.0, 8 * MM, 8 * MM)
    assert np.abs(curve.asymmetry()[1]).max() < 1e-6


def test_sign_of_the_flux_does_not_matter() -> None:
    profile = uniform_gap(6 * MM)
    turned = FluxProfile(profile.z, -profile.fine, -profile.coarse, ErrorModel())
    one, other = (bl_curve(p, 12 * MM, TURNS, 0.0, 8 * MM, 8 * MM) for p in (profile, turned))
    np.testing.assert_array_equal(one.bl, other.bl)
    assert one.at_rest.value > 0


def test_bl_is_proportional_to_turns() -> None:
    profile = uniform_gap(6 * MM)
    one = bl_curve(profile, 12 * MM, 50, 0.0, 8 * MM, 8 * MM)
    two = bl_curve(profile, 12 * MM, 100, 0.0, 8 * MM, 8 * MM)
    np.testing.assert_allclose(two.bl, 2 * one.bl, rtol=1e-12)


def smooth_gap(width: float, shift: float = 0.0, error: float = 0.0) -> FluxProfile:
    """Return psi = -r B w tanh((z - shift)/w), the coarse one too large by a share ``error``."""
    z = np.linspace(-REACH, REACH, 4001)
    psi = -RADIUS * FIELD * width * np.tanh((z - shift) / width)
    return FluxProfile(z, psi, (1 + error) * psi, ErrorModel())


def smooth_bl(x: Floats, width: float, height: float) -> Floats:
    """Return Bl of a winding in that field."""
    ends = np.tanh((x + height / 2) / width) - np.tanh((x - height / 2) / width)
    result: Floats = 2 * math.pi * TURNS / height * RADIUS * FIELD * width * ends
    return result


def test_smooth_field_gives_the_closed_form() -> None:
    curve = bl_curve(smooth_gap(3 * MM), 10 * MM, TURNS, 0.0, 12 * MM, 12 * MM)
    x = np.linspace(-12 * MM, 12 * MM, 97)
    exact = smooth_bl(x, 3 * MM, 10 * MM)
    np.testing.assert_allclose(curve(x), exact, atol=1e-6 * exact.max())


@pytest.mark.parametrize("shift", [0.0, 1.3, -2.2])
def test_peak_is_where_the_field_is_strongest(shift: float) -> None:
    profile = smooth_gap(3 * MM, shift * MM)
    curve = bl_curve(profile, 10 * MM, TURNS, 0.0, 12 * MM, 12 * MM)
    assert curve.peak_position.value == pytest.approx(shift * MM, abs=1e-3 * MM)
    exact = float(smooth_bl(np.array(0.0), 3 * MM, 10 * MM))
    assert curve.peak.value == pytest.approx(exact, rel=1e-6)
    best = curve.best_rest_position(0.82)[0].value
    assert best == pytest.approx(shift * MM, abs=0.02 * MM)


def test_strokes_of_the_smooth_field_solve_their_equation() -> None:
    curve = bl_curve(smooth_gap(3 * MM), 10 * MM, TURNS, 0.0, 12 * MM, 12 * MM)
    for share in (0.9, 0.82, 0.7, 0.5):
        x = np.array(curve.stroke(share).outward.value)
        exact = smooth_bl(x, 3 * MM, 10 * MM) / smooth_bl(np.array(0.0), 3 * MM, 10 * MM)
        assert float(exact) == pytest.approx(share, abs=2e-4)


def test_uncertainty_grows_with_the_change_between_the_meshes() -> None:
    exact, near, far = (
        bl_curve(smooth_gap(3 * MM, error=error), 10 * MM, TURNS, 0.0, 12 * MM, 12 * MM)
        for error in (0.0, 0.01, 0.02)
    )
    assert exact.at_rest.uncertainty < 1e-3 * exact.at_rest.value
    assert near.at_rest.uncertainty > 1e-3 * near.at_rest.value
    for read in (lambda c: c.at_rest, lambda c: c.peak):
        floor, once, twice = (read(c).uncertainty ** 2 for c in (exact, near, far))
        assert twice - floor == pytest.approx(4 * (once - floor))  # parts add as squares
        assert read(far).value == read(exact).value
    assert (far.uncertainty >= near.uncertainty).all()
    assert (near.uncertainty >= exact.uncertainty).all()
    assert far.stroke(0.82).symmetric.uncertainty < 1e-3 * far.stroke(0.82).symmetric.value


def test_stroke_that_never_ends_is_infinite() -> None:
    curve = bl_curve(uniform_gap(6 * MM), 12 * MM, TURNS, 0.0, 2 * MM, 6 * MM)
    stroke = curve.stroke(0.82)
    assert stroke.inward.value == math.inf
    assert stroke.outward.value == pytest.approx(4.08 * MM, abs=NEAR)
    assert stroke.symmetric is stroke.outward


def test_curve_is_silent_about_what_it_does_not_know() -> None:
    curve = bl_curve(uniform_gap(6 * MM), 12 * MM, TURNS, 0.0, 2 * MM, 6 * MM)
    assert np.isfinite(curve([-2 * MM, 6 * MM])).all()
    for x in (-2.1 * MM, 6.1 * MM, [0.0, 1.0]):
        with pytest.raises(ValueError, match=r"x must lie within the curve, .*; received "):
            curve(x)


def test_winding_must_stay_within_the_profile() -> None:
    profile = uniform_gap(6 * MM)
    with pytest.raises(ValueError, match=r"the winding must stay within the profile, .*; received"):
        profile.force_factor(REACH - 5 * MM, 12 * MM, TURNS)
    inside = profile.force_factor(REACH - 6 * MM, 12 * MM, TURNS)
    assert float(inside) == pytest.approx(0.0, abs=1e-9)


def test_coarse_mesh_value_is_its_own() -> None:
    profile = smooth_gap(3 * MM, error=0.05)
    fine = profile.force_factor(0.0, 10 * MM, TURNS)
    coarse = profile.force_factor(0.0, 10 * MM, TURNS, coarse=True)
    assert coarse == pytest.approx(1.05 * fine)


def test_outward_flux_gives_a_positive_force_factor() -> None:
    """2 pi r N B for a winding wholly in the gap: 2 pi 16 mm 60 1.2 T = 7.238 T m."""
    factor = uniform_gap(10 * MM).force_factor(0.0, 4 * MM, 60)
    assert float(factor) == pytest.approx(7.238, rel=1e-3)


def test_best_rest_position_stays_where_the_coil_can_go() -> None:
    """Contact 2 mm inwards of rest: the best place is further out, its stroke ends at contact.

    Bl is flat to 3 mm and falls to 82 % at 4.08 mm off the gap's middle.  From rest + s the
    coil has 2 + s mm inwards and 4.08 - s mm outwards: equal at s = 1.04 mm, 3.04 mm each.
    """
    curve = bl_curve(uniform_gap(6 * MM), 12 * MM, 60, 0.0, 2 * MM, 8 * MM)
    best, stroke = (e.value for e in curve.best_rest_position(0.82))
    assert best == pytest.approx(1.04 * MM, abs=0.02 * MM)
    assert stroke == pytest.approx(3.04 * MM, abs=0.02 * MM)


def test_place_of_the_peak_is_as_uncertain_as_the_meshes_differ() -> None:
    z = np.linspace(-40 * MM, 40 * MM, 4001)
    fine, coarse = (-np.tanh((z - shift) / (3 * MM)) * MM for shift in (0.0, 0.2 * MM))
    profile = FluxProfile(z, fine, coarse, ErrorModel())
    place = bl_curve(profile, 10 * MM, 60, 0.0, 12 * MM, 12 * MM).peak_position
    assert place.value == pytest.approx(0.0, abs=1e-3 * MM)
    assert place.uncertainty == pytest.approx(MOVED * 0.2 * MM, rel=1e-2)
