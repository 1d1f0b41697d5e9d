"""Coils of several parts: sums, senses, places, what they may not do, and how files hold them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

import motor
from geometries import InvalidInput
from motor.design.coil import Coil
from motor.design.reading import design_from_toml
from motor.design.winding_part import WindingPart
from motor.design.wire import Wire
from motor.design.writing import design_to_toml
from motor.field.heat_mesh import WINDING
from motor.results.heat_limits import hottest_of
from motor.results.heat_settled import thermal_model
from motor.results.impedance import blocked_impedance
from motor.results.motor_result import MotorResult, read_off
from motor.study.parameters import Draft, known_parameters

WIRE = Wire(bare_diameter=0.25e-3, overall_diameter=0.28e-3)
THIN = Wire(bare_diameter=0.2e-3, overall_diameter=0.224e-3)
LOWER = WindingPart(name="lower", place=-20e-3, winding_height=8e-3, layers=4, wire=THIN)
Solved = Callable[[str], MotorResult]


def coil(*parts: WindingPart, **changes: object) -> Coil:
    return dataclasses.replace(
        Coil(
            inner_diameter=30e-3,
            winding_height=10e-3,
            layers=2,
            wire=WIRE,
            former_thickness=0.1e-3,
            former_material="aluminium",
        ),
        parts=parts,
        **changes,  # type: ignore[arg-type]
    )


def test_parts_in_series_add_up() -> None:
    whole, main = coil(LOWER), coil()
    other = coil(winding_height=8e-3, layers=4, wire=THIN)
    assert whole.turns == main.turns + other.turns == whole.turns_in_series
    assert whole.resistance() == pytest.approx(main.resistance() + other.resistance())
    assert whole.mass == pytest.approx(main.mass + other.mass)
    assert whole.mass_with_enamel == pytest.approx(main.mass_with_enamel + other.mass_with_enamel)
    assert (whole.bottom, whole.top) == pytest.approx((-24e-3, 5e-3))
    assert whole.former_mass == pytest.approx(main.former_mass * 2.9)


def test_parts_in_parallel_share_the_current_by_their_resistances() -> None:
    opposite = dataclasses.replace(LOWER, sense="opposite")
    whole = coil(opposite, connection="parallel")
    one, two = (c.resistance() for c in whole.each)
    assert whole.resistance() == pytest.approx(one * two / (one + two))
    assert whole.shares == pytest.approx((two / (one + two), -one / (one + two)))


def test_outlines_name_every_part() -> None:
    names = [name for name, _ in coil(LOWER).outlines()]
    assert names == ["winding", "winding_lower", "former"]
    over = WindingPart(
        name="over", place=0.0, winding_height=4e-3, layers=1, inner_diameter=31.32e-3
    )
    upper = dict(coil(over).outlines())["winding_over"]
    assert min(r for r, _ in upper) == pytest.approx(15.66e-3)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ({"place": -5e-3}, "parts.lower must stay clear of winding"),
        ({"inner_diameter": 29e-3}, "parts.lower.inner_diameter must be that of the former"),
        ({"winding_height": 0.1e-3}, "winding_height must hold at least one turn"),
        ({"sense": "left"}, "sense must be same or opposite"),
        ({"name": "Lower"}, "name must be a lower-case identifier"),
    ],
)
def test_part_that_cannot_be_is_refused(part: dict[str, object], words: str) -> None:
    with pytest.raises(InvalidInput, match=words):
        coil(dataclasses.replace(LOWER, **part))  # type: ignore[arg-type]
    with pytest.raises(InvalidInput, match="windings must be 1"):
        coil(LOWER, windings=2)


def test_two_halves_are_the_whole(solved: Solved) -> None:
    """A winding cut in two at a turn has the same Bl(x), resistance and mass."""
    result = solved("outside-magnet")
    whole = result.design.coil
    half = dataclasses.replace(
        whole,
        winding_height=whole.winding_height / 2,
        rest_position=whole.rest_position + whole.winding_height / 4,
    )
    part = WindingPart(
        name="lower",
        place=-whole.winding_height / 2,
        winding_height=whole.winding_height / 2,
        layers=whole.layers,
    )
    cut = read_off(
        result.design.replace(coil=dataclasses.replace(half, parts=(part,))), result.field
    )
    share = cut.design.coil.turns / whole.turns
    x = np.linspace(-3e-3, 3e-3, 7)
    assert np.allclose(cut.bl_curve(x), share * result.bl_curve(x), rtol=2e-5)  # sampled elsewhere
    assert cut.resistance == pytest.approx(share * result.resistance)
    turned = dataclasses.replace(part, sense="opposite")
    against = read_off(
        result.design.replace(coil=dataclasses.replace(half, parts=(turned,))), result.field
    )
    alone = read_off(result.design.replace(coil=half), result.field).bl_curve.at_rest.value
    both = cut.bl_curve.at_rest.value
    assert against.bl_curve.at_rest.value == pytest.approx(abs(2 * alone - both), abs=2e-5 * both)


def test_files_and_studies_hold_parts() -> None:
    design = motor.starter("two-gap")
    for comments in (False, True):
        assert design_from_toml(design_to_toml(design, comments=comments)) == design
    assert known_parameters(design)["coil.parts.gap_2.place"].kind == "length"
    draft = Draft(design, {"coil.parts.gap_2.layers": 1, "coil.parts.gap_2.place": -19e-3})
    part = draft.design().coil.parts[0]
    assert (part.layers, part.place) == (1, -19e-3)
    assert Draft(design).get("coil.parts.gap_2.layers") == 2


def test_parts_in_parallel_share_an_alternating_current_by_the_coupled_impedances(
    solved: Solved,
) -> None:
    """Coupled coils side by side: (Z1 Z2 - Zm^2) / (Z1 + Z2 - 2 Zm), any book on circuits."""
    result = solved("outside-magnet")
    one_mesh = dataclasses.replace(result.field, coarse=result.field.fine)
    upper = dataclasses.replace(result.design.coil, winding_height=4e-3, rest_position=3e-3)
    part = WindingPart(name="lower", place=-6e-3, winding_height=6e-3, layers=2, wire=THIN)

    def impedance(one: Coil) -> np.ndarray[tuple[int, ...], np.dtype[np.complex128]]:
        design = result.design.replace(coil=one)
        found = blocked_impedance(read_off(design, one_mesh), [0.0], [0.0, 2000.0])
        return found.impedance[:, 0]

    both = dataclasses.replace(upper, parts=(part,))
    lower = both.each[1]
    against = dataclasses.replace(upper, parts=(dataclasses.replace(part, sense="opposite"),))
    one, two, same, opposite = map(impedance, (upper, lower, both, against))
    mutual = (same - opposite) / 4
    assert one + two + 2 * mutual == pytest.approx(same, rel=5e-3)
    for joined, sign in ((both, 1), (against, -1)):
        found = impedance(dataclasses.replace(joined, connection="parallel"))
        expected = (one * two - mutual**2) / (one + two - 2 * sign * mutual)
        assert found == pytest.approx(expected, rel=5e-3)
        assert found[0].real == pytest.approx(1 / (1 / one[0].real + 1 / two[0].real))
        assert (np.diff(found.real) > 0).all()


def test_halves_that_mirror_each_other_in_parallel_have_a_quarter(solved: Solved) -> None:
    result = solved("two-gap")
    side_by_side = dataclasses.replace(result.design.coil, connection="parallel")
    one_mesh = dataclasses.replace(result.field, coarse=result.field.fine)
    designs = (result.design.replace(coil=side_by_side), result.design)
    parallel, apart = (read_off(design, one_mesh) for design in designs)
    found, series = (blocked_impedance(r, [0.0], [100.0, 2e3]) for r in (parallel, apart))
    assert found.impedance * 4 == pytest.approx(series.impedance, rel=2e-3)


def test_halves_get_as_warm_as_the_whole_in_series_and_side_by_side(solved: Solved) -> None:
    result = solved("outside-magnet")
    whole = result.design.coil
    half = dataclasses.replace(
        whole,
        winding_height=whole.winding_height / 2,
        rest_position=whole.rest_position + whole.winding_height / 4,
    )
    part = WindingPart(
        name="lower",
        place=-whole.winding_height / 2,
        winding_height=whole.winding_height / 2,
        layers=whole.layers,
    )
    rules = dataclasses.replace(result.design.heat, power=10.0, displacement=1e-3)

    def settled(one: Coil) -> tuple[float, float, float]:
        read = read_off(result.design.replace(coil=one, heat=rules), result.field)
        model, found = thermal_model(read, 10.0)
        return found.coil, hottest_of(model, found.state, WINDING), found.heat

    expected = settled(whole)
    series, parallel = (
        settled(dataclasses.replace(half, parts=(part,), connection=c))
        for c in ("series", "parallel")
    )
    assert series == pytest.approx(expected, abs=0.2)  # of 73 K, on another grid
    assert parallel == pytest.approx(series, abs=0.5)
    assert parallel[1] < series[1]  # the warmer half takes less
    place = -3 / 8 * whole.winding_height
    shorter = dataclasses.replace(part, winding_height=part.winding_height / 2, place=place)
    uneven = dataclasses.replace(half, parts=(shorter,), connection="parallel")
    read = read_off(result.design.replace(coil=uneven, heat=rules), result.field)
    model, found = thermal_model(read, 10.0)
    main, short = (hottest_of(model, found.state, n) for n in model.mesh.windings)
    assert short > main  # half the resistance: twice the heat, in half the room


def test_second_gap_is_read_like_the_first(solved: Solved) -> None:
    """The motor is its own mirror image: the lower gap holds the same flux, turned round."""
    result = solved("two-gap")
    (lower,) = result.further_gaps
    first = result.gap_profile.mean.value
    assert lower.value == pytest.approx(-first, rel=5e-3)
    assert result.summary()["further_gaps"][0]["mean_flux_density_T"] == lower.value
    x = result.bl_curve.x[[0, -1]]
    assert x[0] == -x[1]
    assert abs(result.bl_curve.peak_position.value) < 1e-4
