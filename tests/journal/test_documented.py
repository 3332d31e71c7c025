"""docs/journal.md says what the schema is."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

from wetside.journal import schema
from wetside.journal.migrations import VERSION

PAGE = Path(__file__).parents[2] / "docs" / "journal.md"


def test_the_page_names_every_column_of_every_table_and_no_other() -> None:
    """The table of columns in the documentation is the schema."""
    plain = sqlite3.connect(":memory:")
    for statement in schema.TABLES:
        plain.execute(statement)
    names = [row[0] for row in plain.execute("SELECT name FROM sqlite_master WHERE type='table'")]
    expected = {
        name: [row[1] for row in plain.execute(f"PRAGMA table_info({name})")] for name in names
    }
    plain.close()
    text = PAGE.read_text(encoding="utf-8")
    section = text.split("## Tables", 1)[1].split("\n## ", 1)[0]
    found = {
        line.split("|")[1].strip(" `"): re.findall(r"`(\w+)`", line.split("|")[3])
        for line in section.splitlines()
        if line.startswith("| `")
    }
    assert expected == found
    assert f"Schema version {VERSION}." in section


def test_the_page_explains_every_number_that_stands_for_a_word() -> None:
    """Codes of places and conditions are listed with their words."""
    text = PAGE.read_text(encoding="utf-8").replace("\n", " ")
    for place, code in schema.PLACE_CODES.items():
        assert f"{code} {place or 'unknown'}" in text
    for condition, code in schema.CONDITION_CODES.items():
        assert f"{code} {condition}" in text
