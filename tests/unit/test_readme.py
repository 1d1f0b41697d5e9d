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
DAY = (ROOT / "studies" / "day.md").read_text(encoding="utf-8")
EVEN_CHEAPER = {"solve": ["--no-figures"], "study": ["--no-figures", "--workers", "1"]}
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


LINES = [list(words) for words in dict.fromkeys(map(tuple, motor_lines(README + STUDIES)))]
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


def test_the_day_begins_with_nothing_and_finds_what_it_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its commands run in their order; dear ones are only understood."""
    monkeypatch.chdir(tmp_path)
    said = {}
    for words in motor_lines(DAY):
        if words[0] not in ("new", "draw", "solve", "wire", "study", "compare"):
            main.commands[words[0]].make_context(words[0], words[1:]).close()
            continue
        result = CliRunner().invoke(main, [*words, *EVEN_CHEAPER.get(words[0], [])])
        assert result.exit_code == 0, (words, result.output)
        said[words[0]] = result.output
        if words[0] == "study":
            text = Path("day.toml").read_text(encoding="utf-8")
            tall = text.replace('winding_height = "12 mm"', 'winding_height = "15 mm"')
            assert tall != text
            Path("tall.toml").write_text(tall, encoding="utf-8")
    quoted = {
        "solve": [r"Bl at rest +5\.873", r"usable linear stroke +3\.76 .*Bl at 82 %", r"ohm"],
        "wire": [r"0\.236 mm +0\.267 +88 +3\.556"],
        "study": [r"stroke: 4\.857 mm.*winding height 15 mm", r"Bl²/Re: .*winding height 11 mm"],
        "compare": [r"usable linear stroke .*\+29\.1", r"Bl at rest .*\+8\.4", r"Bl²/Re .*-6\.0"],
    }
    for command, patterns in quoted.items():
        for pattern in patterns:
            assert re.search(pattern, said[command]), (command, pattern)
    for figure in ("5.87 T m", "3.76 mm", "3.556 ohm", "4.857 mm", "29.1 %", "8.4 %", "6.0 %"):
        assert figure in DAY


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


@pytest.mark.parametrize("text", [README, STUDIES, DAY], ids=["README", "studies/README", "day"])
def test_modules_and_files_exist(text: str) -> None:
    modules = set(re.findall(r"python -m (studies\.[a-z_]+)", text))
    for name in modules:
        assert callable(importlib.import_module(name).main)
    folder = ROOT if text is README else ROOT / "studies"
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        assert (folder / target).exists(), target


def test_every_study_is_in_the_tour() -> None:
    tools = {"__init__", "invented_sample", "options", "pictures", "quoted"}
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
