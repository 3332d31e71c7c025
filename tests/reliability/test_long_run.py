"""The long run of tests/benchmarks/long_run.py, scaled down."""

from __future__ import annotations

from pathlib import Path

import pytest
from long_run import school_days, slope

from wetside.session.sheet import Sheet
from wetside.sim.situation import Situation


@pytest.mark.slow
def test_nothing_grows_but_the_journal(tmp_path: Path, small_sheet: Sheet) -> None:
    """Over eight short days files, threads and memory stay, and the journal grows evenly."""
    quick = Situation(developer_celsius=20.5, bath_celsius=18.0)
    days = school_days(tmp_path, small_sheet, days=8, rolls=1, idle_seconds=30.0, situation=quick)
    warm = days[3:]
    assert 8 == days[-1].runs
    assert 1 == len({day.files_open for day in warm})
    assert 1 == len({day.threads for day in warm})
    assert 1 == len({day.other_bytes // 1000 for day in warm})
    # Python's allocator takes memory by arenas of 1 MiB
    assert slope([day.resident_bytes for day in warm]) < 2**19
    assert slope([float(day.objects) for day in warm]) < 100.0
    kept = [day.journal_bytes + day.log_bytes for day in warm]
    assert kept[-1] - kept[0] < 5e6


def test_a_leak_would_be_seen() -> None:
    """The slope is that of a straight line through the days: 100 a day is told from 0."""
    assert 100.0 == slope([100.0 * day for day in range(10)])
    assert 0.0 == slope([5.0] * 10)
