"""Steps of a run are told in order, with details, and cost nothing when nobody listens."""

from __future__ import annotations

import logging
import re

import pytest

import motor
from motor.base.steps import LOG, step


def told(caplog: pytest.LogCaptureFixture, level: int) -> list[str]:
    return [r.getMessage() for r in caplog.records if r.levelno == level and r.name == LOG.name]


def test_a_step_is_told_at_its_beginning_and_end(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG, LOG.name):
        with step("mesh") as now:
            assert told(caplog, logging.DEBUG) == ["mesh"]
            now.detail = "7 triangles"
        with step("field"):
            pass
    first, second = told(caplog, logging.INFO)
    assert re.fullmatch(r"mesh: \d+\.\d\d s, 7 triangles", first)
    assert re.fullmatch(r"field: \d+\.\d\d s", second)


def test_a_step_that_fails_has_no_end(caplog: pytest.LogCaptureFixture) -> None:
    with (
        caplog.at_level(logging.DEBUG, LOG.name),
        pytest.raises(motor.MeshError),
        step("mesh"),
    ):
        raise motor.MeshError
    assert told(caplog, logging.INFO) == []


def test_a_solve_tells_each_refinement(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO, LOG.name):
        result = motor.solve(motor.starter("outside-magnet"), accuracy=1e-4)
    names = [re.split(r":|,", line)[0] for line in told(caplog, logging.INFO)]
    assert names[0] == "mesh"
    assert names[-1] == "Bl(x)"
    refined = names.count("refine")
    assert refined >= 1
    assert names.count("field on the fine mesh") == refined + 1
    unknowns = [m[1] for line in told(caplog, logging.INFO) if (m := re.search(r"(\d+) unk", line))]
    assert int(unknowns[-1]) == result.field.unknowns
