"""Pages of odd studies: no result, nasty names, names only, no base, nowhere to write."""

from __future__ import annotations

import dataclasses
import shutil
import tomllib
from pathlib import Path

import pytest

from motor.base.errors import OutputError
from motor.design.reading import read_design
from motor.report.page import write_study_page
from motor.report.page.study.collect import studied
from motor.report.page.study.page import study_page
from motor.study.evaluate import Measure
from motor.study.plan import Plan, values
from motor.study.processes import Here
from motor.study.study_file import StudyFile, read_study

from .reading import column_of, held_in_page, values_of
from .studies import TEXTS, Case


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


@pytest.mark.usefixtures("cases")
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
    assert [item["number"] for item in data["shortlist"]] == [1, 0]
    assert {part[1] for item in data["shortlist"] for part in item["parts"]} <= set(data["fills"])
    assert values_of(column_of(data, "bl_at_rest_Tm"), 2)[-1] is None


def test_an_unwritable_page_is_told(folder: Path, cases: dict[str, Case]) -> None:
    with pytest.raises(OutputError, match="could not be written"):
        write_study_page(
            cases["curves"].asked,
            folder / "nowhere" / "page.html",
            store=folder / "curves.sqlite",
            engine=Here(),
        )
