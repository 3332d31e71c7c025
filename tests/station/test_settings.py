"""The station's settings file: what is said of a mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside import settings
from wetside.errors import SettingsError


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('live_folder = ""', "live_folder: must name a file or folder, not ''"),
        ('sheets_folder = ""', "sheets_folder: must name a file or folder, not ''"),
        ("data_folder = 5", "data_folder: must be a path in quotes, not 5"),
        ("room_celsius = true", "room_celsius: must be a number, not true"),
    ],
)
def test_a_mistake_in_the_settings_is_told_in_words(tmp_path: Path, line: str, said: str) -> None:
    """Neither a class of the program nor a value that nobody meant gets into a station."""
    file = tmp_path / "station.toml"
    file.write_text(f"{line}\n", encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        settings.load(file)
    assert [f"{file}: {said}"] == caught.value.lines()
