"""How flat and even Bl(x) is in a band, against closed forms."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from motor.field.field import ErrorModel
from motor.results.bl import BlCurve
from motor.results.quantities.band import BAND, BAND_PIECES, PIECES_OF

BAND_MM, REST = 4.0, 5.0


def result(*coefficients: float, band: float | None = BAND_MM) -> Any:
    """Return what has Bl = REST times a polynomial of x over the band; to 10 mm either side."""
    x = np.linspace(-10e-3, 10e-3, 401)
    bl = REST * np.polynomial.Polynomial(coefficients)(1e3 * x / BAND_MM)
    stroke = SimpleNamespace(band=None if band is None else 1e-3 * band)
    curve = BlCurve(x, bl, bl, 0.0, ErrorModel())
    return SimpleNamespace(bl_curve=curve, design=SimpleNamespace(stroke=stroke))


def test_a_parabola_lies_two_thirds_of_its_fall_from_its_mean() -> None:
    """1 - a t^2 has the mean 1 - a / 3; at the ends it is a (2 / 3) lower, at rest a / 3 higher."""
    fall = 0.03
    deviation, asymmetry = (q.reading(result(1.0, 0.0, -fall)) for q in BAND)
    mean = 1 - fall / 3
    assert deviation[0] == pytest.approx(100 * fall * 2 / 3 / mean, rel=2e-3)  # mean by 25 places
    assert deviation[1] > 0
    assert asymmetry[0] == pytest.approx(0.0, abs=1e-9)


def test_a_slope_is_all_asymmetry() -> None:
    deviation, asymmetry = (q.reading(result(1.0, 0.02))[0] for q in BAND)
    assert deviation == pytest.approx(2.0)
    assert asymmetry == pytest.approx(2.0)


@pytest.mark.parametrize("band", [None, 12.0])
def test_without_a_band_or_beyond_the_curve_there_is_none(band: float | None) -> None:
    assert all(q.reading(result(1.0, band=band))[0] is None for q in (*BAND, *BAND_PIECES))


def test_each_is_the_largest_of_its_pieces() -> None:
    one = result(1.0, 0.01, -0.02, 0.005)
    pieces = {q.key: q.reading(one)[0] for q in BAND_PIECES}
    for quantity in BAND:
        largest = max(pieces[key] for key in PIECES_OF[quantity.key])
        assert quantity.reading(one)[0] == pytest.approx(largest, rel=1e-12)


def test_the_band_is_read_once_for_all_its_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """50 pieces of the deviation and 48 of the asymmetry look at one reading each."""
    one, looks = result(1.0, 0.01), []
    call = BlCurve.__call__
    monkeypatch.setattr(BlCurve, "__call__", lambda self, x: looks.append(1) or call(self, x))
    assert all(q.reading(one)[0] is not None for q in BAND_PIECES)
    assert len(looks) == 2
