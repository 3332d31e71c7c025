"""Backups are complete, checked, counted and kept in a ring."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

import pytest

from wetside import __version__
from wetside.journal import archive
from wetside.journal.archive import Where
from wetside.journal.backup import inspect
from wetside.journal.putback import Part, put_back
from wetside.journal.schema import DESK_APPLICATION_ID
from wetside.journal.thread import WriterThread
from wetside.journal.unpacking import opened


class Place(NamedTuple):
    """The folders of a station."""

    data: Path
    settings: Path
    out: Path


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """Make a station's folders with a journal, a desk database and settings."""
    data, settings = tmp_path / "data", tmp_path / "etc"
    (data / "desk").mkdir(parents=True)
    (settings / "sheets").mkdir(parents=True)
    (data / "containers.json").write_text("learnt", encoding="utf-8")
    (settings / "station.toml").write_text('station = "sink-1"\n', encoding="utf-8")
    (settings / "sheets" / "one.toml").write_text("# a sheet\n", encoding="utf-8")
    WriterThread(data / "journal.sqlite", "sink-1").close()
    desk = sqlite3.connect(data / "desk" / archive.DESK)
    desk.execute(f"PRAGMA application_id = {DESK_APPLICATION_ID}")
    for table in ("note", "session", "link"):
        desk.execute(f"CREATE TABLE {table} (text TEXT)")
    desk.execute("INSERT INTO note VALUES ('a good run')")
    desk.commit()
    desk.close()
    return Place(data, settings, data / "backups")


def test_a_backup_holds_everything(backup: ModuleType, place: Place) -> None:
    """Journal, desk database, containers and settings are in it, and can be read."""
    (place.settings / "desk.env").write_text("WETSIDE_DESK_PORT=8080\n", "utf-8")
    done = backup.back_up(*place, keep=3)
    assert inspect(done / "journal.sqlite").runs == 0
    assert (done / "containers.json").read_text("utf-8") == "learnt"
    desk = sqlite3.connect(done / "desk" / archive.DESK)
    assert desk.execute("SELECT text FROM note").fetchall() == [("a good run",)]
    desk.close()
    settings = [path for path in (done / "settings").rglob("*") if path.is_file()]
    found = {str(path.relative_to(done / "settings")) for path in settings}
    assert found == {"station.toml", "desk.env", "sheets/one.toml"}
    with opened(done, __version__) as looked_at:
        assert looked_at.desk_env == done / "settings" / "desk.env"


def test_its_folder_is_put_back(backup: ModuleType, place: Place, tmp_path: Path) -> None:
    """What the nightly backup made, ``wetside restore`` puts on a new card, every part of it."""
    done = backup.back_up(*place, keep=3)
    new = tmp_path / "new"
    where = Where(
        journal=new / "journal.sqlite",
        desk=new / "desk" / archive.DESK,
        containers=new / "containers.json",
        station=new / "etc" / "station.toml",
        files=new / "etc",
    )
    with opened(done, __version__) as found:
        put = put_back(found, where, frozenset(Part))
    assert list(Part) == [part for part, _ in put]
    assert inspect(new / "journal.sqlite").runs == 0
    desk = sqlite3.connect(new / "desk" / archive.DESK)
    assert desk.execute("SELECT text FROM note").fetchall() == [("a good run",)]
    desk.close()
    assert (new / "containers.json").read_text("utf-8") == "learnt"
    assert (new / "etc" / "station.toml").read_text("utf-8") == 'station = "sink-1"\n'
    assert (new / "etc" / "sheets" / "one.toml").read_text("utf-8") == "# a sheet\n"


def test_the_teachers_files_are_in_it_wherever_they_are(backup: ModuleType, place: Place) -> None:
    """A desk that keeps shelf and sheets in its own folder finds them in the backup too."""
    files = place.data / "desk" / "files"
    (files / "sheets").mkdir(parents=True)
    (files / "bells.toml").write_text("# bells\n", encoding="utf-8")
    (files / "sheets" / "own.toml").write_text("# own\n", encoding="utf-8")
    done = backup.back_up(*place, keep=3)
    found = {str(path.relative_to(done / "files")) for path in (done / "files").rglob("*.toml")}
    assert {"bells.toml", "sheets/own.toml"} == found


@pytest.mark.parametrize("name", ["my sheet.toml", "Größe.toml"])
def test_sheets_come_back_whatever_people_call_their_files(
    backup: ModuleType, place: Place, tmp_path: Path, name: str
) -> None:
    """A space or an umlaut in a name keeps no sheet out, wherever the desk keeps it."""
    (place.settings / "sheets" / name).write_text("# settings\n", encoding="utf-8")
    files = place.data / "desk" / "files"
    (files / "sheets").mkdir(parents=True)
    (files / "sheets" / f"desk {name}").write_text("# desk\n", encoding="utf-8")
    done = backup.back_up(*place, keep=3)
    with opened(done, __version__) as found:
        put_back(found, Where(files=tmp_path / "new"), frozenset({Part.FILES}))
    assert (tmp_path / "new" / "sheets" / name).read_text("utf-8") == "# settings\n"
    assert (tmp_path / "new" / "sheets" / f"desk {name}").read_text("utf-8") == "# desk\n"


def test_a_sheet_that_restore_leaves_out_is_told(
    backup: ModuleType, place: Place, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each file with such a name is one line, in the settings and at the desk."""
    sheets = place.data / "desk" / "files" / "sheets"
    sheets.mkdir(parents=True)
    for folder in (sheets, place.settings / "sheets"):
        (folder / ".own.toml").write_text("# lost\n", encoding="utf-8")
    assert backup.main(["--data", str(place.data), "--settings", str(place.settings)]) == 0
    assert capsys.readouterr().err.count(".own.toml': a file's name has letters") == 2


def test_it_works_while_the_desk_writes(backup: ModuleType, place: Place) -> None:
    """An open write of the desk does not stop the backup and is not half in it."""
    desk = sqlite3.connect(place.data / "desk" / archive.DESK, isolation_level=None)
    desk.execute("PRAGMA journal_mode=WAL")
    desk.execute("BEGIN IMMEDIATE")
    desk.execute("INSERT INTO note VALUES ('not yet')")
    done = backup.back_up(*place, keep=3)
    desk.execute("ROLLBACK")
    desk.close()
    copy = sqlite3.connect(done / "desk" / archive.DESK)
    assert copy.execute("SELECT count(*) FROM note").fetchone() == (1,)
    copy.close()


def test_the_ring_keeps_the_newest_by_number(
    backup: ModuleType, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The oldest go, and a clock that jumps back years does not change which are oldest."""
    years = iter((2026, 2026, 1970, 2026, 1970))

    def strftime(form: str, moment: object) -> str:
        return f"{next(years)}-01-01T000000"

    monkeypatch.setattr(backup.time, "strftime", strftime)
    for _ in range(5):
        backup.back_up(*place, keep=3)
    names = [path.name for path in backup.finished(place.out)]
    assert [name[:6] for name in names] == ["000003", "000004", "000005"]


def test_a_failed_backup_deletes_nothing(
    backup: ModuleType, place: Place, capsys: pytest.CaptureFixture[str]
) -> None:
    """A damaged database is told, exit 1, and every earlier backup stays."""
    words = ["--data", str(place.data), "--settings", str(place.settings), "--keep", "1"]
    assert backup.main(words) == 0
    before = [path.name for path in backup.finished(place.out)]
    database = place.data / "desk" / archive.DESK
    database.write_bytes(database.read_bytes()[:100] + b"\x00" * 4000)
    assert backup.main(words) == 1
    assert "backup failed" in capsys.readouterr().err
    assert before == [path.name for path in backup.finished(place.out)]


def test_a_night_without_a_journal_fails_and_pushes_nothing_out(
    backup: ModuleType, place: Place, capsys: pytest.CaptureFixture[str]
) -> None:
    """No runs where they should be: exit 1 with the place, and every earlier backup stays."""
    words = ["--data", str(place.data), "--settings", str(place.settings), "--keep", "1"]
    assert backup.main(words) == 0
    before = list(place.out.iterdir())
    (place.data / "journal.sqlite").unlink()
    assert backup.main(words) == 1
    assert f"no journal at {place.data / 'journal.sqlite'}" in capsys.readouterr().err
    assert before == list(place.out.iterdir())


def test_it_keeps_the_data_folder_that_the_settings_name(
    backup: ModuleType, place: Place, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without --data, as the unit calls it, the station's own settings say where its data are."""
    (place.settings / "station.toml").write_text(f'data_folder = "{place.data}"\n', "utf-8")
    assert backup.main(["--settings", str(place.settings)]) == 0
    (done,) = backup.finished(place.out)
    assert inspect(done / "journal.sqlite").runs == 0


def test_settings_that_cannot_be_read_are_told_and_the_usual_folder_is_kept(
    backup: ModuleType,
    place: Place,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A mistake in the settings costs no night's backup."""
    (place.settings / "station.toml").write_text("data_folder = = 1\n", "utf-8")
    monkeypatch.setattr(backup, "DATA", place.data)
    assert backup.main(["--settings", str(place.settings)]) == 0
    assert "station.toml: not valid TOML" in capsys.readouterr().err
    assert 1 == len(backup.finished(place.out))


def test_half_a_backup_is_cleared_away(backup: ModuleType, place: Place) -> None:
    """What a power cut left behind is removed by the next backup and never counted."""
    (place.out / "000001-2026-01-01T000000.part").mkdir(parents=True)
    done = backup.back_up(*place, keep=3)
    assert [done] == list(place.out.iterdir())


def test_a_full_disk_is_refused_before_it_starts(
    backup: ModuleType, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A backup never takes the last room from the journal."""
    place.out.mkdir()
    usage = backup.shutil.disk_usage(place.out)._replace(free=10_000_000)
    monkeypatch.setattr(backup.shutil, "disk_usage", lambda _: usage)
    with pytest.raises(backup.BackupError, match="10 MB free"):
        backup.back_up(*place, keep=3)
    assert list(place.out.iterdir()) == []
