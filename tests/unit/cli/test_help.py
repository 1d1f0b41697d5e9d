"""The help teaches: purpose, examples that parse, files, options, exit codes."""

from __future__ import annotations

import re
import shlex

import click
import pytest
from click.testing import CliRunner

from motor.cli import main
from motor.cli.command import Command
from motor.cli.root import COMMANDS

ALL = [command for _, commands in COMMANDS for command in commands]
HEADINGS = ("Usage:", "Examples:", "Writes:", "Options:", "Exit codes:")
WITH_RESULTS = {"solve", "temperature", "inductance", "materials", "wire", "driver", "study"}
WITH_RESULTS |= {
    "change",
    "assembly",
    "centring",
    "compare",
    "derivatives",
    "endurance",
    "fit",
    "forces",
    "heat",
    "map",
}
WITH_RESULTS |= {"magnetising", "check-driver"}
WITH_FIGURES = {"solve", "temperature", "inductance", "materials", "driver", "study", "report"}
WITH_FIGURES |= {"change", "assembly", "compare", "fit", "map"}


def help_of(*arguments: str) -> str:
    result = CliRunner().invoke(main, [*arguments, "--help"])
    assert result.exit_code == 0
    return result.output


@pytest.mark.parametrize("command", ALL, ids=lambda c: str(c.name))
def test_help_has_all_sections_in_order(command: click.Command) -> None:
    text = help_of(str(command.name))
    places = [text.index(f"\n{h}" if k else h) for k, h in enumerate(HEADINGS)]
    assert places == sorted(places)
    for code in ("0", "1", "2", "130"):
        assert re.search(rf"^  {code} ", text, re.MULTILINE)
    assert max(len(line) for line in text.splitlines()) <= 80


@pytest.mark.parametrize("command", ALL, ids=lambda c: str(c.name))
def test_purpose_is_one_sentence_and_fits_the_list(command: click.Command) -> None:
    assert command.help is not None
    first = command.help.split("\n\n")[0].replace("\n", " ")
    assert first.endswith(".")
    assert ". " not in first
    assert command.short_help is not None
    assert len(command.short_help) <= 60


@pytest.mark.parametrize("command", ALL, ids=lambda c: str(c.name))
def test_examples_are_command_lines_that_parse(command: click.Command) -> None:
    assert isinstance(command, Command)
    assert 2 <= len(command.examples) <= 4
    for line, purpose in command.examples:
        assert purpose
        words = shlex.split(re.sub(r'^eval "\$\((.*)\)"$', r"\1", line.partition(" > ")[0]))
        assert words[:2] == ["motor", command.name]
        command.make_context(str(command.name), words[2:]).close()


def test_the_list_follows_a_designers_work() -> None:
    text = help_of()
    order = ["new", "import-outline", "materials", "wire", "draw", "solve", "forces"]
    order += ["endurance", "assembly", "centring", "magnetising", "temperature"]
    order += [
        "map",
        "inductance",
        "derivatives",
        "change",
        "driver",
        "check-driver",
        "heat",
        "compare",
        "study",
        "fit",
    ]
    order += ["report", "export"]
    assert [n for n in order if f"\n  {n} " not in text] == []
    places = [text.index(f"\n  {name} ") for name in order]
    assert places == sorted(places)
    assert all(f"\n{heading}:" in text for heading, _ in COMMANDS)
    assert {str(c.name) for c in ALL} == set(main.commands)


@pytest.mark.parametrize("command", ALL, ids=lambda c: str(c.name))
def test_common_options_are_everywhere(command: click.Command) -> None:
    options = {o for p in command.params for o in p.opts}
    assert {"-q", "--quiet", "-v", "--verbose"} <= options
    assert ("--json" in options) or (command.name not in WITH_RESULTS)
    assert ("--theme" in options) or (command.name not in WITH_FIGURES)
