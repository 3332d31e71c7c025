"""Put the project's root on the path, so that the scripts of hardware/ can be imported."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from hardware.wiring import Wiring, load  # noqa: E402 - the path must be set first


@pytest.fixture(scope="session")
def wiring() -> Wiring:
    """Give the wiring as it stands in the file."""
    return load()
