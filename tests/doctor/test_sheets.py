"""What ``wetside doctor`` says of the sheets."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.commands.doctor import house
from wetside.commands.doctor.findings import State
from wetside.settings import StationSettings


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The school's folder of sheets."""
    (tmp_path / "sheets").mkdir()
    return tmp_path / "sheets"


def test_namesakes_are_to_be_looked_at(folder: Path, small_sheet_text: str) -> None:
    """Each of two sheets with one name is told with its file, the other one and what to do."""
    for file in ("a.toml", "b.toml"):
        (folder / file).write_text(small_sheet_text, encoding="utf-8")
    fine, *look = house.sheets_there(StationSettings(sheets_folder=folder))
    assert State.FINE is fine.state
    assert [State.LOOK, State.LOOK] == [one.state for one in look]
    assert "a.toml: name: b.toml has the same name" in look[0].found
    assert f"Give {folder / 'a.toml'} another name." == look[0].mend


def test_a_file_that_no_backup_holds_is_to_be_looked_at(
    folder: Path, small_sheet_text: str
) -> None:
    """A name that cannot be put back is told before the card breaks."""
    (folder / ".own.toml").write_text(small_sheet_text, encoding="utf-8")
    _, look = house.sheets_there(StationSettings(sheets_folder=folder))
    assert State.LOOK is look.state
    assert "must be renamed" in look.found


def test_a_folder_that_desk_and_backups_do_not_find_is_to_be_looked_at(tmp_path: Path) -> None:
    """Only a folder called sheets is in backups, so another one is told."""
    (look,) = house.sheets_there(StationSettings(sheets_folder=tmp_path))[1:]
    assert State.LOOK is look.state
    assert f"{tmp_path} is not called sheets" in look.found


def test_a_folder_that_cannot_be_written_is_to_be_looked_at(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The desk edits sheets there and a restore puts them there, so whose it must be is told."""
    monkeypatch.setattr("os.access", lambda *_: False)
    (look,) = house.sheets_there(StationSettings(sheets_folder=folder))[1:]
    assert (State.LOOK, f"{folder} cannot be written") == (look.state, look.found)
    assert f"sudo chown wetside {folder}" in look.mend
