"""Studies that cannot be run are refused as they are read, before any design is made."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from geometries import InvalidInput
from motor.study.study_file import read_study

DESIGN = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"
HEAD = f'design = "{DESIGN}"\n'
RANGE = 'from = "1 mm", to = "6 mm"'
POLE, HEIGHT = '"geometry.pole_extension"', '"coil.winding_height"'


def cube(count: object, seed: object = 1) -> str:
    return f"{HEAD}[[sweep]]\nhypercube = {count}\nseed = {seed}\n{POLE} = {{ {RANGE} }}\n"


def grid(steps: int) -> str:
    blocks = (f"[[sweep]]\n{n} = {{ {RANGE}, steps = {steps} }}\n" for n in (POLE, HEIGHT))
    return HEAD + "".join(blocks)


def tolerances(body: str, limits: str = "") -> str:
    return f"{HEAD}[tolerances]\n{body}\n[limits]\n{limits}\n"


GAP = '"geometry.gap_width" = "0.05 mm"'
CASES = {
    "hypercube of 1e10": (cube(10**10), "have at most 100000 designs, or motor study be told"),
    "grid of 1e12": (grid(10**6), "received 1000000000000 designs"),
    "grid of 1e8": (grid(10**4), "received 100000000 designs"),
    "seed a word": (cube(4, '"x"'), "[sweep] seed must be a whole number from 0 to"),
    "seed below 0": (cube(4, -1), "[sweep] seed must be a whole number from 0 to"),
    "seed of tolerances": (tolerances(f'{GAP}\nseed = "x"'), "[tolerances] seed must be a whole"),
    "empty target": (f"{HEAD}[target]\n", "target must ask for at least one of bl_least, "),
    "both goals": (
        f'{HEAD}[target]\nbl_least = "1 T*m"\nminimise = "mass"\nmaximise = "stroke"\n',
        "maximise must stand without minimise",
    ),
    "goal alone": (f'{HEAD}[target]\nminimise = "mass"\n', "target must ask for at least one of"),
    "limit no number": (tolerances(GAP, "bl_at_rest_Tm = { least = nan }"), "must be a finite"),
    "factor of 5": (tolerances('"factors.remanence" = 5.0'), "must be at most 0.5; received 5"),
    "a kilometre": (
        tolerances('"geometry.gap_width" = "1 km"'),
        "100 mm; received 1000000 mm",
    ),
    "assembly of no part": (f'{cube(4)}[measure]\nassembly = ["plate"]\n', "did you mean"),
    "holding nothing": (f'{cube(4)}[measure]\nholding = "5 N"\n', "come with assembly"),
    "peak of nothing": (
        f'{HEAD}[target]\nassembly_peak_most = "90 N"\n[free]\n{POLE} = {{ {RANGE} }}\n',
        "[target] assembly must name the parts that are put together",
    ),
    "limit of what is not asked": (
        tolerances(GAP, "radial_stiffness_N_per_mm = { most = 90 }"),
        "name figures of results.csv",
    ),
    "a design": (DESIGN.read_text(encoding="utf-8"), "be a study, not a design (run it with mo"),
}


@pytest.mark.parametrize("case", CASES)
def test_study_is_refused_at_once(case: str, tmp_path: Path) -> None:
    text, expected = CASES[case]
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    began = time.perf_counter()
    with pytest.raises(InvalidInput) as caught:
        read_study(path)
    assert expected in str(caught.value)
    assert time.perf_counter() - began < 20


def test_more_designs_can_be_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_text(cube(12), encoding="utf-8")
    with pytest.raises(InvalidInput, match="at most 11 designs"):
        read_study(path, most_designs=11)
    plan = read_study(path, most_designs=12).plan
    assert plan is not None
    assert len(plan) == 12


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("geometry.gap_width", "geometry.gap_width_mm"),
        ("bl_at_rest", "bl_at_rest_Tm"),
        ("usable_stroke_limited_by", "did you mean"),
        ("demag_margin_hot_kA_per_m", "results.csv"),
    ],
)
def test_limit_on_no_figure_is_refused(name: str, hint: str, tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_text(tolerances(GAP, f'"{name}" = {{ least = 1.0 }}'), encoding="utf-8")
    with pytest.raises(InvalidInput) as caught:
        read_study(path)
    assert str(caught.value).startswith("limits must name figures of results.csv (")
    assert hint in str(caught.value)
