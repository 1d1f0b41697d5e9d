"""The report page in a real browser: it loads, its live block computes what the program does."""

from __future__ import annotations

import dataclasses
import itertools
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from motor.base.errors import InvalidInput
from motor.base.units import parse_quantity
from motor.design.design import Design
from motor.design.reading import design_from_toml, read_design
from motor.design.writing import design_to_toml
from motor.report.figures.moving_coil import moving_coil
from motor.report.page import write_page
from motor.report.page.design.live_data import wires_to_choose
from motor.results.motor_result import MotorResult, read_off, solve
from motor.study.expanding import second_order
from motor.study.second_order import SecondOrder

from .browser import AGREE, HEIGHT, WIDTH, Opened, needs_browser, open_page
from .dimensions import check_dimensions

pytestmark = needs_browser

DESIGNS = Path(__file__).parents[4] / "studies" / "designs"
NAMES = ["door_woofer_ferrite", "door_woofer_neodymium", "home_bass_long_stroke"]
RESULT = """() => {
  const f = motorLive.result;
  return f.words === null ? {...f, x: [...f.x], bl: [...f.bl], spread: [...f.spread]} : f;
}"""
SHOWN = """() => {
  const models = Bokeh.documents.map((d) => d.get_model_by_name("live-curve"));
  const { x, bl } = models.find((m) => m !== null).data;
  return { x: [...x], bl: [...bl] };
}"""
READY = "Bokeh.documents.some((d) => d.get_model_by_name('live-curve') !== null)"


@dataclasses.dataclass
class Live(Opened):
    """A design's page in the browser, and the result it was made of."""

    result: MotorResult
    tried: SecondOrder | None

    def move(self, **settings: str | int) -> None:
        """Set sliders and let the last one tell the page, as a pointer does."""
        self.page.evaluate(
            """(all) => {
              const moved = all.map(([name, value]) => {
                const slider = document.getElementById(`live-${name}`);
                slider.value = value;
                return slider;
              });
              moved.at(-1).dispatchEvent(new Event("input", { bubbles: true }));
            }""",
            [(name, str(value)) for name, value in settings.items()],
        )

    def design(self) -> Design:
        """Return the design that the sliders stand for."""
        values = {
            name: self.page.input_value(f"#live-{name}")
            for name in ("winding_height", "layers", "wire", "rest_position")
        }
        wires = wires_to_choose(self.result.design)
        coil = dataclasses.replace(
            self.result.design.coil,
            winding_height=parse_quantity(f"{values['winding_height']} mm", "length", "height"),
            layers=int(values["layers"]),
            wire=wires[int(values["wire"])][0],
            rest_position=parse_quantity(f"{values['rest_position']} mm", "length", "rest"),
        )
        return self.result.design.replace(coil=coil)

    def cell(self, row: str, cell: str = "live") -> str:
        return str(self.page.inner_text(f"tr[data-row={row}] [data-cell={cell}]"))


@pytest.fixture(scope="module", params=NAMES)
def opened(
    request: pytest.FixtureRequest, browser: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Live]:
    result = solve(read_design(DESIGNS / f"{request.param}.toml"))
    tried = second_order(result) if request.param == NAMES[0] else None
    path = write_page(result, tmp_path_factory.mktemp("page") / "page.html", tried=tried)
    shown = open_page(browser, path, READY)
    yield Live(**vars(shown), result=result, tried=tried)
    shown.page.close()


@pytest.fixture(autouse=True)
def back_to_the_design(opened: Live) -> None:
    opened.page.set_viewport_size({"width": WIDTH, "height": HEIGHT})
    opened.page.click("#live-reset")


def same(found: float | None, wanted: float | None) -> bool:
    if wanted is None or found is None or math.isinf(wanted):
        return found == wanted
    return abs(found - wanted) <= AGREE * abs(wanted) + 1e-15


def compare(opened: Live) -> None:
    """Assert that everything the live block says is what the program says."""
    wanted = read_off(opened.design(), opened.result.field)
    found = opened.page.evaluate(RESULT)
    assert found["words"] is None, found["words"]
    curve, coil = wanted.bl_curve, wanted.design.coil
    shown = opened.page.evaluate(SHOWN)
    largest = float(np.abs(curve.bl).max())
    for x, bl in ((np.array(shown["x"]) / 1e3, shown["bl"]), (np.array(found["x"]), found["bl"])):
        np.testing.assert_allclose(x, curve.x, rtol=AGREE, atol=1e-12)
        np.testing.assert_allclose(bl, curve.bl, rtol=AGREE, atol=1e-9 * largest)
    np.testing.assert_allclose(found["spread"], curve.uncertainty, rtol=AGREE)
    usable = wanted.usable_stroke
    assert found["usable"]["limitedBy"] == usable.limited_by
    moving = wanted.moving_mass
    figures = [
        (found["atRest"]["value"], curve.at_rest.value),
        (found["atRest"]["uncertainty"], curve.at_rest.uncertainty),
        (found["usable"]["value"], usable.value),
        (found["overhang"], wanted.design.overhang),
        (found["travel"]["inward"], wanted.travel.inward),
        (found["travel"]["outward"], wanted.travel.outward),
        (found["clearance"]["inner"], wanted.clearance.inner),
        (found["clearance"]["outer"], wanted.clearance.outer),
        (found["coil"]["turns"], coil.turns),
        (found["coil"]["resistance"], wanted.resistance),
        (found["coil"]["mass"], coil.mass),
        (found["coil"]["massWithEnamel"], coil.mass_with_enamel),
        (found["movingMass"], moving),
        (found["resonance"], wanted.resonance),
        (found["motorConstant"], wanted.motor_constant.value),
    ]
    for key, stroke in (("stroke82", wanted.stroke_82), ("stroke70", wanted.stroke_70)):
        for side in ("inward", "outward", "symmetric"):
            estimate = getattr(stroke, side)
            figures.append((found[key][side]["value"], estimate.value))
            figures.append((found[key][side]["uncertainty"], estimate.uncertainty))
    assert all(same(a, b) for a, b in figures), [pair for pair in figures if not same(*pair)]
    assert float(opened.cell("resistance")) == pytest.approx(wanted.resistance, rel=1e-3)
    assert float(opened.cell("usable")) == pytest.approx(usable.value * 1e3, rel=1e-2)


@pytest.mark.parametrize("opened", NAMES[:1], indirect=True)
def test_every_dimension_can_be_tried(opened: Live) -> None:
    assert opened.tried is not None
    check_dimensions(opened.page, opened.result, opened.tried)


def test_opens_from_disk_silently_and_alone(opened: Live) -> None:
    opened.assert_alone()
    assert opened.path.stat().st_size < 5_000_000
    for name in ("field", "gap", "bl", "try"):
        drawn = opened.page.locator(f"#{name} .plot").locator("canvas, svg")
        assert drawn.first.bounding_box()["height"] > 200


def test_starts_at_the_design(opened: Live) -> None:
    compare(opened)
    assert opened.design().coil == opened.result.design.coil
    assert opened.cell("bl", "change") == ""


@pytest.mark.parametrize(
    ("height", "layers", "wire", "rest"),
    [
        (0.8, 2, 0, 0.5),
        (1.3, 1, 3, -0.7),
        (0.5, 2, -4, 1.1),
        (1.05, 3, -8, 0.0),
        (0.25, 1, 9, -0.3),
    ],
)
def test_follows_the_sliders_as_the_program_computes(
    opened: Live, height: float, layers: int, wire: int, rest: float
) -> None:
    coil = opened.result.design.coil
    own = int(opened.page.input_value("#live-wire"))
    opened.move(
        winding_height=round(coil.winding_height * 1e3 * height, 1),
        layers=layers,
        wire=own + wire,
        rest_position=rest,
    )
    compare(opened)
    assert opened.said == []


def test_follows_the_keyboard(opened: Live) -> None:
    page, before = opened.page, opened.design().coil
    for name, key, times in (
        ("winding_height", "ArrowLeft", 12),
        ("layers", "ArrowLeft", 1),
        ("wire", "ArrowRight", 2),
        ("rest_position", "ArrowRight", 5),
    ):
        page.focus(f"#live-{name}")
        for _ in range(times):
            page.keyboard.press(key)
    after = opened.design().coil
    assert after.winding_height == pytest.approx(before.winding_height - 1.2e-3)
    assert after.layers == before.layers - 1
    assert after.wire.conductor_area > before.wire.conductor_area
    assert after.rest_position == pytest.approx(before.rest_position + 0.5e-3)
    compare(opened)
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"
    page.focus("#live-reset")
    page.keyboard.press("Enter")
    assert opened.design().coil == before
    compare(opened)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"layers": 6, "wire": 20}, "cup|top plate"),
        ({"winding_height": 0.2, "wire": 21}, "hold at least one turn"),
    ],
)
def test_a_winding_that_cannot_be_is_told_in_words(
    opened: Live, settings: dict[str, Any], words: str
) -> None:
    opened.move(**settings)
    with pytest.raises(InvalidInput):
        opened.design()
    status = opened.page.inner_text("#live-status")
    assert status.startswith("This winding cannot be:")
    assert any(word in status for word in words.split("|"))
    assert opened.cell("bl") == opened.cell("usable") == "not possible"
    assert opened.page.evaluate(SHOWN) == {"x": [], "bl": []}
    opened.page.click("#live-reset")
    compare(opened)


def refusal(opened: Live) -> str | None:
    """Return the program's sentence on the settings, None if it takes them."""
    try:
        opened.design()
    except InvalidInput as problem:
        return str(problem)
    return None


def test_page_and_program_refuse_the_same_windings(opened: Live) -> None:
    """Over a grid of settings, with the sentences where there is only one way to say it."""
    refused = accepted = 0
    for layers in (1, 2, 3, 4, 5):
        for wire in (0, 7, 14, 21):
            for rest in ("min", "max"):
                limit = opened.page.get_attribute("#live-rest_position", rest)
                most = opened.page.get_attribute("#live-winding_height", "max")
                for height in (opened.result.design.coil.winding_height * 1e3, most):
                    opened.move(
                        layers=layers, wire=wire, rest_position=limit, winding_height=height
                    )
                    found = opened.page.evaluate("motorLive.result.words")
                    wanted = refusal(opened)
                    refused += wanted is not None
                    accepted += wanted is None
                    assert (found is None) == (wanted is None)
                    if wanted is not None and "overlap" not in wanted:
                        assert found == wanted
    assert refused > 5
    assert accepted > 5


def test_lines_to_copy_give_the_same_design(opened: Live) -> None:
    opened.move(winding_height=11.7, layers=1, wire=4, rest_position=-0.4)
    wanted = opened.design()
    text = design_to_toml(opened.result.design)
    start, end = text.index("[coil]"), text.index("[moving_parts]")
    lines = opened.page.inner_text("#live-lines")
    read = design_from_toml(f"{text[:start]}{lines}\n\n{text[end:]}")
    assert read.coil == wanted.coil
    copied = opened.page.evaluate("document.getElementById('design-text').textContent")
    assert copied == text


def test_copy_button_says_what_it_did(opened: Live) -> None:
    button = opened.page.locator("button[data-copy=design-text]")
    button.click()
    said = button.filter(has_text=re.compile(r"^(Copied|Selected: press Ctrl\+C)$"))
    said.wait_for()
    opened.page.get_by_role("button", name="Copy the design file").wait_for()


def test_controls_are_labelled_and_reachable(opened: Live) -> None:
    page = opened.page
    for label in ("Winding height", "Layers", "Wire, bare diameter", "Rest position"):
        assert page.get_by_label(label).count() == 1
        assert page.get_by_label(label).get_attribute("aria-valuetext")
    for name in ("Copy these lines", "Back to the design", "Copy the design file"):
        assert page.get_by_role("button", name=name).count() == 1
    for region in ("banner", "main", "contentinfo", "navigation"):
        assert page.get_by_role(region).count() == 1
    assert page.locator("[role=status]").count() == 1
    assert page.locator("table:not(:has(thead th[scope=col]))").count() == 0
    levels = page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3')].map((h) => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels))


@pytest.mark.parametrize("width", [1280, 768, 390])
def test_nothing_sticks_out_sideways(opened: Live, width: int) -> None:
    opened.assert_fits(width)


def test_paper_shows_the_figures_without_the_controls(opened: Live) -> None:
    page = opened.page
    page.emulate_media(media="print")
    try:
        assert not page.is_visible("#live-winding_height")
        assert not page.is_visible("nav.contents")
        assert not page.is_visible("#live-reset")
        assert page.is_visible("#try .plot")
        assert page.is_visible("#live-lines")
        assert len(page.pdf(prefer_css_page_size=True)) > 20_000
    finally:
        page.emulate_media(media="screen")


def place_of_coil(opened: Live) -> tuple[float, float, str]:
    """Return the drawn displacement in mm, the Bl that the marker stands at, and the words."""
    shift, mark = opened.page.evaluate(
        """() => {
          const mark = document.querySelector(".moving-mark");
          return [document.querySelector(".moving-coil").getAttribute("transform"),
            ["cx", "cy"].map((k) => Number(mark.getAttribute(k)))];
        }"""
    )
    data = moving_coil(opened.result).data
    up = float(re.fullmatch(r"translate\(0 (\S+)\)", shift)[1])  # type: ignore[index]
    bl = (data["bottom"] - mark[1]) / (data["bottom"] - data["top"]) * data["bl_top"]
    return -up / data["pixels_per_mm"], bl, opened.page.inner_text("#moving-words")


@pytest.mark.parametrize("x", [-2.5, 0.0, 1.37, 3.0])
def test_the_dragged_coil_says_and_shows_bl_where_it_stands(opened: Live, x: float) -> None:
    opened.page.locator("#moving-x").evaluate(
        "(e, v) => { e.value = v; e.dispatchEvent(new Event('input')); }", str(x)
    )
    at, bl, words = place_of_coil(opened)
    wanted = float(opened.result.bl_curve(np.array(x * 1e-3)))
    assert at == pytest.approx(x, abs=1e-6)
    assert bl == pytest.approx(wanted, rel=1e-3)
    assert f"Bl {wanted:.3f} T m" in words
    inside = abs(x) <= opened.result.usable_stroke.value * 1e3
    assert ("inside the usable stroke" in words) is inside


def test_the_coil_follows_keys_and_the_pointer_up_to_its_stops(opened: Live) -> None:
    slider = opened.page.locator("#moving-x")
    slider.evaluate("(e) => { e.value = 0; e.dispatchEvent(new Event('input')); }")
    slider.press("ArrowRight")
    assert place_of_coil(opened)[0] == pytest.approx(0.01, abs=1e-6)
    section = opened.page.locator("#moving-section")
    section.scroll_into_view_if_needed()
    box = section.bounding_box()
    x, y = box["x"] + box["width"] / 3, box["y"] + box["height"] / 2
    opened.page.mouse.move(x, y)
    opened.page.mouse.down()
    opened.page.mouse.move(x, y + 2000)
    opened.page.mouse.up()
    at, _, words = place_of_coil(opened)
    assert at == pytest.approx(moving_coil(opened.result).data["stops_mm"][0], abs=0.01)
    assert "at the inward stop" in words
