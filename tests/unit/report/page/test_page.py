"""The report page without a browser: what it holds, and that it is written or refused."""

from __future__ import annotations

import base64
import dataclasses
import json
import re
import sys
import types
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from geometries.dimensions import dimensions
from motor.base.errors import OutputError
from motor.base.units import parse_quantity
from motor.design.reading import design_from_toml, read_design
from motor.design.wire import FlatWire
from motor.design.writing import design_to_toml
from motor.materials import Magnet
from motor.report.page import page_text, write_page
from motor.report.page.assembling import json_for_script
from motor.report.page.design.inductance import inductance_section
from motor.report.page.design.live_data import live_data, wires_to_choose
from motor.report.page.design.page import design_page
from motor.report.page.design.sweep import sweep_section
from motor.report.style import STYLES, THEMES, theme
from motor.results.impedance import blocked_impedance
from motor.results.motor_result import MotorResult, read_off, solve
from tests.unit.cli.running import ran

DESIGNS = Path(__file__).parents[4] / "studies" / "designs"
KINDS = ["outside-magnet", "inside-magnet"]
LARGEST_PAGE = 5_000_000
NASTY = '<b>&"</script><!--'


class Outline(HTMLParser):
    """Collects headings, ids, addresses and visible text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self._inside: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self._inside and self._inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not {"script", "style"} & set(self._inside):
            self.words.append(data)

    @property
    def text(self) -> str:
        return "".join(self.words)


def _turn(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.asarray(a[0] * b[1] - a[1] * b[0])


@pytest.fixture(scope="module")
def page(solved: Callable[[str], MotorResult]) -> str:
    return page_text(solved("outside-magnet"))


def test_one_file_holds_all_sections_and_asks_for_nothing(page: str) -> None:
    assert len(page.encode()) < LARGEST_PAGE
    outline = Outline(page)
    ids = [attributes["id"] for _, attributes in outline.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    sections = [a["id"] for tag, a in outline.tags if tag == "section"]
    assert sections == [
        *("coil", "results", "section", "field", "gap", "bl", "try", "temperature", "forces"),
        *("cost", "materials", "convergence", "cautions", "design-file"),
    ]
    links = {a["href"] for tag, a in outline.tags if tag == "a"}
    assert {f"#{name}" for name in sections} <= links
    addresses = [a[k] for _, a in outline.tags for k in ("src", "href") if k in a]
    assert all(address and address[0] == "#" for address in addresses if address != "data:,")
    assert sum(tag == "h1" for tag, _ in outline.tags) == 1
    for landmark in ("header", "nav", "main", "footer"):
        assert sum(tag == landmark for tag, _ in outline.tags) == 1


def test_page_shows_the_results_sources_and_the_design(
    page: str, solved: Callable[[str], MotorResult]
) -> None:
    result = solved("outside-magnet")
    text = Outline(page).text
    assert f"{result.bl_curve.at_rest.value:.4g} " in text
    grade = result.design.materials.magnet_of("magnet")
    assert grade.name in text
    assert grade.source in text
    assert "invented defaults" in text
    assert "pacemakers" in text
    assert design_to_toml(result.design) in text
    assert str(result.field.unknowns) in text


def test_names_are_text_and_never_markup(solved: Callable[[str], MotorResult]) -> None:
    result = solved("inside-magnet")
    design = result.design.replace(name=NASTY, notes=NASTY)
    text = page_text(dataclasses.replace(result, design=design))
    outline = Outline(text)
    assert "b" not in {tag for tag, _ in outline.tags}
    assert outline.text.count(NASTY) >= 3
    assert outline.tags[-1][0] == "script"


@pytest.mark.parametrize("name", THEMES)
def test_colours_are_those_of_the_theme(name: str, solved: Callable[[str], MotorResult]) -> None:
    with theme(name):
        text = page_text(solved("inside-magnet"))
    look = STYLES[name]
    for colour in (look.ink, look.second, look.quiet, look.gap, look.flux, look.conductor):
        assert f'"{colour}"' in text, colour
    assert f"--ink: {look.ink}; --accent: {look.second};" in text
    other = STYLES[next(t for t in THEMES if t != name)]
    assert other.second not in text


def test_the_section_has_dimension_lines(page: str, solved: Callable[[str], MotorResult]) -> None:
    design = solved("outside-magnet").design
    found = dimensions(design.regions, design.geometry.gap)
    spans = (*found.diameters, *found.gap_diameters, found.gap_width, found.height, *found.stack)
    for span in spans:
        assert f"<title>{span.what}</title></path>" in page


def test_data_for_scripts_cannot_end_the_script() -> None:
    value = {"a": "</script><!--&"}
    text = json_for_script(value)
    assert not re.search("[<>&]", text)
    assert json.loads(text) == value


@pytest.mark.parametrize("kind", KINDS)
def test_live_data_hold_the_field_of_every_winding_that_fits(
    kind: str, solved: Callable[[str], MotorResult]
) -> None:
    result = solved(kind)
    data = json.loads(json_for_script(live_data(result)))
    coil, gap = result.design.coil, result.design.geometry.gap
    for name, level in (("fine", result.field.fine), ("coarse", result.field.coarse)):
        column = data[name]
        r, z, potential = (
            np.frombuffer(base64.b64decode(column[k]), "<f8") for k in ("r", "z", "potential")
        )
        nodes = np.frombuffer(base64.b64decode(column["nodes"]), "<i4").reshape(-1, 6)
        assert len(r) == len(z) == len(potential) == nodes.max() + 1
        assert potential == pytest.approx(level.potential_at(r, z), abs=1e-15)
        p, q, s = (np.stack([r[nodes[:, k]], z[nodes[:, k]]]) for k in range(3))
        part = level.system.mesh.partition
        for radius in np.linspace(coil.inner_radius, gap.outer_radius, 5):
            for height in np.linspace(part.centre - 0.9 * part.radius, part.centre, 40):
                at = np.array([[radius], [height]])
                turns = [_turn(b - a, at - a) for a, b in ((p, q), (q, s), (s, p))]
                same = np.all(np.array(turns) >= -1e-16, axis=0)
                other = np.all(np.array(turns) <= 1e-16, axis=0)
                assert (same | other).any()


@pytest.mark.parametrize("name", ["door_woofer_ferrite", "home_bass_long_stroke"])
def test_sliders_start_at_the_design_on_their_grid(name: str) -> None:
    design = read_design(DESIGNS / f"{name}.toml")
    data = live_data(solve(design, uncertainty=False))
    for key, slider in data["sliders"].items():
        least, most, step, value = (float(slider[k]) for k in ("min", "max", "step", "value"))
        assert least < value < most
        steps = (value - least) / step
        assert steps == pytest.approx(round(steps), abs=1e-6), key
    wires = wires_to_choose(design)
    assert wires[int(data["sliders"]["wire"]["value"])][0] == design.coil.wire
    areas = [wire.conductor_area for wire, _ in wires]
    assert areas == sorted(areas)
    assert len(wires) > 10


def test_lengths_that_no_drawing_has_start_exactly(solved: Callable[[str], MotorResult]) -> None:
    result = solved("outside-magnet")
    height, rest = 0.010123456789012345, 1e-7
    coil = dataclasses.replace(result.design.coil, winding_height=height, rest_position=rest)
    design = result.design.replace(coil=coil)
    data = live_data(read_off(design, result.field))
    assert float(data["sliders"]["winding_height"]["value"]) == pytest.approx(height * 1e3)
    assert float(data["sliders"]["rest_position"]["value"]) == pytest.approx(1e-4)
    for name, value in (("winding_height", height), ("rest_position", rest)):
        exact = data["exact"][name]
        assert exact["metres"] == value
        assert parse_quantity(exact["text"], "length", name) == value


def test_flat_wire_one_mesh_and_a_warm_motor_have_a_page_too(
    solved: Callable[[str], MotorResult],
) -> None:
    design = solved("outside-magnet").design
    flat = FlatWire(thickness=0.2e-3, width=0.3e-3, insulation=0.02e-3)
    coil = dataclasses.replace(design.coil, wire=flat, layers=1)
    result = solve(design.replace(coil=coil, temperature=333.15), uncertainty=False)
    text = page_text(result)
    words = Outline(text).text
    assert "0.2 x 0.3 mm flat (as designed)" in text
    assert "60 degC" in words
    assert "one mesh only" in words
    assert "nan" not in words
    assert "Each point is a thermal cycle from 20 degC" in words
    data = live_data(result)
    assert data["coarse"] is None
    assert data["errors"] is None


def test_magnet_without_coercivity_says_so(solved: Callable[[str], MotorResult]) -> None:
    design = solved("inside-magnet").design
    own = Magnet("mine", 1.2, 1.05)
    result = solve(
        design.replace(materials=dataclasses.replace(design.materials, magnet=own)),
        uncertainty=False,
    )
    section = sweep_section(result)
    assert "No coercivity is known" in section.words
    assert "sweep_margin" not in section.plots
    words = Outline(page_text(result)).text
    assert "without a source" in words


def test_lines_to_copy_read_back_as_the_design(solved: Callable[[str], MotorResult]) -> None:
    design = solved("outside-magnet").design
    coil = dataclasses.replace(design.coil, windings=2, connection="parallel", layers=2)
    data = live_data(read_off(design.replace(coil=coil), solved("outside-magnet").field))
    sliders = data["sliders"]
    lines = [
        *data["coil_lines"],
        f'winding_height = "{data["exact"]["winding_height"]["text"]}"',
        f"layers = {sliders['layers']['value']}",
        f'rest_position = "{data["exact"]["rest_position"]["text"]}"',
        "[coil.wire]",
        *data["wires"][int(sliders["wire"]["value"])]["lines"],
    ]
    whole = design_to_toml(design)
    head, rest = whole.split("[coil]\n")[0], whole.split("[moving_parts]\n")[1:]
    text = head + "[coil]\n" + "\n".join(lines) + "\n"
    text += "".join(f"[moving_parts]\n{part}" for part in rest)
    assert design_from_toml(text).coil == coil


def test_result_and_command_write_the_same_page(
    page: str, tmp_path: Path, solved: Callable[[str], MotorResult]
) -> None:
    target = write_page(solved("outside-magnet"), tmp_path / "a.html")
    assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert Outline(target.read_text("utf-8")).text == Outline(page).text
    done = ran("report", DESIGNS / "door_woofer_ferrite.toml", "--out", tmp_path / "b.html")
    assert done.exit_code == 0
    assert "written:" in done.output
    words = Outline((tmp_path / "b.html").read_text("utf-8")).text
    assert "door woofer 165 mm" in words
    assert "The yoke from below towards magnet and top plate" in words
    assert "pinch fingers" in words


def test_what_cannot_be_written_is_refused_before_solving(tmp_path: Path) -> None:
    design = DESIGNS / "door_woofer_ferrite.toml"
    for out, code, words in (
        (tmp_path / "a.txt", 2, "--out must end in .html"),
        (tmp_path / "none" / "a.html", 1, "is no folder"),
    ):
        done = ran("report", design, "--out", out)
        assert done.exit_code == code
        assert words in done.output
        assert not out.exists()
    done = ran("report", tmp_path / "none.toml", "--out", tmp_path / "a.html")
    assert done.exit_code == 2
    assert "must exist" in done.output
    (tmp_path / "folder.html").mkdir()
    done = ran("report", design, "--out", tmp_path / "folder.html")
    assert done.exit_code == 1
    assert "could not be written" in done.output


def test_inductance_stands_on_the_page_where_it_is_given(
    solved: Callable[[str], MotorResult],
) -> None:
    result = solved("inside-magnet")
    found = blocked_impedance(result, [-2e-3, 0.0, 2e-3], [100.0, 1000.0], at_coil=0.6)
    page = design_page(result, impedance=found)
    assert "inductance" in {name for name, _ in page.sections}
    rows = inductance_section(found).figures.rows
    assert [row[0] for row in rows] == ["100", "1000"]
    assert float(rows[1][1]) == pytest.approx(1e3 * found.inductance[1, 1], rel=5e-3)
    assert 0 < float(rows[1][4]) == pytest.approx(1e3 * np.ptp(found.inductance[1]), rel=5e-3)
    text = page.text()
    assert "Inductance of the blocked coil" in text
    assert rows[0][3] in text


def test_unwritable_place_is_an_output_error(
    page: str, solved: Callable[[str], MotorResult], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = types.SimpleNamespace(text=lambda: page)
    monkeypatch.setattr("motor.report.page.design.page.design_page", lambda *_: made)
    with pytest.raises(OutputError, match="could not be written"):
        write_page(solved("inside-magnet"), "/proc/none/a.html")


def test_help_does_not_import_the_figures_library() -> None:
    import subprocess

    code = "import sys; from motor.cli import main; assert 'bokeh' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[4])


def test_accuracy_is_checked() -> None:
    done = ran(
        *("report", DESIGNS / "door_woofer_ferrite.toml", "--out", "a.html"),
        *("--accuracy", "nothing"),
    )
    assert done.exit_code == 2
    assert "--accuracy must" in done.output
