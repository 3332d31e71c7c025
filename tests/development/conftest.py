"""The published tables and the script that writes them into the documentation."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def residuals() -> ModuleType:
    """docs/tables/development_residuals.py as a module."""
    path = ROOT / "docs" / "tables" / "development_residuals.py"
    spec = importlib.util.spec_from_file_location("development_residuals", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def facts(residuals: ModuleType) -> Path:
    """The folder of published tables; without it the check is skipped, in CI it is an error."""
    folder: Path = residuals.facts_folder()
    if not (folder / "tables").is_dir():
        reason = f"no published tables at {folder} (WETSIDE_FACTS names another place)"
        if os.environ.get("WETSIDE_CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return folder
