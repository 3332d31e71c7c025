"""docs/bench.md and the program name the same things."""

from __future__ import annotations

import re
from pathlib import Path

from wetside.sim.faults import FaultKind
from wetside.sim.scripts import STUDENTS
from wetside.sim.situation import Arrangement

PAGE = Path(__file__).parents[2] / "docs" / "bench.md"


def _table(heading: str) -> dict[str, str]:
    """First column (in backticks) to second column of the first table under a heading."""
    part = PAGE.read_text(encoding="utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    return dict(re.findall(r"^\| `(\w[\w-]*)` \| ([^|\n]*?) \|", part, flags=re.MULTILINE))


def test_every_student_is_on_the_page_in_its_own_words() -> None:
    """The page's table of students is the program's."""
    assert _table("Students") == dict(STUDENTS)


def test_every_fault_is_on_the_page() -> None:
    """The page's table of faults has every kind and no other."""
    assert set(_table("Faults")) == {str(kind) for kind in FaultKind}


def test_every_arrangement_is_on_the_page() -> None:
    """The page's table of probes has every arrangement and no other."""
    assert set(_table("Probes")) == {str(each) for each in Arrangement}
