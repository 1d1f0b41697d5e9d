"""What several test files look at: the browser, and studies, each run once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from .browser import started
from .studies import KINDS, Case, case


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("studies")


@pytest.fixture(scope="session")
def cases(folder: Path) -> dict[str, Case]:
    return {kind: case(kind, folder) for kind in KINDS}


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    with started() as running:
        yield running


@pytest.fixture(params=KINDS)
def any_case(request: pytest.FixtureRequest, cases: dict[str, Case]) -> Case:
    return cases[request.param]
