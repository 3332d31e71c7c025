"""A desk over an invented school."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk.settings import DeskSettings

if TYPE_CHECKING:
    from types import ModuleType


def _beside(file: str) -> ModuleType:
    """A module beside this file; test folders are no packages, so it is loaded by path."""
    name = f"desk_{file}"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{file}.py"))
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


_beside("invented")
_beside("stocked")


@pytest.fixture
def folder(tmp_path: Path) -> DeskSettings:
    """Settings of a desk in an empty folder."""
    live = tmp_path / "live"
    live.mkdir()
    return DeskSettings(journal=tmp_path / "journal.sqlite3", live=live, data=tmp_path / "desk")


@pytest.fixture
def school(folder: DeskSettings) -> DeskSettings:
    """Settings of a desk over ten finished runs."""
    sys.modules["desk_invented"].ten_runs(folder.journal)
    return folder


@pytest.fixture
def client(school: DeskSettings) -> Iterator[TestClient]:
    """A client on this machine, to a desk over the ten runs."""
    with sys.modules["desk_invented"].local(school) as client:
        yield client
