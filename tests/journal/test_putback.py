"""A backup is put back: all of it or parts, from every format, and never by half."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from used_sink import BROKEN, LEARNT, SHEET, MakeMoment, Sink, changed

from wetside import __version__, settings
from wetside.journal import archive, putback, schema, unpacking
from wetside.journal.archive import Where
from wetside.journal.putback import Part
from wetside.journal.schema import RunRow
from wetside.journal.writer import Writer

NAMED = ("my sheet.toml", "Größe.toml", "A-1.toml", "50 % & more.toml", "-x.toml")


def test_backup_and_restore_by_the_commands(sink: Sink, tmp_path: Path) -> None:
    """All comes back as it was, broken files too, and what stood there is kept beside it."""
    file = tmp_path / "all.zip"
    made = sink.command("backup", str(file))
    assert (0, "6 parts") == (made.exit_code, made.output.split(": ")[1].split(",")[0])
    sink.spoil()
    put = sink.command("restore", str(file))
    assert 0 == put.exit_code, put.output
    assert (1, ["before"]) == (sink.runs(), sink.notes())
    assert LEARNT == sink.containers.read_text("utf-8")
    assert {"shelf.toml": BROKEN, "sheets/own.toml": SHEET} == {
        name: path.read_text(encoding="utf-8") for name, path in archive.papers_of(sink.etc).items()
    }
    asides = [line.split("what was there: ")[1] for line in put.output.splitlines()[1:]]
    assert 5 == len(asides)
    assert all(Path(aside).exists() for aside in asides)
    assert "# new\n" == (sink.etc / "replaced-1" / "sheets" / "new.toml").read_text("utf-8")
    connection = sqlite3.connect(sink.desk)
    assert [(0,)] == connection.execute("SELECT count(*) FROM session").fetchall()
    connection.close()
    with Writer(sink.data / "journal.sqlite", "sink-1") as writer:  # the station goes on
        writer.append(sink.at(9.0), "go-on", {})


def test_sheets_come_back_whatever_people_call_their_files(sink: Sink, tmp_path: Path) -> None:
    """Spaces, umlauts, capitals and signs in a name: in the backup, and back with their text."""
    for name in NAMED:
        (sink.etc / "sheets" / name).write_text(f"# {name}\n", encoding="utf-8")
    file = tmp_path / "all.zip"
    made = sink.command("backup", str(file))
    assert (0, "") == (made.exit_code, made.stderr)
    for name in NAMED:
        (sink.etc / "sheets" / name).unlink()
    assert 0 == sink.command("restore", str(file), "--only", "files").exit_code
    assert {name: f"# {name}\n" for name in NAMED} == {
        name: (sink.etc / "sheets" / name).read_text("utf-8") for name in NAMED
    }


def test_only_what_was_asked_for_is_put_back(sink: Sink, tmp_path: Path) -> None:
    """With --only desk, journal and files stay as they are."""
    file = tmp_path / "all.zip"
    sink.command("backup", str(file))
    sink.spoil()
    assert 0 == sink.command("restore", str(file), "--only", "desk").exit_code
    assert (0, ["before"]) == (sink.runs(), sink.notes())
    assert "another" == sink.containers.read_text("utf-8")
    assert "# another\n" == (sink.etc / "sheets" / "own.toml").read_text("utf-8")


def test_nothing_is_put_back_under_a_running_station_or_desk(sink: Sink, tmp_path: Path) -> None:
    """Whoever still runs is named, and nothing was changed."""
    file = tmp_path / "all.zip"
    sink.command("backup", str(file))
    sink.spoil()
    with Writer(sink.data / "journal.sqlite", "sink-1"):
        refused = sink.command("restore", str(file))
    assert (1, True) == (refused.exit_code, "another process writes to" in refused.output)
    desk = sqlite3.connect(sink.desk)
    desk.execute("PRAGMA journal_mode = WAL")
    desk.execute("SELECT * FROM note").fetchall()
    refused = sink.command("restore", str(file))
    desk.close()
    assert (1, True) == (refused.exit_code, "stop the desk first" in refused.output)
    assert (0, ["after"]) == (sink.runs(), sink.notes())


def test_the_first_format_is_still_put_back(sink: Sink, tmp_path: Path) -> None:
    """A backup from before there were files in it gives journal and desk; files stay."""
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    first = tmp_path / "first.zip"
    with zipfile.ZipFile(file) as new, zipfile.ZipFile(first, "w") as old:
        old.writestr(archive.MANIFEST, '{"format": 1, "version": "0.1.0", "made": 1.5}')
        old.writestr("journal.sqlite3", new.read(archive.JOURNAL))
        old.writestr("desk.sqlite3", new.read(archive.DESK))
    sink.spoil()
    assert 0 == sink.command("restore", str(first)).exit_code
    assert (1, ["before"]) == (sink.runs(), sink.notes())
    assert "# new\n" == (sink.etc / "sheets" / "new.toml").read_text("utf-8")


def test_the_second_format_is_still_put_back(sink: Sink, tmp_path: Path) -> None:
    """A backup from before the containers were in it gives all it has; they stay."""
    file = archive.make(replace(sink.where, containers=None), tmp_path / "all.zip", __version__)
    with zipfile.ZipFile(file) as held:
        manifest = json.loads(held.read(archive.MANIFEST)) | {"format": 2}
    sink.spoil()
    second = changed(file, archive.MANIFEST, json.dumps(manifest).encode())
    assert 0 == sink.command("restore", str(second)).exit_code
    assert (1, "another") == (sink.runs(), sink.containers.read_text("utf-8"))
    assert SHEET == (sink.etc / "sheets" / "own.toml").read_text("utf-8")


def test_a_folder_of_the_nightly_backup_is_put_back(sink: Sink, tmp_path: Path) -> None:
    """The folders under backups/ hold the same under other names."""
    folder = tmp_path / "000001-2026-11-25T173000"
    (folder / "desk").mkdir(parents=True)
    shutil.copytree(sink.etc, folder / "settings")
    for name in ("journal.sqlite", "containers.json"):
        shutil.copyfile(sink.data / name, folder / name)
    archive.copy_database(sink.desk, folder / "desk" / "desk.sqlite3")
    sink.spoil()
    put = sink.command("restore", str(folder))
    assert 0 == put.exit_code, put.output
    assert (1, ["before"]) == (sink.runs(), sink.notes())
    assert LEARNT == sink.containers.read_text("utf-8")
    assert SHEET == (sink.etc / "sheets" / "own.toml").read_text("utf-8")
    assert not (sink.etc / "sheets" / "new.toml").exists()
    empty = tmp_path / "empty"
    empty.mkdir()
    assert "is no backup" in sink.command("restore", str(empty)).output


@pytest.mark.parametrize("name", ["journal.sqlite", "desk/desk.sqlite3"])
def test_a_folder_with_a_damaged_database_changes_nothing(
    sink: Sink, tmp_path: Path, name: str
) -> None:
    """Both databases are looked at from begin to end before any part is put back."""
    folder = tmp_path / "000001-2026-11-25T173000"
    (folder / "desk").mkdir(parents=True)
    shutil.copyfile(sink.data / "journal.sqlite", folder / "journal.sqlite")
    archive.copy_database(sink.desk, folder / "desk" / "desk.sqlite3")
    with (folder / name).open("r+b") as file:
        file.seek(4096)  # past what SQLite says of the file and its tables
        file.write(b"\xa5" * 4096)
    sink.spoil()
    put = sink.command("restore", str(folder))
    assert 1 == put.exit_code, put.output
    assert (0, ["after"]) == (sink.runs(), sink.notes())


def test_a_backup_without_a_journal_is_put_back_only_by_the_names_of_its_parts(
    sink: Sink, tmp_path: Path
) -> None:
    """A folder or file without runs is refused with the words that take what it has."""
    folder = tmp_path / "000001-2026-11-25T173000"
    (folder / "desk").mkdir(parents=True)
    archive.copy_database(sink.desk, folder / "desk" / "desk.sqlite3")
    file = archive.make(Where(desk=sink.desk), tmp_path / "desk.zip", __version__)
    sink.spoil()
    for backup in (folder, file):
        refused = sink.command("restore", str(backup))
        assert (1, 0, ["after"]) == (refused.exit_code, sink.runs(), sink.notes())
        assert "not in this backup: journal." in refused.stderr
        assert "--only desk takes what is" in refused.stderr
    assert 0 == sink.command("restore", str(folder), "--only", "desk").exit_code
    assert (0, ["before"]) == (sink.runs(), sink.notes())


@pytest.mark.parametrize("inside", ["journal.sqlite.part", "journal.sqlite"])
def test_half_a_nightly_backup_is_refused(sink: Sink, tmp_path: Path, inside: str) -> None:
    """A folder that a power cut left with .part at its end changes nothing, whatever is in it."""
    folder = tmp_path / "000003-2026-11-27T000000.part"
    (folder / "desk").mkdir(parents=True)
    archive.copy_database(sink.desk, folder / "desk" / "desk.sqlite3")
    shutil.copyfile(sink.data / "journal.sqlite", folder / inside)
    sink.spoil()
    for words in ((), ("--only", "desk")):
        refused = sink.command("restore", str(folder), *words)
        assert (1, 0, ["after"]) == (refused.exit_code, sink.runs(), sink.notes())
        assert "was interrupted" in refused.stderr


def test_a_part_that_is_asked_for_and_not_there_is_refused(sink: Sink, tmp_path: Path) -> None:
    """With --only for something that the backup lacks nothing is changed, and it is named."""
    file = archive.make(replace(sink.where, containers=None), tmp_path / "all.zip", __version__)
    sink.spoil()
    refused = sink.command("restore", str(file), "--only", "containers", "--only", "desk")
    assert (1, ["after"]) == (refused.exit_code, sink.notes())
    assert "not in this backup: containers." in refused.stderr


def test_every_part_that_a_backup_lacks_is_told(sink: Sink, tmp_path: Path) -> None:
    """What stays as it is because nothing is there to be put back has a line of its own."""
    where = Where(journal=sink.where.journal, station=sink.settings)
    file = archive.make(where, tmp_path / "some.zip", __version__)
    put = sink.command("restore", str(file))
    assert 0 == put.exit_code
    said = [line.split(";")[0] for line in put.stdout.splitlines()[1:]]
    assert [
        "journal put back",
        "settings put back",
        "desk: not in this backup, what is here stays",
        "containers: not in this backup, what is here stays",
        "files: not in this backup, what is here stays",
    ] == said
    assert SHEET == (sink.etc / "sheets" / "own.toml").read_text("utf-8")


def test_a_part_that_has_no_place_here_is_left_out(sink: Sink, tmp_path: Path) -> None:
    """A machine with nothing but the desk takes the desk out of a backup of everything."""
    made = archive.make(sink.where, tmp_path / "backup.zip", __version__)
    target = tmp_path / "alone" / "desk.sqlite3"
    with unpacking.opened(made, __version__) as found:
        assert [] == putback.put_back(found, Where(), frozenset(Part))
        done = putback.put_back(found, Where(desk=target), frozenset(Part))
    assert [(Part.DESK, None)] == done


def test_the_desks_database_is_for_its_owner_alone(sink: Sink, tmp_path: Path) -> None:
    """It holds the passphrase's hash, so nobody else may read what was put back."""
    target = tmp_path / "new" / "desk.sqlite3"
    sink.desk.chmod(0o644)
    putback.desk(sink.desk, target)
    assert 0o600 == target.stat().st_mode & 0o777


def test_a_disk_that_fills_up_takes_no_file_away_and_leaves_nothing_untold(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was put back before is told, and the teacher's files are those from before."""
    file = tmp_path / "all.zip"
    assert 0 == sink.command("backup", str(file)).exit_code
    sink.spoil()
    before = {name: path.read_text() for name, path in archive.papers_of(sink.etc).items()}

    def full(path: Path, *_: object) -> None:
        if path.suffix == ".toml":
            raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr(putback, "replace", full)
    put = sink.command("restore", str(file))
    assert 1 == put.exit_code
    assert ["journal", "desk", "containers"] == [
        line.split()[0] for line in put.stdout.splitlines()[1:]
    ]
    (said,) = put.stderr.splitlines()
    assert said.startswith(f"wetside restore: {sink.etc}")
    assert said.endswith(": No space left on device")
    assert before == {name: path.read_text() for name, path in archive.papers_of(sink.etc).items()}


@pytest.fixture
def plain_sink(row: RunRow, at: MakeMoment) -> Iterator[Sink]:
    """A sink of a user whom folders may refuse, also where the tests are root's."""
    with tempfile.TemporaryDirectory() as folder:
        if os.getuid() != 0:
            yield Sink(Path(folder), row, at)
            return
        os.chown(folder, 65534, 65534)
        os.seteuid(65534)
        try:
            yield Sink(Path(folder), row, at)
        finally:
            os.seteuid(0)


@pytest.mark.parametrize(
    ("place", "rights", "says"),
    [
        ("etc/sheets", 0o555, "written"),  # as root makes it
        ("data/desk", 0o555, "written"),
        ("etc", 0o555, "written"),
        ("etc/sheets/own.toml", 0o000, "read"),
    ],
)
def test_a_place_that_may_not_be_written_changes_nothing(
    plain_sink: Sink, place: str, rights: int, says: str
) -> None:
    """It is named before the first part is put back, not found out half way."""
    file = plain_sink.data / "all.zip"
    assert 0 == plain_sink.command("backup", str(file)).exit_code
    plain_sink.spoil()
    refusing = plain_sink.data.parent / place
    before = refusing.stat().st_mode
    refusing.chmod(rights)
    refused = plain_sink.command("restore", str(file))
    refusing.chmod(before)
    assert 1 == refused.exit_code
    assert f"{refusing} cannot be {says}, so nothing was changed" in refused.stderr
    assert (0, ["after"]) == (plain_sink.runs(), plain_sink.notes())


def test_a_desk_that_cannot_be_copied_leaves_the_old_one_and_no_part(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk in the middle of the copy."""
    target = tmp_path / "new" / "desk.sqlite3"
    putback.desk(sink.desk, target)

    def full(_: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(putback, "sync", full)
    with pytest.raises(OSError, match="No space"):
        putback.desk(sink.desk, target)
    assert [target] == list(target.parent.iterdir())


def test_settings_that_come_back_keep_the_paths_of_this_machine(sink: Sink, tmp_path: Path) -> None:
    """The station goes on with the data just put back; which paths stayed is told."""
    sink.settings.write_text(
        f"# ours\ndata_folder = '{tmp_path / 'elsewhere'}'\nbells_file = '/other/bells.toml'\n"
        "room_celsius = 27\n\n[display]\nupside_down = true\n",
        encoding="utf-8",
    )
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    here = f'data_folder = "{sink.data}"\nsheets_folder = "{sink.etc}/sheets"\n'
    sink.settings.write_text(here, encoding="utf-8")
    for _ in range(2):
        put = sink.command("restore", str(file))
        assert 0 == put.exit_code, put.output
        now = settings.load(sink.settings)
        assert (sink.data, sink.etc / "sheets", None) == (
            now.data_folder,
            now.sheets_folder,
            now.bells_file,
        )
        assert (27.0, True) == (now.room_celsius, now.display.upside_down)
        assert sink.settings.read_text("utf-8").startswith("# ours\n")
        told = "settings: as on this machine and not as in the backup: "
        assert f"{told}data_folder, sheets_folder, bells_file" in put.output
    assert not (tmp_path / "elsewhere").exists()


def test_a_backup_is_not_unpacked_beside_itself(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stick may be full or read-only: it is unpacked where the data go, or just above."""
    (tmp_path / "stick").mkdir()
    file = archive.make(sink.where, tmp_path / "stick" / "all.zip", __version__)
    shutil.rmtree(sink.data)
    rooms: list[Path] = []

    def noted(*, prefix: str, dir: Path) -> object:  # noqa: A002  # as the library calls it
        rooms.append(dir)
        return TemporaryDirectory(prefix=prefix, dir=dir)

    monkeypatch.setattr("wetside.journal.unpacking.TemporaryDirectory", noted)
    for _ in range(2):
        put = sink.command("restore", str(file))
        assert 0 == put.exit_code, put.output
    assert [sink.data.parent, sink.data] == rooms


def test_how_the_desk_listens_comes_back_with_the_settings(sink: Sink, tmp_path: Path) -> None:
    """Port, TLS and address of an installed desk are in a backup, and what was there is kept."""
    env = sink.etc / "desk.env"
    env.write_text("WETSIDE_DESK_PORT=8080\n", encoding="utf-8")
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    env.write_text("WETSIDE_DESK_PORT=9090\n", encoding="utf-8")
    assert 0 == sink.command("restore", str(file), "--only", "settings").exit_code
    assert "WETSIDE_DESK_PORT=8080\n" == env.read_text("utf-8")
    assert "WETSIDE_DESK_PORT=9090\n" == (sink.etc / "replaced-1" / "desk.env").read_text("utf-8")
    assert (sink.etc / "replaced-1" / "station.toml").exists()


@pytest.mark.parametrize("text", ["data_folder = = 1\n", "[display]\nkind = 'paper'\n"])
def test_settings_that_no_station_starts_with_are_refused(
    sink: Sink, tmp_path: Path, text: str
) -> None:
    """Broken ones change nothing, and the other parts can be had without them."""
    good = sink.settings.read_text("utf-8")
    sink.settings.write_text(text, encoding="utf-8")
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    sink.settings.write_text(good, encoding="utf-8")
    sink.spoil()
    refused = sink.command("restore", str(file))
    assert (1, 0, ["after"]) == (refused.exit_code, sink.runs(), sink.notes())
    assert "the settings in this backup are wrong: " in refused.stderr
    assert "--only journal --only desk --only containers --only files" in refused.stderr
    assert 0 == sink.command("restore", str(file), "--only", "journal").exit_code
    assert (1, good) == (sink.runs(), sink.settings.read_text("utf-8"))


def test_what_root_puts_back_belongs_to_the_owner_of_the_folder(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a restore with plain sudo the station and the desk can use their files and locks."""
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    shutil.rmtree(sink.data)
    sink.data.mkdir()
    given = set()
    owner = (sink.data.stat().st_uid, sink.data.stat().st_gid)

    def chown(path: Path, user: int, group: int, *, follow_symlinks: bool) -> None:
        assert (owner, False) == ((user, group), follow_symlinks)
        given.add(Path(path).name.rpartition(".")[0].lstrip("."))

    monkeypatch.setattr(os, "geteuid", lambda: 0)
    monkeypatch.setattr(os, "chown", chown)
    put = sink.command("restore", str(file))
    assert 0 == put.exit_code, put.output
    assert {"journal.sqlite", "desk.sqlite3", "containers.json", "station"} <= given
    assert (1, ["before"]) == (sink.runs(), sink.notes())


def test_a_desk_of_a_newer_wetside_is_refused(sink: Sink, tmp_path: Path) -> None:
    """A desk that this version could not open is not put back, nor anything beside it."""
    connection = sqlite3.connect(sink.desk)
    connection.execute(f"PRAGMA user_version = {schema.DESK_VERSION + 1}")
    connection.close()
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    sink.spoil()
    refused = sink.command("restore", str(file))
    assert (1, 0, ["after"]) == (refused.exit_code, sink.runs(), sink.notes())
    assert "desk's part of this backup was made by a newer wetside" in refused.stderr
