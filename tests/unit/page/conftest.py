"""Studies that several test files look at; each is run once."""

from __future__ import annotations

from pathlib import Path

import pytest

from .studies import KINDS, Case, case


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("studies")


@pytest.fixture(scope="session")
def cases(folder: Path) -> dict[str, Case]:
    return {kind: case(kind, folder) for kind in KINDS}
