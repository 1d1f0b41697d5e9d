"""The page of a study without a browser: what it holds equals what the study gives."""

from __future__ import annotations

import base64
import copy
import dataclasses
import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from motor.report.figures.study import grid_of
from motor.report.page.study.collect import MARGIN, OBJECTIVE
from motor.report.page.study.columns import columns_of
from motor.report.page.study.data import within_room
from motor.report.page.study.page import study_page
from motor.report.page.study.shortlist import goals_of
from motor.results.usable_stroke import LIMIT_NAMES
from motor.study.pareto import pareto_front
from motor.study.study_table import StudyTable, study_table
from motor.study.tolerance import read_scatter, share_inside

from .reading import values_of
from .studies import KINDS, Case
from .test_page import LARGEST_PAGE


def test_every_number_is_the_tables(any_case: Case, folder: Path) -> None:
    asked, data = any_case.asked, any_case.data
    table = any_case.study.table
    if asked.plan is not None:
        fresh = study_table(folder / f"{any_case.kind}.sqlite", asked.plan, asked.measure)
        assert fresh == table
    shown = {column["key"] for column in data["columns"]}
    assert {"bl_at_rest_Tm", "usable_stroke_mm", "total_cost", "bl_at_rest_uncertainty_Tm"} <= shown
    assert data["count"] == len(table)
    for column in data["columns"]:
        expected = table.column(column["key"])
        if column["key"] == "usable_stroke_limited_by":
            expected = [limit and LIMIT_NAMES[limit] for limit in expected]
        assert values_of(column, len(table))[:-1] == expected, column["key"]


def test_the_base_design_is_among_them(any_case: Case) -> None:
    study, data = any_case.study, any_case.data
    solved = {c["key"]: values_of(c, data["count"])[-1] for c in data["columns"]}
    assert study.base is not None
    assert solved["bl_at_rest_Tm"] == study.base["bl_at_rest_Tm"]
    if any_case.kind != "curves":
        height = study.asked.design.coil.winding_height
        assert solved["coil.winding_height_mm"] == pytest.approx(height * 1e3)


def test_failed_designs_are_named_with_their_reason(cases: dict[str, Case]) -> None:
    sweep = cases["sweep"]
    errors = sweep.study.table.column("error")
    failed = [n for n, error in enumerate(errors) if error]
    assert failed == [9, 10, 11]
    kept = sweep.data["failed"]
    assert [kept["words"][k] if k >= 0 else "" for k in kept["index"]] == errors
    text = sweep.path.read_text(encoding="utf-8")
    assert "9, 10, 11" in text
    assert "must stay clear of yoke at rest" in text


def test_first_front_is_the_studys(any_case: Case) -> None:
    table = any_case.study.table
    goods = np.stack([table.array("usable_stroke_mm"), table.array("motor_constant_N2_per_W")], 1)
    assert any_case.data["front"]["members"] == pareto_front(goods).tolist()


def test_map_is_the_grid_of_the_study(cases: dict[str, Case]) -> None:
    sweep = cases["sweep"]
    shown, table = sweep.data["map"], sweep.study.table
    across, up, bl = grid_of(table, shown["x"], shown["y"], "bl_at_rest_Tm")
    assert shown["across"] == across.tolist() == [10, 13, 16, 70]
    assert shown["up"] == up.tolist() == [5, 6, 7]
    bl_of = table.array("bl_at_rest_Tm")
    np.testing.assert_array_equal(bl_of[np.array(shown["cells"])], bl)
    lines = shown["lines"]["bl_at_rest_Tm"]
    assert len(lines) >= 2
    for line in lines:
        for x, y in line["lines"]:
            for px, py in zip(x, y, strict=True):
                j = int(np.clip(np.searchsorted(across, px) - 1, 0, 2))
                i = int(np.clip(np.searchsorted(up, py) - 1, 0, 1))
                corners = bl[i : i + 2, j : j + 2]
                assert np.nanmin(corners) - 1e-6 <= line["level"] <= np.nanmax(corners) + 1e-6
    assert all(cases[kind].data["map"] is None for kind in KINDS if kind != "sweep")


def test_designs_in_full_are_those_of_the_table(any_case: Case) -> None:
    table, data = any_case.study.table, any_case.data
    shortlist = data["shortlist"]
    assert 2 <= len(shortlist) <= 12
    rest = table.array("bl_at_rest_Tm")
    for item in shortlist:
        x, bl = (np.frombuffer(base64.b64decode(item[key]), "<f8") for key in ("x", "bl"))
        assert any_case.study.base is not None
        wanted = any_case.study.base["bl_at_rest_Tm"] if item["base"] else rest[item["number"]]
        assert float(np.interp(0.0, x, bl)) == pytest.approx(wanted, rel=2e-4)
        assert {role for _, role, _ in item["parts"]} >= {"steel", "magnet", "coil"}
    if any_case.kind == "target":
        assert any_case.study.answer is not None
        assert shortlist[0]["number"] == any_case.study.answer.tried.index(
            any_case.study.answer.best
        )


def test_target_page_tells_each_requirement_with_its_margin(cases: dict[str, Case]) -> None:
    target = cases["target"]
    answer, table = target.study.answer, target.study.table
    assert answer is not None
    assert 1 < len(table) == len(answer.tried) < answer.trials
    best = answer.tried.index(answer.best)
    assert table.column(OBJECTIVE)[best] == answer.best.objective
    assert table.column(MARGIN)[best] == 100 * answer.best.worst >= 0
    text = target.path.read_text(encoding="utf-8")
    assert "The target can be met." in text
    for need in answer.best.requirements:
        assert f'<th scope="row">{need.name}</th>' in text
        assert f"{100 * need.slack:+.1f}" in text or f"{100 * need.slack:+.2f}" in text


def test_spread_is_the_studys(cases: dict[str, Case]) -> None:
    one = cases["tolerances"]
    asked, table, spread = one.asked, one.study.table, one.data["spread"]
    assert spread["inside"] == share_inside(table, asked.limits)
    assert 0 < spread["inside"] < 1
    for key in ("bl_at_rest_Tm", "stroke_82_mm", "resonance_Hz"):
        figure = spread["figures"][key]
        scatter = read_scatter(table, asked.production, key)
        assert [figure[n] for n in ("mean", "deviation", "low", "high")] == [
            scatter.mean,
            scatter.deviation,
            scatter.low,
            scatter.high,
        ]
        assert dict(figure["shares"]) == scatter.shares
        shares = [share for _, share in figure["shares"]]
        assert shares == sorted(shares, reverse=True)
        assert figure["beside"]["deviation"] == pytest.approx(scatter.deviation, rel=0.15)
        assert figure["beside"]["shares"].keys() == scatter.shares.keys()
        assert sum(figure["counts"]) == len(table)
        assert dict(figure["percentiles"])[97.5] == pytest.approx(scatter.high)
        if key in asked.limits:
            limits = {key: asked.limits[key]}
            assert figure["inside"] == share_inside(table, limits)
    page = one.path.read_text(encoding="utf-8")
    assert "By derivatives, from one solve: inside all limits: " in page
    assert "Motors drawn and derivatives " in page
    assert all(cases[kind].data["spread"] is None for kind in KINDS if kind != "tolerances")


def test_what_matters_least_is_left_out_first(cases: dict[str, Case]) -> None:
    study = cases["sweep"].study
    columns = columns_of(study)
    groups = ("other", "force", "spread", "result")
    kept: dict[str, list[int]] = {group: [] for group in groups}
    for room in (20_000, 6000, 3000, 0):
        shown = within_room(study, columns, room)
        assert [c for c in shown if c.group == "varied"] == columns[:2]
        for group in groups:
            kept[group].append(sum(c.group == group for c in shown))
    assert sum(counts[0] for counts in kept.values()) == len(columns) - 2
    assert all(b <= a for counts in kept.values() for a, b in itertools.pairwise(counts))
    assert kept["other"][1] < kept["other"][0]
    assert kept["result"][1] == kept["result"][0] > 10
    assert [counts[-1] for counts in kept.values()] == [0, 0, 0, 0]


def test_forces_have_a_group_and_limits_their_words(cases: dict[str, Case]) -> None:
    one = cases["sweep"]
    shown = {column["key"]: column for column in one.data["columns"]}
    forces = [key for key, column in shown.items() if column["group"] == "force"]
    assert any(key.startswith("pull_at_") for key in forces)
    parts = [key for key in shown if key.startswith("force_on_") and "uncertainty" not in key]
    assert {*parts} < {*forces}
    assert {*shown["usable_stroke_limited_by"]["words"]} <= {*LIMIT_NAMES.values()}
    assert not any("_" in column["what"] for column in shown.values())


def changed(record: Any, number: int) -> Any:
    """Return a record of the design with all its lengths a little longer, each by its own."""
    lengths = [f.name for f in dataclasses.fields(record) if f.metadata.get("quantity") == "length"]
    given = {name: value for name in lengths if (value := getattr(record, name)) is not None}
    more = {name: round(value + 1e-9 * (number + 1), 10) for name, value in given.items()}
    return dataclasses.replace(record, **more)


def test_five_thousand_designs_make_a_page_that_can_be_sent(cases: dict[str, Case]) -> None:
    """All numbers and all changed lines of all designs differ."""
    study, many = cases["sweep"].study, 5000
    good = [n for n, error in enumerate(study.table.column("error")) if not error]
    spread = np.random.default_rng(5).uniform(0.9, 1.1, (many, len(study.table.columns)))
    rows, designs = [], []
    for number in range(many):
        old = good[number % len(good)]
        row = [
            v * s if isinstance(v, float) else v
            for v, s in zip(study.table.rows[old], spread[number], strict=True)
        ]
        row[study.table.columns.index("number")] = number
        rows.append(tuple(row))
        design = study.designs[old]
        assert design is not None
        coil, wire = changed(design.coil, number), changed(design.coil.wire, number)
        twin = copy.copy(design)  # unchecked: whether it can be built takes a second in all
        object.__setattr__(twin, "coil", dataclasses.replace(coil, wire=wire))
        designs.append(twin)
    heavy = dataclasses.replace(
        study,
        table=StudyTable(study.table.columns, tuple(rows)),
        designs=tuple(designs),
    )
    page = study_page(heavy)
    assert len(page.text().encode()) < LARGEST_PAGE
    shown = {c["key"] for c in page.data["study-data"]["columns"]}
    assert {"coil.winding_height_mm", "usable_stroke_mm", "bl_at_rest_Tm", "total_cost"} <= shown
    found = page.data["study-data"]
    front, only = found["front"]["members"], found["changes"]["only"]
    assert front
    assert set(front) <= set(only)


def test_of_equals_the_one_with_most_force_is_named(cases: dict[str, Case]) -> None:
    study = cases["sweep"].study
    mass, force = (study.table.array(k) for k in ("motor_mass_g", "motor_constant_N2_per_W"))
    light = np.flatnonzero(np.abs(mass - np.nanmin(mass)) < 1e-6)
    assert len(light) > 1
    best = {goal.key: number for goal, number in goals_of(study)}
    assert best["motor_mass_g"] == light[np.argmax(force[light])]
    assert best["usable_stroke_mm"] == np.nanargmax(study.table.array("usable_stroke_mm"))
    assert f"design {best['motor_mass_g']} (" in cases["sweep"].path.read_text(encoding="utf-8")
