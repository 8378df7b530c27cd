"""Measure the package as pip installs it: with its modules compiled."""

from __future__ import annotations

import compileall
from pathlib import Path

import pytest

import fillwork


@pytest.fixture(scope="session", autouse=True)
def compiled() -> None:
    compileall.compile_dir(Path(fillwork.__file__).parent, quiet=1)
