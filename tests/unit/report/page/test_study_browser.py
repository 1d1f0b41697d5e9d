"""The page of a study in a real browser: lists and figures show what the study gives."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from motor.study.pareto import pareto_front

from .browser import HEIGHT, WIDTH, Opened, needs_browser, open_page
from .studies import KINDS, Case

pytestmark = needs_browser

SOURCE = """(name) => Object.fromEntries(
  Object.entries(motorStudy.model(name).data).map(([key, values]) => [key, [...values]]))"""
PLACE = """([name, k]) => {
  const source = motorStudy.model(name), { left, right, bottom, top, number } = source.data;
  const draws = (view) => (view.model.renderers ?? []).some((r) => r.data_source === source);
  const view = Bokeh.index.roots.find(draws), box = view.el.getBoundingClientRect();
  const { x_scale, y_scale } = view.frame;
  return [
    box.x + x_scale.compute((left[k] + right[k]) / 2),
    box.y + y_scale.compute((bottom[k] + top[k]) / 2),
    number[k],
  ];
}"""
"""Where a field of a map is in the window, and its design."""


@dataclasses.dataclass
class Shown(Opened):
    """A study's page in the browser, and the study it was made of."""

    case: Case

    def source(self, name: str) -> dict[str, list[Any]]:
        """Return what a figure draws."""
        found: dict[str, list[Any]] = self.page.evaluate(SOURCE, name)
        return found

    def has(self, section: str) -> bool:
        return bool(self.page.locator(f"section#{section}").count())


@pytest.fixture(scope="module")
def pages(browser: Any, cases: dict[str, Case]) -> Iterator[dict[str, Shown]]:
    ready = "document.body.dataset.ready !== undefined"
    shown = {
        kind: Shown(**vars(open_page(browser, case.path, ready)), case=case)
        for kind, case in cases.items()
    }
    yield shown
    for one in shown.values():
        one.page.close()


@pytest.fixture(params=KINDS)
def shown(request: pytest.FixtureRequest, pages: dict[str, Shown]) -> Shown:
    return pages[request.param]


def pick_by_keyboard(page: Any, name: str, value: str) -> None:
    """Select a value with the arrow keys only."""
    options = page.locator(f"#{name} option").evaluate_all("(all) => all.map((o) => o.value)")
    page.focus(f"#{name}")
    page.keyboard.press("Home")
    for _ in range(options.index(value)):
        page.keyboard.press("ArrowDown")
    assert page.input_value(f"#{name}") == value


def test_opens_from_disk_silently_and_alone(shown: Shown) -> None:
    shown.assert_alone()
    assert shown.path.stat().st_size < 2_000_000
    for plot in shown.page.locator(".plot").all():
        assert plot.locator("canvas, svg").first.bounding_box()["height"] > 200


def test_each_kind_has_its_own_sections(pages: dict[str, Shown]) -> None:
    own = {"sweep": "map", "curves": "curves", "target": "pair", "tolerances": "spread"}
    for kind, section in own.items():
        assert pages[kind].has(section)
        absent = set(own.values()) - {section} - ({"pair"} if kind == "tolerances" else set())
        assert not any(pages[kind].has(other) for other in absent)
        assert pages[kind].has("front") == (kind != "tolerances")
        for anchor in ("answer", "varied", "one", "compare", "files", "cautions"):
            assert pages[kind].has(anchor)


@pytest.mark.parametrize("key", ["bl_at_rest_Tm", "total_cost", "usable_stroke_mm"])
def test_map_shows_the_selected_result(pages: dict[str, Shown], key: str) -> None:
    sweep = pages["sweep"]
    pick_by_keyboard(sweep.page, "map-result", key)
    table, cells = sweep.case.study.table, sweep.source("map-cells")
    values = table.array(key)
    assert cells["value"] == [values[n] for n in cells["number"]]
    assert sorted(cells["number"]) == np.flatnonzero(np.isfinite(values)).tolist()
    assert sorted(sweep.source("map-failed")["number"]) == [9, 10, 11]
    x = table.array(sweep.case.data["map"]["x"])
    for left, right, number in zip(cells["left"], cells["right"], cells["number"], strict=True):
        assert left < x[number] < right
    ends = sweep.page.evaluate("(({low, high}) => [low, high])(motorStudy.model('map-colours'))")
    assert ends == [np.nanmin(values), np.nanmax(values)]
    assert sweep.said == []


def test_curves_carry_their_uncertainty(pages: dict[str, Shown]) -> None:
    shown = pages["curves"]
    pick_by_keyboard(shown.page, "curves-result", "bl_at_rest_Tm")
    table = shown.case.study.table
    bl, spread = (table.array(k) for k in ("bl_at_rest_Tm", "bl_at_rest_uncertainty_Tm"))
    numbers = []
    for k in range(2):
        drawn = shown.source(f"curve-{k}")
        members = drawn["number"]
        numbers += members
        assert drawn["x"] == [10, 12, 14]
        np.testing.assert_array_equal(drawn["y"], bl[members])
        np.testing.assert_allclose(drawn["high"], (bl + spread)[members], rtol=1e-14)
        np.testing.assert_allclose(drawn["low"], (bl - spread)[members], rtol=1e-14)
    assert sorted(numbers) == list(range(6))


def test_pair_shows_any_two_columns(pages: dict[str, Shown]) -> None:
    shown = pages["target"]
    for name, value in (
        ("pair-x", "coil.winding_height_mm"),
        ("pair-y", "bl_at_rest_Tm"),
        ("pair-colour", "target_margin_percent"),
    ):
        pick_by_keyboard(shown.page, name, value)
    table, points = shown.case.study.table, shown.source("pair-points")
    for column, key in (
        ("x", "coil.winding_height_mm"),
        ("y", "bl_at_rest_Tm"),
        ("value", "target_margin_percent"),
    ):
        assert points[column] == [table.array(key)[n] for n in points["number"]]
    assert len(points["x"]) == sum(not e for e in table.column("error"))


@pytest.mark.parametrize(
    ("x", "x_way", "y", "y_way"),
    [
        ("usable_stroke_mm", "more", "motor_constant_N2_per_W", "more"),
        ("bl_at_rest_Tm", "more", "total_cost", "less"),
        ("moving_mass_g", "less", "largest_asymmetry", "less"),
        ("moving_mass_g", "more", "bl_at_rest_Tm", "less"),
    ],
)
@pytest.mark.parametrize("kind", ["sweep", "target", "curves"])
def test_front_is_the_one_of_the_study(
    pages: dict[str, Shown], kind: str, x: str, x_way: str, y: str, y_way: str
) -> None:
    shown = pages[kind]
    for name, value in (("x", x), ("y", y), ("x-way", x_way), ("y-way", y_way)):
        pick_by_keyboard(shown.page, f"front-{name}", value)
    table = shown.case.study.table
    goods = [
        table.array(key) * (1 if way == "more" else -1) for key, way in ((x, x_way), (y, y_way))
    ]
    front = pareto_front(np.stack(goods, axis=1)).tolist()
    assert shown.source("front-best")["number"] == front
    rest = set(np.flatnonzero(np.isfinite(table.array(x)))) - set(front)
    assert set(shown.source("front-rest")["number"]) == rest
    listed = shown.page.locator("#front-rows tr").evaluate_all(
        "(rows) => rows.map((row) => Number(row.dataset.number))"
    )
    assert listed == front
    for row, number in zip(shown.page.locator("#front-rows tr").all(), front, strict=True):
        cells = row.locator("td").all_inner_texts()
        assert float(cells[0]) == pytest.approx(table.array(x)[number], rel=1e-3)


def test_usual_direction_follows_the_result(pages: dict[str, Shown]) -> None:
    page = pages["sweep"].page
    pick_by_keyboard(page, "front-x", "moving_mass_g")
    assert page.input_value("#front-x-way") == "less"
    pick_by_keyboard(page, "front-x", "usable_stroke_mm")
    assert page.input_value("#front-x-way") == "more"


def test_a_row_of_the_front_shows_its_record_by_keyboard(pages: dict[str, Shown]) -> None:
    shown = pages["sweep"]
    page, table = shown.page, shown.case.study.table
    button = page.locator("#front-rows button").first
    number = int(button.inner_text())
    button.focus()
    page.keyboard.press("Enter")
    assert page.input_value("#one-number") == str(number)
    assert page.inner_text("#one-words").startswith(f"Design {number}: ")
    assert page.locator("#front-rows tr.chosen button").inner_text() == str(number)
    for key in ("bl_at_rest_Tm", "motor_mass_g", "resonance_Hz", "coil.winding_height_mm"):
        text = page.inner_text(f"#one-record td[data-key='{key}']").partition(" ")[0]
        assert float(text) == pytest.approx(table.array(key)[number], rel=1e-3)
    column = table.array("coil.winding_height_mm")[number]
    assert f'winding_height = "{column:g} mm"' in page.inner_text("#one-lines")


def test_a_failed_design_tells_why(pages: dict[str, Shown]) -> None:
    shown = pages["sweep"]
    shown.page.fill("#one-number", "10")
    shown.page.keyboard.press("Tab")
    error = shown.case.study.table.column("error")[10]
    assert error in shown.page.inner_text("#one-words")
    assert shown.page.locator("#one-record td").count() == 0
    shown.page.fill("#one-number", "999")
    shown.page.keyboard.press("Tab")
    assert shown.page.input_value("#one-number") == "11"


def tap(page: Any, x: float, y: float, number: int) -> None:
    """Tap a place until its design is chosen.

    One that a busy machine holds for 0.3 s is no tap to the figures, nor are two within 0.3 s.
    """
    from playwright.sync_api import TimeoutError as TooLate

    for _ in range(10):
        page.mouse.click(x, y)
        try:
            page.wait_for_function("(n) => motorStudy.state.chosen === n", arg=number, timeout=1000)
            return
        except TooLate:
            continue
    pytest.fail(f"design {number} is not chosen by a tap")


@pytest.mark.parametrize(("source", "field"), [("map-cells", 4), ("map-failed", 1)])
def test_a_tap_on_the_map_chooses_a_design(
    pages: dict[str, Shown], source: str, field: int
) -> None:
    page = pages["sweep"].page
    page.locator("#map .plot").scroll_into_view_if_needed()
    x, y, number = page.evaluate(PLACE, [source, field])
    assert page.input_value("#one-number") != str(number)
    tap(page, x, y, number)
    assert page.input_value("#one-number") == str(number)


def test_pointing_at_a_design_reads_its_values(pages: dict[str, Shown]) -> None:
    shown = pages["sweep"]
    page, table = shown.page, shown.case.study.table
    page.locator("#map .plot").scroll_into_view_if_needed()
    x, y, number = page.evaluate(PLACE, ["map-cells", 5])
    page.mouse.move(x - 3, y)
    page.mouse.move(x, y)
    tips = page.locator("[class*=ooltip]")
    tips.filter(has_text=f"design {number}").first.wait_for()
    text = next(t for t in tips.all_inner_texts() if t.startswith(f"design {number}\n"))
    record = table.records()[number]
    assert f"gap depth: {record['geometry.gap_depth_mm']:g} mm" in text
    assert f"winding height: {record['coil.winding_height_mm']:g} mm" in text
    bl, spread = record["bl_at_rest_Tm"], record["bl_at_rest_uncertainty_Tm"]
    assert f"Bl at rest: {bl:#.4g} ± {spread:.1g} T m" in text


def test_side_by_side_is_to_one_scale_and_tells_differences(shown: Shown) -> None:
    page, shortlist = shown.page, shown.case.data["shortlist"]
    first, second = shortlist[0]["number"], shortlist[1]["number"]
    for name, value in (("A", first), ("B", second), ("C", ""), ("D", "")):
        pick_by_keyboard(page, f"compare-{name}", str(value))
    drawings = page.locator("#compare-drawings svg")
    boxes = drawings.evaluate_all("(all) => all.map((svg) => svg.getAttribute('viewBox'))")
    widths = drawings.evaluate_all("(all) => all.map((s) => s.getBoundingClientRect().width)")
    assert len(boxes) == 2
    assert boxes[0] == boxes[1]
    assert widths[0] == pytest.approx(widths[1], abs=0.6)
    assert shown.source("compare-C")["x"] == []
    study = shown.case.study
    rest = study.table.array("bl_at_rest_Tm")
    assert study.base is not None
    for name, number in (("A", first), ("B", second)):
        curve = shown.source(f"compare-{name}")
        wanted = study.base["bl_at_rest_Tm"] if number < 0 else rest[number]
        assert float(np.interp(0.0, curve["x"], curve["bl"])) == pytest.approx(wanted, rel=2e-4)
    row = page.locator("#compare-rows tr[data-key=bl_at_rest_Tm] td").all_inner_texts()
    bl = [study.base["bl_at_rest_Tm"] if n < 0 else rest[n] for n in (first, second)]
    assert float(row[1]) == pytest.approx(bl[0], rel=1e-3)
    away = row[2].partition("(")[2].partition(",")[0].replace("\N{MINUS SIGN}", "-")
    assert float(away) == pytest.approx(bl[1] - bl[0], rel=1e-2)


def test_spread_follows_the_selected_result(pages: dict[str, Shown]) -> None:
    shown = pages["tolerances"]
    page = shown.page
    for key in ("stroke_82_mm", "resonance_Hz", "bl_at_rest_Tm"):
        pick_by_keyboard(page, "spread-result", key)
        figure = shown.case.data["spread"]["figures"][key]
        bars = shown.source("spread-bars")
        assert bars["top"] == figure["counts"]
        assert bars["left"] == figure["edges"][:-1]
        limits = [v for v in shown.case.asked.limits.get(key, ()) if v is not None]
        assert shown.source("spread-limits")["x"] == limits
        shares = page.locator("#spread-shares td.number").all_inner_texts()
        beside = figure["beside"]["shares"]  # by derivatives
        both = [(share, beside[name]) for name, share in figure["shares"]]
        assert shares == [f"{100 * share:.1f} %" for pair in both for share in pair]
        words = page.inner_text("#spread-words")
        assert (
            (f"{100 * figure['inside']:.1f} % are inside" in words)
            if limits
            else ("No limit is given" in words)
        )
    assert page.locator("#spread-shares th").first.inner_text() == "winding height"


def test_copied_texts_are_the_files(shown: Shown) -> None:
    content = "(id) => document.getElementById(id).textContent"
    assert shown.page.evaluate(content, "study-text") == shown.case.text
    assert shown.page.evaluate(content, "base-text") == shown.case.study.base_text


def test_controls_are_labelled_and_headings_in_order(shown: Shown) -> None:
    page = shown.page
    for control in page.locator("select, input").all():
        name = control.get_attribute("id")
        assert page.locator(f"label[for='{name}']").inner_text()
    levels = page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3')].map((h) => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels))
    for link in page.locator("nav.contents a").all():
        assert page.locator(f"section{link.get_attribute('href')}").count() == 1


@pytest.mark.parametrize("width", [1280, 1024, 768])
def test_nothing_sticks_out_sideways(shown: Shown, width: int) -> None:
    shown.assert_fits(width)
    shown.page.set_viewport_size({"width": WIDTH, "height": HEIGHT})
    assert shown.said == []


def test_paper_shows_the_figures_without_the_controls(shown: Shown) -> None:
    page = shown.page
    page.emulate_media(media="print")
    try:
        assert page.locator("select:visible, input:visible, nav.contents:visible").count() == 0
        assert page.locator("button:visible:not(.number-button)").count() == 0
        assert page.is_visible("#compare .plot")
        assert page.is_visible("#one-lines")
        assert len(page.pdf(prefer_css_page_size=True)) > 20_000
    finally:
        page.emulate_media(media="screen")
