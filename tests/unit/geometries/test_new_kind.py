"""A geometry is one class: declared here, it runs through every command and every rule."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

import pytest
from click.testing import CliRunner

from geometries import AXIAL_UP, Gap, Geometry, InvalidInput, Region, Role, Roles
from geometries.contract import _registry, length
from geometries.outlines import rectangle
from motor.cli import main
from motor.design.reading import read_design, write_design
from motor.report.page.study.collect import studied
from motor.report.page.study.page import study_page
from motor.study.parameters import Draft
from motor.study.processes import Here
from motor.study.rules import RULES
from motor.study.study_file import read_study
from tests.unit.design.drawn import drawn_design
from tests.unit.study.plans import ferrite

KIND = "plain-ring"


@pytest.fixture(scope="module")
def kind() -> Iterator[str]:
    """Declare a geometry, and forget it afterwards."""

    @dataclass(frozen=True, kw_only=True)
    class PlainRing(Geometry, kind=KIND):
        """A ring magnet between a back plate with pole and a top plate as deep as the gap."""

        title = "plain ring"
        roles = Roles(
            outer=("ring_diameter",),
            height="ring_thickness",
            follows={"ring_bore": "pole"},
            flux_plates=("floor",),
            magnet="Y33",
        )

        pole: float = length("diameter of the pole")
        width: float = length("width of the gap")
        plate: float = length("thickness of the top plate, depth of the gap")
        floor: float = length("thickness of the back plate")
        ring_bore: float = length("inner diameter of the magnet")
        ring_diameter: float = length("outer diameter of everything")
        ring_thickness: float = length("thickness of the magnet")

        @property
        def gap(self) -> Gap:
            inner, half = self.pole / 2, self.plate / 2
            return Gap(inner, inner + self.width, -half, half)

        def regions(self) -> tuple[Region, ...]:
            half, outer, pole = self.plate / 2, self.ring_diameter / 2, self.pole / 2
            bottom = -half - self.ring_thickness
            under = bottom - self.floor
            yoke = ((0, under), (outer, under), (outer, bottom), (pole, bottom), (pole, half))
            ring = rectangle(self.ring_bore / 2, outer, bottom, -half)
            plate = rectangle(pole + self.width, outer, -half, half)
            return (
                Region("yoke", Role.STEEL, (*yoke, (0, half))),
                Region("magnet", Role.MAGNET, tuple(ring), magnetisation=AXIAL_UP),
                Region("plate", Role.STEEL, tuple(plate)),
            )

        @classmethod
        def with_gap(
            cls, inner_radius: float, outer_radius: float, length: Callable[[str], float]
        ) -> dict[str, float]:
            return {"pole": 2 * inner_radius, "width": outer_radius - inner_radius}

        @classmethod
        def example(cls) -> Self:
            sizes = (31, 1.6, 6, 6, 44, 90, 15)
            names = [f.name for f in dataclasses.fields(cls)]
            return cls(**{n: 1e-3 * s for n, s in zip(names, sizes, strict=True)})

    yield KIND
    del _registry[KIND]


@pytest.fixture(scope="module")
def folder(kind: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a starter design of that kind, as the command writes it."""
    place = tmp_path_factory.mktemp("kind")
    run("new", kind, place / "my.toml")
    return place


def run(*arguments: object) -> str:
    """Run a command and return what it printed."""
    ran = CliRunner().invoke(main, [str(a) for a in arguments])
    assert ran.exit_code == 0, ran.output
    return ran.output


def test_starter_drawing_solution_report_and_export(folder: Path) -> None:
    design = read_design(folder / "my.toml")
    assert (design.geometry.kind, design.materials.magnet) == (KIND, "Y33")
    assert "# outer diameter of everything" in (folder / "my.toml").read_text()
    run("draw", folder / "my.toml", "--out", folder / "my.svg")
    assert "plain ring" in (folder / "my.svg").read_text()
    told = run("solve", folder / "my.toml", "--out", folder / "solved")
    assert "plate, peak flux density" in told
    run("report", folder / "my.toml", "--out", folder / "my.html")
    assert "Outer diameter of everything" in (folder / "my.html").read_text()
    run("export", folder / "my.toml", "--out", folder / "files")
    assert {"section.dxf", "solids.step", "mesh_triangles.csv"} <= {
        p.name for p in (folder / "files").iterdir()
    }


def test_a_study_with_every_rule_and_its_page(folder: Path) -> None:
    moving = read_design(folder / "my.toml").replace(moving_parts=ferrite().moving_parts)
    write_design(moving, folder / "moving.toml")
    order = [name for name in RULES if name != "keep_envelope"]
    order.append("keep_envelope")
    names = ", ".join(f'"{name}"' for name in order)  # plates grow before
    (folder / "study.toml").write_text(
        f'design = "moving.toml"\nrules = [{names}]\n[[sweep]]\n'
        '"coil.inner_diameter" = ["31.6 mm", "33 mm"]\n"geometry.plate" = ["6 mm", "7 mm"]\n'
    )
    found = studied(read_study(folder / "study.toml"), folder / "s.sqlite", engine=Here())
    assert not any(found.table.column("error") if "error" in found.table.columns else [])
    base, wider = found.table.records()
    assert wider["outer_diameter_mm"] == pytest.approx(base["outer_diameter_mm"], abs=1e-5)
    assert wider["height_mm"] == pytest.approx(base["height_mm"], abs=1e-5)
    assert wider["clearance_outer_mm"] == pytest.approx(base["clearance_outer_mm"], abs=1e-5)
    assert wider["resonance_Hz"] == pytest.approx(base["resonance_Hz"])
    changed = found.designs[1]
    assert changed is not None
    assert Draft(changed).get("geometry.floor") == pytest.approx(7e-3)
    step = Draft(changed).get("geometry.ring_bore") - Draft(changed).get("geometry.pole")
    assert step == pytest.approx(13e-3)
    assert "geometry.plate" in study_page(found).text()


@pytest.mark.parametrize(
    "rule", ["keep_clearance", "keep_shape", "keep_envelope", "keep_plate_load"]
)
def test_a_rule_says_which_role_a_geometry_does_not_declare(rule: str, kind: str) -> None:
    base = drawn_design()
    silent: Any = type(base.geometry)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(silent, "roles", Roles())
        patch.setattr(silent, "with_gap", Geometry.with_gap)
        with pytest.raises(InvalidInput, match=f"{rule} must be used with a geometry that decl"):
            RULES[rule](Draft(base))
