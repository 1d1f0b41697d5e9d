"""The page's arithmetic on random motors and settings, in a browser, against the program's."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import motor.report.page
from motor.base.errors import InvalidInput
from motor.design.coil import Coil
from motor.design.design import Design
from motor.design.stroke_rules import StrokeRules
from motor.report.page.design.live_data import live_data, wires_to_choose
from motor.results.motor_result import MotorResult, read_off, solve
from tests.random_motors import random_designs
from tests.unit.report.page.browser import AGREE, needs_browser

STATIC = Path(motor.report.page.__file__).parent / "static"
EVALUATE = """([data, all]) => all.map((settings) => {
  const f = motorWinding.evaluate(data, settings);
  return f.words === null ? {...f, x: [...f.x], bl: [...f.bl], spread: null} : f;
})"""


def settings_of(data: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    """Return settings in SI at random places of the sliders, some of them left as designed."""
    chosen: dict[str, Any] = {}
    for name, slider in data["sliders"].items():
        least, most, step, start = (float(slider[k]) for k in ("min", "max", "step", "value"))
        value = least + step * rng.integers(0, round((most - least) / step) + 1)
        moved = rng.random() < 0.6
        if name in data["exact"]:
            exact = data["exact"][name]["metres"]
            chosen[name] = float(f"{value * 1e-3:.15g}") if moved else exact
        else:
            chosen[name] = round(value if moved else start)
    return chosen


def coil_of(design: Design, settings: dict[str, Any]) -> Coil:
    wire = wires_to_choose(design)[settings["wire"]][0]
    return dataclasses.replace(design.coil, **{**settings, "wire": wire})


def outcome(result: MotorResult, settings: dict[str, Any]) -> MotorResult | str:
    """Return what the program says to the settings: a result, or why there is none."""
    try:
        changed = result.design.replace(coil=coil_of(result.design, settings))
    except InvalidInput as problem:
        return str(problem)
    return read_off(changed, result.field)


def same_sentence(found: str | None, wanted: str) -> bool:
    """Say whether both refuse for the same reason; the page leaves out an overlap's size."""
    if found is None:
        return False
    plain = wanted.split("; received an overlap")[0].replace("clear of ", "clear of the ")
    return found.replace("_", " ").startswith(plain.replace("_", " "))


@needs_browser
def test_random_windings_in_random_motors(browser: Any) -> None:
    rng = np.random.default_rng(5)
    solved = refused = 0
    page = browser.new_page()
    for script in ("curves", "field", "room", "winding"):
        page.add_script_tag(path=STATIC / f"{script}.js")
    for design in random_designs(99, 16):
        split = 2 if design.coil.turns % 2 == 0 else 1
        coil = dataclasses.replace(design.coil, windings=split, connection="parallel")
        rules = StrokeRules(limits=("bl_82", "bl_70", "overhang", "mechanical"))
        design = design.replace(coil=coil, stroke=rules)
        result = solve(design, uncertainty=False)
        data = live_data(result)
        tried = [settings_of(data, rng) for _ in range(10)]
        for settings, found in zip(tried, page.evaluate(EVALUATE, [data, tried]), strict=True):
            wanted = outcome(result, settings)
            if isinstance(wanted, str):
                refused += 1
                assert same_sentence(found["words"], wanted)
                continue
            solved += 1
            assert found["words"] is None
            curve, moves = wanted.bl_curve, wanted.travel
            largest = float(np.abs(curve.bl).max())
            np.testing.assert_allclose(found["bl"], curve.bl, atol=AGREE * largest)
            for value, other in (
                (found["coil"]["resistance"], wanted.resistance),
                (found["usable"]["value"], wanted.usable_stroke.value),
                (found["travel"]["inward"], moves.inward),
                (found["travel"]["outward"], moves.outward),
                (found["clearance"]["inner"], wanted.clearance.inner),
                (found["clearance"]["outer"], wanted.clearance.outer),
                (found["stroke82"]["symmetric"]["value"], wanted.stroke_82.symmetric.value),
            ):
                assert value == pytest.approx(other, rel=AGREE, abs=1e-12)
    page.close()
    assert solved > 40
    assert refused > 40
