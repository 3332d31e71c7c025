"""Values that several test folders use: a small sheet, and where measured data lies."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest
from hypothesis import settings

from wetside.session import sheet as sheets
from wetside.session.sheet import Sheet

# A loaded machine may take long over one example; that says nothing about the code.
settings.register_profile("suite", deadline=None)
settings.load_profile("suite")

# Begun in the background of a shell, Python and all that it starts would not hear Ctrl-C.
signal.signal(signal.SIGINT, signal.default_int_handler)

SMALL_SHEET = """
format = 1
name = "Small"
title = "A short sheet of the tests"

[[step]]
kind = "temper"
celsius = 20.0
tolerance_celsius = 0.3
volume_millilitres = 300

[[step]]
kind = "develop"
solution = "developer"
seconds = 180
fill_seconds = 10
drain_seconds = 10
grace_seconds = 15
prepare = "stop bath"
prepare_seconds = 45
afterwards = "discard"
agitation = { pattern = "intermittent", first_seconds = 30, for_seconds = 5, every_seconds = 60 }

[[step]]
kind = "stop"
solution = "stop bath"
seconds = 30
fill_seconds = 5
drain_seconds = 5
agitation = { pattern = "continuous" }

[[step]]
kind = "fix"
solution = "fixer"
seconds = 120
agitation = { pattern = "none" }

[[step]]
kind = "wash"
solution = "water"
seconds = 60
can_wait = true

[[step]]
kind = "hang"
"""


@pytest.fixture
def small_sheet() -> Sheet:
    """A sheet of six short steps."""
    return sheets.parse(SMALL_SHEET, "small.toml")


@pytest.fixture
def small_sheet_text() -> str:
    """The text of the small sheet, for tests that spoil it."""
    return SMALL_SHEET


@pytest.fixture(scope="session")
def measured_data() -> Path:
    """Folder of measured series, beside the project; absent on most machines."""
    default = Path(__file__).parents[2] / "shared" / "data"
    folder = Path(os.environ.get("WETSIDE_DATA", default))
    if not folder.is_dir():
        message = f"no measured series in {folder}; set WETSIDE_DATA to their folder"
        if os.environ.get("WETSIDE_CI"):
            pytest.fail(message)
        pytest.skip(message)
    return folder
