"""The benchmark's tests need the extra ``bench``; where it is missing they say so once."""

from __future__ import annotations

import os
from importlib.util import find_spec

_MISSING = find_spec("statsmodels") is None or find_spec("matplotlib") is None
collect_ignore_glob = (
    ["test_*.py"] if _MISSING and not os.environ.get("WETSIDE_CI") else []
)  # in CI the missing extra is an error


def pytest_report_header() -> list[str]:
    """Name what is left out."""
    left_out = "tests/benchmarks left out: install the extra with pip install -e .[test,bench]"
    return [left_out] if collect_ignore_glob else []
