"""Another winding tried on the page of a coil with parts, in a browser, against the program's."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np

from motor.design.coil import Coil
from motor.design.reading import design_from_toml, read_design
from motor.design.writing import design_to_toml
from motor.report.page import write_page
from motor.report.page.design.live_data import live_data
from motor.results.motor_result import read_off, solve
from tests.unit.report.page.browser import AGREE, needs_browser, open_page

DESIGN = Path(__file__).parents[4] / "studies" / "designs" / "bass_two_gaps.toml"
SET = """([name, value]) => {
  const element = document.getElementById(`live-${name}`);
  element.value = value;
  element.dispatchEvent(new Event(element.tagName === "SELECT" ? "change" : "input"));
}"""
RESULT = "() => ({...motorLive.result, x: null, spread: null, bl: [...motorLive.result.bl]})"
READY = "Bokeh.documents.some((d) => d.get_model_by_name('live-curve') !== null)"


@needs_browser
def test_each_part_has_its_sliders_and_the_lines_are_the_design_shown(
    browser: Any, tmp_path: Path
) -> None:
    drawn = read_design(DESIGN)
    coil = dataclasses.replace(drawn.coil, connection="parallel")
    result = solve(drawn.replace(coil=coil), uncertainty=False)
    opened = open_page(browser, write_page(result, tmp_path / "page.html"), READY)
    page = opened.page
    assert page.evaluate("motorLive.result.words") is None
    page.evaluate(SET, ["rest_position", "1"])
    page.evaluate(SET, ["part", "1"])
    assert "main winding" in page.inner_text("label[for=live-rest_position]")
    page.evaluate(SET, ["layers", str(coil.parts[0].layers + 2)])
    part = dataclasses.replace(coil.parts[0], layers=coil.parts[0].layers + 2)
    _same(page, result, dataclasses.replace(coil, rest_position=1e-3, parts=(part,)))
    page.evaluate(SET, ["wire", "0"])
    thin = live_data(result)["further"][0]["wires"][0]["label"]
    assert page.inner_text("#live-wire-value") == thin
    page.evaluate(SET, ["part", "0"])
    assert page.input_value("#live-rest_position") == "1"
    text = page.inner_text("#live-lines")
    head, _, rest = design_to_toml(result.design).partition("[coil]\n")
    others = rest[rest.index("[moving_parts]") :] if "[moving_parts]" in rest else ""
    shown = design_from_toml(f"{head}{text}\n{others}").coil
    assert shown.parts[0].wire is not None
    _same(page, result, shown)
    page.click("#live-reset")
    _same(page, result, coil)
    opened.assert_alone()
    page.close()


def _same(page: Any, result: Any, coil: Coil) -> None:
    wanted, found = read_off(result.design.replace(coil=coil), result.field), page.evaluate(RESULT)
    assert found["words"] is None
    largest = float(np.abs(wanted.bl_curve.bl).max())
    np.testing.assert_allclose(found["bl"], wanted.bl_curve.bl, atol=AGREE * largest)
    assert abs(found["coil"]["resistance"] / wanted.resistance - 1) < AGREE
    assert abs(found["usable"]["value"] / wanted.usable_stroke.value - 1) < AGREE
    assert abs(found["clearance"]["outer"] - wanted.clearance.outer) < 1e-12
