"""Studies switch materials by name: those of the tables and those of the design file."""

from __future__ import annotations

from pathlib import Path

import pytest

from motor import starter
from motor.base.errors import InvalidInput
from motor.design.reading import design_from_toml, design_to_toml
from motor.study.parameters import Draft
from motor.study.study_file import read_study

OWN = """
[[materials.own_magnets]]
name = "supplier A"
remanence = "0.39 T"
recoil_permeability = 1.07
intrinsic_coercivity = "260 kA/m"
density = "4900 kg/m**3"
temperature_coefficient = "-0.2 %/K"
coercivity_coefficient = "0.27 %/K"

[[materials.own_magnets]]
name = "supplier B"
remanence = "0.41 T"
recoil_permeability = 1.06
intrinsic_coercivity = "240 kA/m"
density = "4900 kg/m**3"
temperature_coefficient = "-0.2 %/K"
coercivity_coefficient = "0.27 %/K"

[[materials.own_steels]]
name = "plate"
density = "7850 kg/m**3"
flux_density_T = [0.5, 1.0, 1.5, 1.8, 2.0, 2.2]
field_A_per_m = [150.0, 300.0, 1500.0, 8000.0, 25000.0, 120000.0]
"""
TEXT = design_to_toml(starter("outside-magnet")).replace("[coil]", OWN + "\n[coil]", 1)


def test_own_materials_that_no_part_uses_are_kept() -> None:
    design = design_from_toml(TEXT)
    assert list(design.materials.own) == ["supplier A", "supplier B", "plate"]
    assert design_from_toml(design_to_toml(design)) == design


def test_study_switches_supplier_and_the_steel_of_a_part(tmp_path: Path) -> None:
    (tmp_path / "design.toml").write_text(TEXT)
    (tmp_path / "study.toml").write_text(
        'design = "design.toml"\n'
        '[[sweep]]\n"materials.magnet" = ["Y30", "supplier A", "supplier B"]\n'
        '[[sweep]]\n"materials.parts.yoke" = ["low-carbon-b", "plate"]\n'
    )
    plan = read_study(tmp_path / "study.toml").plan
    assert plan is not None
    designs = [point.design for point in plan.points() if point.design is not None]
    found = [
        (d.materials.magnet_of("magnet").remanence, d.materials.steel_of("yoke").name)
        for d in designs
    ]
    remanences = [found[0][0], 0.39, 0.41]
    assert found == [(b, s) for b in remanences for s in ("low-carbon-b", "plate")]
    assert {d.materials.steel_of("top_plate").name for d in designs} == {"low-carbon-a"}
    assert all(design_from_toml(design_to_toml(d)) == d for d in designs)


def test_scatter_goes_on_top_of_an_own_material() -> None:
    changes = {"materials.magnet": "supplier B", "factors.remanence": 0.95}
    materials = Draft(design_from_toml(TEXT), changes).design().materials
    assert materials.magnet_of("magnet").remanence == pytest.approx(0.95 * 0.41)


def test_unknown_supplier_is_refused() -> None:
    with pytest.raises(InvalidInput, match="supplier C"):
        Draft(design_from_toml(TEXT), {"materials.magnet": "supplier C"}).design()
    design = design_from_toml(TEXT)
    assert Draft(design).get("materials.parts.yoke") == "low-carbon-a"
    assert Draft(design).get("materials.parts.magnet") == "Y30"
