"""A design's page for its readers: telephone, dark screen, keyboard, buttons of the figures."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from motor import solve
from motor.design.reading import read_design
from motor.report.page import write_page
from tests.unit.report.page.browser import HEIGHT, Opened, needs_browser, open_page

pytestmark = needs_browser

DESIGN = Path(__file__).parents[4] / "studies" / "designs" / "door_woofer_ferrite.toml"
READY = "document.querySelectorAll('.tools:not([hidden])').length > 6"
CONTRAST = """() => {
  const light = (colour) => {
    const parts = colour.match(/[0-9.]+/g).slice(0, 3).map((v) => Number(v) / 255);
    const linear = parts.map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
  };
  const paper = light(getComputedStyle(document.querySelector(".sheet")).backgroundColor);
  const texts = ["h1", "h2", "p.quiet", "#results td.remark", "#results th", "summary", "label"];
  const contrasts = texts.map((text) => {
    const ink = light(getComputedStyle(document.querySelector(text)).color);
    return (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05);
  });
  return { paper, contrasts };
}"""


@pytest.fixture(scope="module")
def opened(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    path = write_page(solve(read_design(DESIGN)), tmp_path_factory.mktemp("page") / "page.html")
    shown = open_page(browser, path, READY)
    yield shown
    shown.page.close()


def test_a_telephone_shows_every_column_and_its_heading(opened: Opened) -> None:
    page = opened.page
    page.set_viewport_size({"width": 390, "height": HEIGHT})
    cells = page.locator("#results td.number, #try td.number, #materials td").all()
    boxes = [cell.bounding_box() for cell in cells]
    assert len(boxes) > 40
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= 390 for box in boxes if box)
    heads = page.locator("#materials td").evaluate_all(
        "(cells) => cells.map((c) => getComputedStyle(c, '::before').content)"
    )
    assert {'"used for: "', '"source: "'} <= {head.replace('" ": "', ': "') for head in heads}


def test_the_tab_key_reaches_the_first_slider_in_three_steps(opened: Opened) -> None:
    page = opened.page
    page.focus("a.skip")
    reached = []
    for _ in range(3):
        reached.append(page.evaluate("document.activeElement.id || document.activeElement.tagName"))
        page.keyboard.press("Tab")
    assert reached == ["A", "SUMMARY", "moving-x"]


def test_figures_have_buttons_of_the_page_and_none_of_the_library(opened: Opened) -> None:
    page = opened.page
    bars = page.locator(".tools:visible")
    assert bars.count() == page.locator(".plot").count() > 6
    ranges = """() => {
      const { x_range } = Bokeh.index.get_by_id(
        document.querySelector("#bl [data-root-id]").dataset.rootId).model;
      return [x_range.start, x_range.end];
    }"""
    before = page.evaluate(ranges)
    page.click("#bl [data-do=enlarge]")
    assert page.get_attribute("#bl [data-do=enlarge]", "aria-pressed") == "true"
    page.locator("#bl .plot").scroll_into_view_if_needed()
    box = page.locator("#bl .plot").bounding_box()
    page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.3 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 0.6 * box["height"], steps=4)
    page.mouse.up()
    low, high = page.evaluate(ranges)
    assert high - low < 0.5 * (before[1] - before[0])
    page.click("#bl [data-do=all]")
    assert page.evaluate(ranges) == pytest.approx(before)
    page.click("#bl [data-do=enlarge]")
    assert page.get_attribute("#bl [data-do=enlarge]", "aria-pressed") == "false"
    with page.expect_download() as saved:
        page.click("#bl [data-do=save]")
    assert Path(saved.value.path()).read_bytes()[:4] == b"<svg"
    assert page.locator("#bl .bk-Toolbar:visible").count() == 0


def test_a_reader_with_a_dark_screen_reads_light_on_dark(opened: Opened) -> None:
    page = opened.page
    light = page.evaluate(CONTRAST)
    page.emulate_media(color_scheme="dark")
    try:
        dark = page.evaluate(CONTRAST)
    finally:
        page.emulate_media(color_scheme="light")
    assert light["paper"] > 0.9 > 0.1 > dark["paper"]
    for shown in (light, dark):
        assert min(shown["contrasts"]) >= 4.5, shown  # WCAG 2.1, 1.4.3
