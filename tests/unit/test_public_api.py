"""The public names: they exist, explain themselves, and are cheap until they are used."""

from __future__ import annotations

import importlib
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import geometries
import motor
import motor.study
from motor.base.program import version
from motor.results.motor_result import solve
from tests.reference import described, modules, write_reference

HEAVY = ("gmsh", "skfem", "matplotlib", "scipy")


@pytest.mark.parametrize("name", geometries.__all__)
def test_geometry_name_exists_and_explains_itself(name: str) -> None:
    item = getattr(geometries, name)
    if inspect.isclass(item) or inspect.isfunction(item):
        assert inspect.getdoc(item)


@pytest.mark.parametrize("name", motor.__all__)
def test_motor_name_exists_and_explains_itself(name: str) -> None:
    item = getattr(motor, name)
    assert inspect.isclass(item) or inspect.isfunction(item)
    assert inspect.getdoc(item)


@pytest.mark.parametrize("module", [geometries, motor])
def test_public_names_are_unique(module: object) -> None:
    names = list(module.__all__)  # type: ignore[attr-defined]
    assert len(names) == len(set(names)) > 5


@pytest.mark.parametrize("module", [motor, motor.study])
def test_names_can_be_completed_before_they_are_used(module: object) -> None:
    assert set(module.__all__) <= set(dir(module))  # type: ignore[attr-defined]


def test_version_and_solving_from_a_file(tmp_path: Path) -> None:
    assert motor.__version__ == version()
    motor.write_design(motor.starter("outside-magnet"), tmp_path / "my.toml")
    from_file = motor.solve(tmp_path / "my.toml", uncertainty=False)
    assert from_file.design == motor.read_design(tmp_path / "my.toml")
    with pytest.raises(motor.InvalidInput, match="design file must exist"):
        motor.solve(str(tmp_path / "none.toml"))


def test_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="No motor attribute solv"):
        motor.solv  # noqa: B018


def test_every_public_class_documents_its_public_members() -> None:
    silent = []
    for name in motor.__all__:
        item = getattr(motor, name)
        if not inspect.isclass(item):
            continue
        for member, value in vars(item).items():
            is_code = inspect.isfunction(value) or isinstance(value, property)
            if not member.startswith("_") and is_code and not inspect.getdoc(value):
                silent.append(f"{name}.{member}")
    assert silent == []


def run(code: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run Python code in a fresh interpreter."""
    return subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False
    )


LOADED = "print(sorted(set(sys.modules) & {'gmsh', 'skfem', 'matplotlib', 'scipy'}))"


@pytest.mark.parametrize("module", ["motor", "geometries", "motor.cli", "studies"])
def test_import_alone_loads_nothing_heavy(module: str) -> None:
    done = run(f"import sys, {module}; {LOADED}")
    assert done.stderr == ""
    assert done.stdout == "[]\n"


@pytest.mark.parametrize("arguments", [["--help"], ["solve", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    code = f"""
import sys
from motor.cli import main
main({arguments!r}, standalone_mode=False)
{LOADED}
"""
    done = run(code)
    assert done.stderr == ""
    assert done.stdout.splitlines()[-1] == "[]"
    assert len(done.stdout.splitlines()) > 1


def test_the_guard_would_see_a_heavy_import() -> None:
    for name in HEAVY:
        assert name in run(f"import sys, {name}; {LOADED}").stdout


def test_help_of_the_module_names_the_commands() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "motor", "--help"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert done.stderr == ""
    for command in ("new", "draw", "solve"):
        assert f"\n  {command} " in done.stdout
    assert "Usage: motor " in done.stdout


def test_a_public_name_stays_the_same_thing() -> None:
    """Importing a module of the same name must not replace the public one."""
    code = "import motor; a = [getattr(motor, n) for n in motor.__all__]; "
    code += "b = [getattr(motor, n) for n in motor.__all__]; "
    code += "print([n for n, x, y in zip(motor.__all__, a, b) if x is not y])"
    done = run(code)
    assert done.stderr == ""
    assert done.stdout == "[]\n"


@pytest.mark.parametrize("name", modules())
def test_every_public_name_of_every_module_explains_itself(name: str) -> None:
    module = importlib.import_module(name)
    assert inspect.getdoc(module)
    for public in getattr(module, "__all__", ()):
        item = getattr(module, public)
        if inspect.isclass(item) or inspect.isfunction(item):
            assert inspect.getdoc(item), public


def test_the_reference_of_all_modules_has_no_warning() -> None:
    names = modules()
    pages = described(names)
    assert list(pages) == names
    assert "solve" in pages["motor.results.motor_result"].members


def test_the_reference_sees_an_annotation_that_does_not_resolve(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(solve.__annotations__, "return", "NoSuchClass")
    with pytest.raises(UserWarning, match="NoSuchClass"):
        described(["motor.results.motor_result"])


def test_a_page_of_the_reference_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.reference.modules", lambda: ["motor.results.bl", "motor.base.units"])
    assert write_reference(tmp_path) == 2
    assert "Bl" in (tmp_path / "motor" / "results" / "bl.html").read_text(encoding="utf-8")
    assert "motor.results.bl" in (tmp_path / "index.html").read_text(encoding="utf-8")
