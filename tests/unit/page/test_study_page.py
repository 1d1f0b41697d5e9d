"""The page of a study without a browser: what it holds equals what the study gives."""

from __future__ import annotations

import base64
import contextlib
import dataclasses
import itertools
import json
import math
import re
import shutil
import sqlite3
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from motor.cli import main
from motor.design_file import design_from_toml, read_design
from motor.errors import OutputError
from motor.report.page import write_study_page
from motor.report.page.study.collect import MARGIN, OBJECTIVE, studied
from motor.report.page.study.columns import columns_of
from motor.report.page.study.command import is_study
from motor.report.page.study.data import within_room
from motor.report.page.study.held import goals_of
from motor.report.page.study.page import study_page
from motor.study.evaluate import Measure
from motor.study.figures import grid_of
from motor.study.pareto import pareto_front
from motor.study.plan import Plan, values
from motor.study.processes import Here
from motor.study.study_file import StudyFile, read_study
from motor.study.tables import Table, study_table
from motor.study.tolerance import read_scatter, share_inside

from .studies import KINDS, TEXTS, Case
from .test_page import LARGEST_PAGE


@pytest.fixture(params=KINDS)
def any_case(request: pytest.FixtureRequest, cases: dict[str, Case]) -> Case:
    return cases[request.param]


def values_of(column: dict[str, Any], count: int) -> list[Any]:
    """Return a column as the page's script reads it, the base design's value last."""
    if "same" in column:
        return [column["same"]] * (count + 1)
    raw = base64.b64decode(column["numbers"] if "numbers" in column else column["index"])
    if "numbers" in column:
        return [None if math.isnan(v) else v for v in np.frombuffer(raw, "<f8").tolist()]
    return [None if k < 0 else column["words"][k] for k in np.frombuffer(raw, "<i2").tolist()]


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
        assert values_of(column, len(table))[:-1] == table.column(column["key"]), column["key"]


def test_the_base_design_is_among_them(any_case: Case) -> None:
    study, data = any_case.study, any_case.data
    solved = {c["key"]: values_of(c, data["count"])[-1] for c in data["columns"]}
    assert study.base is not None
    assert solved["bl_at_rest_Tm"] == study.base["bl_at_rest_Tm"]
    if any_case.kind != "curves":
        height = study.asked.design.coil.winding_height
        assert solved["coil.winding_height_mm"] == pytest.approx(height * 1e3)


def test_lines_of_all_designs_are_held_where_they_are_few(any_case: Case) -> None:
    assert any_case.data["changes"]["only"] is None


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


def merged(base: str, lines: str) -> str:
    """Put changed lines into a design file, each in place of the line of the same key."""
    section, changed = "", {}
    for line in lines.splitlines():
        if line.startswith("["):
            section = line
        elif " = " in line and not line.startswith("#"):
            changed[section, line.partition(" = ")[0]] = line
    section, out = "", []
    for line in base.splitlines():
        section = line if line.startswith("[") else section
        out.append(changed.pop((section, line.partition(" = ")[0]), line))
        if line.startswith("["):
            new = [k for k in changed if k[0] == line and f"\n{k[1]} = " not in base]
            out.extend(changed.pop(key) for key in new)
    assert not changed
    return "\n".join(out) + "\n"


def lines_of(data: dict[str, Any], number: int) -> str:
    found = []
    for (section, _), texts, packed in zip(
        *(data["changes"][key] for key in ("keys", "lines", "choice")), strict=True
    ):
        k = np.frombuffer(base64.b64decode(packed), "<i2")[number]
        if k >= 0:
            found += [section, texts[k]]
    return "\n".join(found)


@pytest.mark.parametrize("kind", ["sweep", "target", "curves"])
def test_changed_lines_and_base_give_the_design(cases: dict[str, Case], kind: str) -> None:
    one = cases[kind]
    for number, design in enumerate(one.study.designs):
        if design is not None:
            text = merged(one.study.base_text, lines_of(one.data, number))
            assert design_from_toml(text) == design


def test_a_value_that_becomes_the_usual_one_is_written(folder: Path) -> None:
    source = folder / "usual.toml"
    off = TEXTS["curves"].partition("[[sweep]]")[0]
    source.write_text(
        f'{off}[[sweep]]\n"coil.travel_margin" = ["0 mm", "1 mm"]\n', encoding="utf-8"
    )
    written = write_study_page(read_study(source), folder / "usual.html", engine=Here())
    assert 'travel_margin = \\"0 mm\\"' in written.read_text(encoding="utf-8")


def test_designs_in_full_are_those_of_the_table(any_case: Case) -> None:
    table, data = any_case.study.table, any_case.data
    held = data["held"]
    assert 2 <= len(held) <= 12
    rest = table.array("bl_at_rest_Tm")
    for item in held:
        x, bl = (np.frombuffer(base64.b64decode(item[key]), "<f8") for key in ("x", "bl"))
        assert any_case.study.base is not None
        wanted = any_case.study.base["bl_at_rest_Tm"] if item["base"] else rest[item["number"]]
        assert float(np.interp(0.0, x, bl)) == pytest.approx(wanted, rel=2e-4)
        assert {role for _, role, _ in item["parts"]} >= {"steel", "magnet", "coil"}
    if any_case.kind == "target":
        assert any_case.study.answer is not None
        assert held[0]["number"] == any_case.study.answer.tried.index(any_case.study.answer.best)


def test_target_page_tells_each_requirement_with_its_margin(cases: dict[str, Case]) -> None:
    target = cases["target"]
    answer, table = target.study.answer, target.study.table
    assert answer is not None
    assert len(table) == answer.trials == len(answer.tried)
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
        scatter = read_scatter(table, asked.tolerances, asked.design, key)
        assert [figure[n] for n in ("mean", "deviation", "low", "high")] == [
            scatter.mean,
            scatter.deviation,
            scatter.low,
            scatter.high,
        ]
        assert dict(figure["shares"]) == scatter.shares
        shares = [share for _, share in figure["shares"]]
        assert shares == sorted(shares, reverse=True)
        assert sum(figure["counts"]) == len(table)
        assert dict(figure["percentiles"])[97.5] == pytest.approx(scatter.high)
        if key in asked.limits:
            limits = {key: asked.limits[key]}
            assert figure["inside"] == share_inside(table, limits)
    assert all(cases[kind].data["spread"] is None for kind in KINDS if kind != "tolerances")


def test_what_matters_least_is_left_out_first(cases: dict[str, Case]) -> None:
    study = cases["sweep"].study
    columns = columns_of(study)
    groups = ("other", "spread", "result")
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
    assert [counts[-1] for counts in kept.values()] == [0, 0, 0]


def test_five_thousand_designs_make_a_page_that_can_be_sent(cases: dict[str, Case]) -> None:
    """All numbers and all changed lines of all designs differ."""
    study, many = cases["sweep"].study, 5000
    good = [n for n, error in enumerate(study.table.column("error")) if not error]
    spread = np.random.default_rng(5).uniform(0.9, 1.1, (many, len(study.table.columns)))
    rows, designs, texts = [], [], []
    for number in range(many):
        old = good[number % len(good)]
        row = [
            v * s if isinstance(v, float) else v
            for v, s in zip(study.table.rows[old], spread[number], strict=True)
        ]
        row[study.table.columns.index("number")] = number
        rows.append(tuple(row))
        designs.append(study.designs[old])
        unique = f'"{13 + number * 1e-5:.17g} mm"'
        texts.append(re.sub(r'"[0-9.]+ mm"', unique, study.texts[old]))
    heavy = dataclasses.replace(
        study,
        table=Table(study.table.columns, tuple(rows)),
        designs=tuple(designs),
        texts=tuple(texts),
    )
    page = study_page(heavy)
    assert len(page.text().encode()) < LARGEST_PAGE
    shown = {c["key"] for c in page.data["study-data"]["columns"]}
    assert {"coil.winding_height_mm", "usable_stroke_mm", "bl_at_rest_Tm", "total_cost"} <= shown
    held = page.data["study-data"]
    front, only = held["front"]["members"], held["changes"]["only"]
    assert front
    assert set(front) <= set(only)


def run(*arguments: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(a) for a in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def held_in_page(path: Path) -> Any:
    """Return the data that a page's scripts read."""
    found = re.search(r'id="study-data">(.*?)</script>', path.read_text(encoding="utf-8"))
    assert found is not None
    return json.loads(found[1])


def solved_at(store: Path) -> list[tuple[str, str]]:
    with contextlib.closing(sqlite3.connect(store)) as base:
        return base.execute("SELECT fingerprint, finished FROM designs ORDER BY 1").fetchall()


def test_command_knows_a_study_and_solves_nothing_again(
    cases: dict[str, Case], folder: Path
) -> None:
    results = folder / "results"
    results.mkdir()
    shutil.copy(folder / "tolerances.sqlite", results / "study.sqlite")
    before = solved_at(results / "study.sqlite")
    out = folder / "from_results.html"
    done = run("report", folder / "tolerances.toml", "--out", out, "--results", results)
    assert done.exit_code == 0, done.output
    assert held_in_page(out) == held_in_page(cases["tolerances"].path)
    assert solved_at(results / "study.sqlite") == before
    assert len(before) == len(cases["tolerances"].study.table) + 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--accuracy", "0.1%"], "--accuracy must be left out for a study"),
        (["--results", "nowhere"], "--results must hold study.sqlite"),
    ],
)
def test_options_that_do_not_fit_are_refused(
    cases: dict[str, Case], folder: Path, arguments: list[str], words: str
) -> None:
    del cases
    done = run("report", folder / "sweep.toml", "--out", folder / "no.html", *arguments)
    assert done.exit_code == 2
    assert words in done.output
    assert not (folder / "no.html").exists()


def test_results_belong_to_a_study(folder: Path) -> None:
    design = Path(tomllib.loads(TEXTS["sweep"])["design"])
    done = run("report", design, "--out", folder / "no.html", "--results", folder)
    assert done.exit_code == 2
    assert "--results must come with a study file" in done.output


def test_kind_of_file_is_told_by_what_it_holds(folder: Path, cases: dict[str, Case]) -> None:
    assert all(is_study(folder / f"{kind}.toml") for kind in cases)
    assert not is_study(Path(tomllib.loads(TEXTS["sweep"])["design"]))
    assert not is_study(folder / "not there.toml")
    (folder / "broken.toml").write_text("sweep = [", encoding="utf-8")
    assert not is_study(folder / "broken.toml")


def test_a_study_without_one_result_still_makes_a_page(folder: Path) -> None:
    source = folder / "none.toml"
    head = TEXTS["curves"].partition("[[sweep]]")[0]
    source.write_text(
        f'{head}[[sweep]]\n"coil.winding_height" = ["70 mm", "80 mm"]\n', encoding="utf-8"
    )
    written = write_study_page(read_study(source), folder / "none.html", engine=Here())
    text = written.read_text(encoding="utf-8")
    assert "2 without a result" in text
    assert 'id="map"' not in text
    assert 'id="front"' not in text


def test_names_cannot_break_out_of_the_page(folder: Path) -> None:
    name = '<b>&"</script><!--'
    source = folder / "nasty.toml"
    text = f"name = '{name}'\n" + TEXTS["curves"].partition("\n")[2]
    source.write_text(text, encoding="utf-8")
    shutil.copy(folder / "curves.sqlite", folder / "nasty.sqlite")
    written = write_study_page(
        read_study(source),
        folder / "nasty.html",
        store=folder / "nasty.sqlite",
        text=text,
        engine=Here(),
    )
    page = written.read_text(encoding="utf-8")
    assert name not in page
    assert page.count("&lt;b&gt;&amp;&#34;&lt;/script&gt;") >= 3


def test_a_study_of_names_only_from_python(folder: Path) -> None:
    base = read_design(Path(tomllib.loads(TEXTS["sweep"])["design"]))
    plan = Plan(base, (values("materials.magnet", ["Y30", "Y33"]),))
    asked = StudyFile("two grades", base, Measure(), plan)
    written = write_study_page(asked, folder / "names.html", engine=Here())
    page = written.read_text(encoding="utf-8")
    assert 'id="pair-x"' in page
    assert 'id="study-text"' not in page
    data = held_in_page(written)
    assert data["map"] is None
    assert {tuple(texts) for texts in data["changes"]["lines"]} == {
        ('magnet = "Y30"', 'magnet = "Y33"')
    }


def test_a_base_that_cannot_be_solved_is_left_out(folder: Path) -> None:
    base = read_design(Path(tomllib.loads(TEXTS["sweep"])["design"]))
    plan = Plan(base, (values("coil.winding_height", [10e-3, 12e-3]),))
    asked = StudyFile("no base", base, Measure(), plan)
    made = studied(asked, folder / "no_base.sqlite", engine=Here())
    without = dataclasses.replace(made, base=None)
    data = study_page(without).data["study-data"]
    assert data["base"] is None
    assert [item["number"] for item in data["held"]] == [1, 0]
    assert values_of(column_of(data, "bl_at_rest_Tm"), 2)[-1] is None


def column_of(data: Any, key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(c for c in data["columns"] if c["key"] == key)
    return found


def test_an_unwritable_page_is_told(folder: Path, cases: dict[str, Case]) -> None:
    with pytest.raises(OutputError, match="could not be written"):
        write_study_page(
            cases["curves"].asked,
            folder / "nowhere" / "page.html",
            store=folder / "curves.sqlite",
            engine=Here(),
        )


def test_of_equals_the_one_with_most_force_is_named(cases: dict[str, Case]) -> None:
    study = cases["sweep"].study
    mass, force = (study.table.array(k) for k in ("motor_mass_g", "motor_constant_N2_per_W"))
    light = np.flatnonzero(np.abs(mass - np.nanmin(mass)) < 1e-6)
    assert len(light) > 1
    best = {goal.key: number for goal, number in goals_of(study)}
    assert best["motor_mass_g"] == light[np.argmax(force[light])]
    assert best["usable_stroke_mm"] == np.nanargmax(study.table.array("usable_stroke_mm"))
    assert f"design {best['motor_mass_g']} (" in cases["sweep"].path.read_text(encoding="utf-8")
