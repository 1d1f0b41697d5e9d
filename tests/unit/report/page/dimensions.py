"""Dimensions tried on a page in the browser against the program's arithmetic, to 1e-9."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from motor.design.reading import design_from_toml
from motor.design.writing import design_to_toml
from motor.results.motor_result import MotorResult
from motor.study.parameters import TOGETHER, Draft
from motor.study.second_order import SecondOrder

SAME = 1e-9
SET = """(all) => all.map(([k, share]) => {
  const one = document.getElementById(`dim-${k}`);
  const low = Number(one.min), high = Number(one.max);
  one.value = low + share * (high - low);
  one.dispatchEvent(new Event("input"));
  return one.value;
})"""
RESULT = """() => {
  const f = motorTried.result;
  return {...f, x: [...f.x], bl: [...f.bl], band: [...f.band]};
}"""
DRAWN = "() => [...document.querySelectorAll('.dim-part')].map((e) => e.getAttribute('d'))"


def check_dimensions(page: Any, result: MotorResult, tried: SecondOrder) -> None:
    """Assert that the sliders do what the program does, and that the lines are the design."""
    rng = np.random.default_rng(3)
    before = page.evaluate(DRAWN)
    values = {lever.name: lever.value for lever in tried.levers}
    _same(page.evaluate(RESULT), tried.at({}))
    for _ in range(3):
        shares = [[k, float(rng.random())] for k in range(len(tried.levers))]
        texts = page.evaluate(SET, shares)
        changes = {
            lever.name: float(text) - lever.value
            for lever, text in zip(tried.levers, texts, strict=True)
        }
        _same(page.evaluate(RESULT), tried.at(changes))
        assert page.evaluate(DRAWN) != before
        said, there = page.inner_text("#dim-status"), tried.at(changes)
        touching = min(there.figures[f"clearance_{side}_mm"] for side in ("inner", "outer")) <= 0
        assert ("would touch" in said) == touching
        assert ("solve again" in said) == (there.far and not touching)
    head, _, rest = design_to_toml(result.design).partition("[geometry]\n")
    kept, _, after = rest[rest.index("[materials]") :].partition("[coil]\n")
    wire = after[after.index("[coil.wire]") :]
    shown = design_from_toml(f"{head}{page.inner_text('#dim-lines')}\n{wire}\n{kept}")
    wanted = {
        one: round(1e-3 * (values[name] + change), 9)
        for name, change in changes.items()
        for one in name.split(TOGETHER)
    }
    assert shown == Draft(result.design, wanted).design()
    page.click("#dim-reset")
    _same(page.evaluate(RESULT), tried.at({}))
    assert "As designed" in page.inner_text("#dim-status")


def _same(found: Any, wanted: Any) -> None:
    largest = np.abs(wanted.bl).max()
    np.testing.assert_allclose(found["bl"], wanted.bl, atol=SAME * largest)
    np.testing.assert_allclose(found["band"], wanted.band, atol=SAME * largest)
    assert found["far"] == wanted.far
    assert found["figures"].keys() == wanted.figures.keys()
    for kind, values in (("figures", wanted.figures), ("bands", wanted.bands)):
        for key, value in values.items():
            if math.isfinite(value):
                assert math.isclose(found[kind][key], value, rel_tol=SAME, abs_tol=1e-12), key
    for name, outline in wanted.outlines.items():
        np.testing.assert_allclose(found["outlines"][name], outline, atol=1e-9)
