"""README.md and studies/README.md are true: their script runs, their commands exist."""

from __future__ import annotations

import importlib
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from motor.cli import main
from studies.pictures import PICTURE

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
STUDIES = (ROOT / "studies" / "README.md").read_text(encoding="utf-8")
PLACEHOLDER = {"NAME", "COMMAND", "FILE", "DIR"}


def spoken(text: str) -> list[str]:
    """Return every inline code and every line of code blocks."""
    inline = re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", text, flags=re.DOTALL))
    blocks = [line.strip() for line in text.splitlines() if line.startswith("    ")]
    return [*inline, *blocks]


def motor_lines(text: str) -> list[list[str]]:
    """Return the words of every ``motor ...`` command line that is meant to be run as it is."""
    found = []
    for code in spoken(text):
        for part in code.partition("#")[0].split("&&"):
            inner = re.sub(r'^eval "\$\((.*)\)"$', r"\1", part.strip())
            inner = inner.removeprefix(".venv/bin/")
            words = shlex.split(inner) if inner.startswith("motor ") else []
            if words and not PLACEHOLDER & set(re.split(r"[ /.]", inner)):
                found.append(words[1:])
    return found


LINES = motor_lines(README) + motor_lines(STUDIES)
CHEAP = {
    *("new", "draw", "materials", "wire", "solve", "temperature", "inductance", "report", "export"),
    "completion",
}


def test_the_lines_are_found() -> None:
    commands = {line[0] for line in LINES}
    assert commands >= {"new", "draw", "materials", "wire", "solve", "temperature", "driver"}
    assert commands >= {"study", "report", "export", "completion"}


@pytest.mark.parametrize("words", LINES, ids=" ".join)
def test_each_line_is_understood(words: list[str]) -> None:
    command = main.commands[words[0]]
    command.make_context(words[0], words[1:]).close()
    for word in words[1:]:
        if word.startswith("studies/"):
            assert (ROOT / word).is_file()


@pytest.mark.parametrize("words", [w for w in LINES if w[0] in CHEAP], ids=" ".join)
def test_cheap_lines_run(words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "studies").symlink_to(ROOT / "studies")
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output


def test_the_script_runs(tmp_path: Path) -> None:
    scripts = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    assert len(scripts) == 1
    assert len([line for line in scripts[0].splitlines() if line]) == 5
    done = subprocess.run(
        [sys.executable, "-c", scripts[0]], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "usable linear stroke" in done.stdout


def test_the_script_is_that_of_the_package() -> None:
    import motor

    script = re.findall(r"```python\n(.*?)```", README, re.DOTALL)[0]
    shown = re.sub(r"^    ", "", (motor.__doc__ or "").partition("::\n\n")[2], flags=re.MULTILINE)
    assert shown.strip() == script.strip()


@pytest.mark.parametrize("text", [README, STUDIES], ids=["README", "studies/README"])
def test_modules_and_files_exist(text: str) -> None:
    modules = set(re.findall(r"python -m (studies\.[a-z_]+)", text))
    for name in modules:
        assert callable(importlib.import_module(name).main)
    folder = ROOT if text is README else ROOT / "studies"
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        assert (folder / target).exists(), target


def test_every_study_is_in_the_tour() -> None:
    tools = {"__init__", "options", "pictures", "quoted"}
    ready = {p.stem for p in (ROOT / "studies").glob("*.py")} - tools
    assert ready == set(re.findall(r"python -m studies\.([a-z_]+)", STUDIES)) - tools
    for path in (ROOT / "studies" / "plans").iterdir():
        assert path.name in STUDIES


def test_the_picture_is_small_and_shown() -> None:
    assert PICTURE.stat().st_size < 150_000
    assert f"](studies/{PICTURE.name})" in README


def test_the_top_level_stays_small() -> None:
    git = shutil.which("git")
    assert git is not None
    listed = subprocess.run(
        [git, "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    top = {line.split("/")[0] for line in listed if line and not line.startswith(".")}
    expected = {"README.md", "DEVELOPERS.md", "pyproject.toml", "motor", "geometries", "tests"}
    assert top == expected | {"studies"}
