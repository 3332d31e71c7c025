"""Where the units are, and the modules beside them."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

SYSTEMD = Path(__file__).parents[2] / "systemd"


def load_script(name: str) -> ModuleType:
    """Import a script of systemd/ by its file name."""
    spec = importlib.util.spec_from_file_location(f"wetside_{name}", SYSTEMD / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def systemd() -> Path:
    """Give the folder of the units."""
    return SYSTEMD


@pytest.fixture(scope="session")
def boot_config() -> ModuleType:
    """Give the script that edits config.txt."""
    return load_script("boot_config")


@pytest.fixture(scope="session")
def backup() -> ModuleType:
    """Give the script that makes backups."""
    return load_script("backup")
