"""Themes: colours that stay apart for every reader and on paper.

Lightness and differences are those of CIE 1976 L*a*b*.  Deuteranopia and protanopia are the
matrices of Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of
color vision deficiency", IEEE Trans. Vis. Comput. Graph. 15(6), 2009, severity 1.0, applied to
linear sRGB.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb

import motor
from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.report.style import STYLES, THEMES, style, theme, use

EYES = {
    "full": np.eye(3),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
}
TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
WHITE = np.array([0.95047, 1.0, 1.08883])
LEAST_LIGHTNESS, LEAST_DIFFERENCE, LIGHTEST = 8.0, 20.0, 80.0


def lab(colour: str, eye: str) -> Floats:
    """Return L*, a*, b* of a colour as an eye sees it."""
    c = np.array(to_rgb(colour))
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    t = TO_XYZ @ np.clip(EYES[eye] @ linear, 0, 1) / WHITE
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_lightness_of_known_colours() -> None:
    assert lab("#ffffff", "full") == pytest.approx([100, 0, 0], abs=0.01)
    assert lab("#000000", "full") == pytest.approx([0, 0, 0], abs=0.01)
    assert lab("#ff0000", "full") == pytest.approx([53.24, 80.09, 67.20], abs=0.05)


@pytest.mark.parametrize("name", THEMES)
def test_series_differ_in_lightness_and_stand_out_from_paper(name: str) -> None:
    lightness = sorted(lab(c, "full")[0] for c in STYLES[name].series)
    assert np.diff(lightness).min() >= LEAST_LIGHTNESS
    assert lightness[-1] <= LIGHTEST


@pytest.mark.parametrize("eye", EYES)
def test_series_stay_apart_for_every_eye(eye: str) -> None:
    seen = [lab(c, eye) for c in STYLES["light"].series]
    pairs = itertools.combinations(seen, 2)
    assert min(float(np.linalg.norm(a - b)) for a, b in pairs) >= LEAST_DIFFERENCE


def test_a_red_and_a_green_of_equal_lightness_would_be_found() -> None:
    red, green = "#c04040", "#3f8040"
    assert np.linalg.norm(lab(red, "full") - lab(green, "full")) > 80
    assert np.linalg.norm(lab(red, "deuteranopia") - lab(green, "deuteranopia")) < 25


def test_print_has_no_hue_and_tells_things_apart_without_colour() -> None:
    look = STYLES["print"]
    fills = (look.quiet, look.gap, look.safe, look.magnet, look.steel, look.conductor, look.flux)
    for colour in (*look.series, *fills):
        assert len(set(to_rgb(colour))) == 1
    for part in (look.field_map, look.value_map, look.order_map):
        shades = look.map(part)(np.linspace(0, 1, 9))[:, :3]
        assert np.ptp(shades, axis=1).max() < 0.005
        steps = np.diff(shades[:, 0])
        assert (steps > 0).all() or (steps < 0).all()
    count = len(look.series)
    assert len({str(look.line(k)["ls"]) for k in range(count)}) == count
    assert len({look.marker(k) for k in range(count)}) == count
    assert len({look.bar(k)["hatch"] for k in range(count)}) == count


def test_themes_are_switched_and_given_back() -> None:
    assert style() is STYLES["light"]
    with theme("print"):
        assert style() is STYLES["print"]
        with theme("light"):
            assert style() is STYLES["light"]
        assert style() is STYLES["print"]
    assert style() is STYLES["light"]
    use("print")
    assert style() is STYLES["print"]
    use("light")


def test_an_unknown_theme_is_refused() -> None:
    with pytest.raises(InvalidInput, match="theme must be one of light, print; received 'dark'"):
        use("dark")
    with pytest.raises(InvalidInput, match="theme must be one of"), theme("dark"):
        pass


def test_no_script_of_a_page_has_a_colour_of_its_own() -> None:
    """Those of parts come from the style, so that every theme holds for pages too."""
    static = Path(motor.__file__).parent / "report" / "page" / "static"
    colour = re.compile(r"#[0-9a-fA-F]{3,8}\b")
    scripts = sorted(static.glob("*.js"))
    assert scripts
    assert [(p.name, c) for p in scripts for c in colour.findall(p.read_text("utf-8"))] == []
