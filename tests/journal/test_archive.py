"""Everything of a station as one file: made while it runs, refused when wrong, put back."""

from __future__ import annotations

import json
import shutil
import sqlite3
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from wetside import __version__
from wetside.__main__ import app
from wetside.clock import Moment
from wetside.errors import ArchiveRefused, JournalError
from wetside.journal import archive, putback, schema, unpacking
from wetside.journal.archive import Where
from wetside.journal.putback import Part
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside.journal.writer import Writer

MakeMoment = Callable[..., Moment]

SHEET, BROKEN, LEARNT = "# the school's own\n", "reels = = 2\n", '{"format": 1, "runs": []}'


class Sink:
    """A station's folders: journal, desk, settings and the teacher's files."""

    def __init__(self, folder: Path, row: RunRow, at: MakeMoment) -> None:
        self.data, self.etc = folder / "data", folder / "etc"
        self.desk = self.data / "desk" / "desk.sqlite3"
        self.settings = self.etc / "station.toml"
        self.containers = self.data / "containers.json"
        self.desk.parent.mkdir(parents=True)
        (self.etc / "sheets").mkdir(parents=True)
        self.settings.write_text(
            f'data_folder = "{self.data}"\nsheets_folder = "{self.etc}/sheets"\n',
            encoding="utf-8",
        )
        (self.etc / "sheets" / "own.toml").write_text(SHEET, encoding="utf-8")
        (self.etc / "shelf.toml").write_text(BROKEN, encoding="utf-8")
        self.containers.write_text(LEARNT, encoding="utf-8")
        self.row, self.at = row, at
        with Writer(self.data / "journal.sqlite", "sink-1") as writer:
            writer.append(at(0.0), "begin", {}, row=row)
        with sqlite3.connect(self.desk) as connection:
            connection.execute(f"PRAGMA application_id = {schema.DESK_APPLICATION_ID}")
            for table in ("session", "link", "note"):
                connection.execute(f"CREATE TABLE {table} (text TEXT)")
                connection.execute(f"INSERT INTO {table} VALUES ('before')")
        connection.close()

    @property
    def where(self) -> Where:
        """As the commands find it."""
        return Where(
            journal=self.data / "journal.sqlite",
            desk=self.desk,
            containers=self.containers,
            station=self.settings,
            files=self.etc,
        )

    def notes(self) -> list[str]:
        """What the desk keeps."""
        connection = sqlite3.connect(self.desk)
        found = [row[0] for row in connection.execute("SELECT text FROM note")]
        connection.close()
        return found

    def runs(self) -> int:
        """Runs in the journal."""
        with Reader(self.data / "journal.sqlite") as reader:
            return len(reader.runs().rows)

    def command(self, *words: str) -> Result:
        """A command with these settings."""
        return CliRunner().invoke(app, [*words, "--settings", str(self.settings)])

    def spoil(self) -> None:
        """Everything is another afterwards, as on a new card."""
        (self.data / "journal.sqlite").unlink()
        Writer(self.data / "journal.sqlite", "sink-1").close()
        with sqlite3.connect(self.desk) as connection:
            connection.execute("UPDATE note SET text = 'after'")
        connection.close()
        (self.etc / "sheets" / "own.toml").write_text("# another\n", encoding="utf-8")
        (self.etc / "sheets" / "new.toml").write_text("# new\n", encoding="utf-8")
        (self.etc / "shelf.toml").unlink()
        self.containers.write_text("another", encoding="utf-8")


@pytest.fixture
def sink(tmp_path: Path, row: RunRow, at: MakeMoment) -> Sink:
    """A station that was used for a while."""
    return Sink(tmp_path, row, at)


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


NAMED = ("my sheet.toml", "Größe.toml", "A-1.toml", "50 % & more.toml", "-x.toml")


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


def test_a_sheet_that_cannot_be_in_a_backup_is_told(sink: Sink, tmp_path: Path) -> None:
    """A file with a dot in front or a control character is named, and all others are held."""
    for name in (".hidden.toml", "two\nlines.toml"):
        (sink.etc / "sheets" / name).write_text("# lost\n", encoding="utf-8")
    made = sink.command("backup", str(tmp_path / "all.zip"))
    assert (0, 2) == (made.exit_code, len(made.stderr.splitlines()))
    assert r"two\nlines.toml': a file's name has letters that can be printed" in made.stderr
    with zipfile.ZipFile(tmp_path / "all.zip") as held:
        assert "files/sheets/own.toml" in held.namelist()


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


def changed(file: Path, name: str, content: bytes | None) -> Path:
    """A copy of a backup in which one member is another, or (None) missing."""
    target = file.with_name(f"changed-{file.name}")
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(target, "w") as new:
        for member in old.namelist():
            if member != name:
                new.writestr(member, old.read(member))
        if content is not None:
            new.writestr(name, content)
    return target


@pytest.mark.parametrize(
    ("name", "content", "reason"),
    [
        ("desk.sqlite3", None, "does not hold what its list names"),
        ("files/sheets/own.toml", b"# another", "own.toml is not what was put in"),
        ("journal.sqlite", b"SQLite format 3\x00" + bytes(5000), "is not what was put in"),
        ("files/../../etc/passwd.toml", b"", "does not hold what its list names"),
        (archive.MANIFEST, b'{"format": 9}', "format 9"),
        (archive.MANIFEST, b'{"format": 2, "version": "99.0", "members": {}}', "newer wetside"),
        (archive.MANIFEST, b"[]", "not a backup"),
        (archive.MANIFEST, None, "not a backup"),
    ],
)
def test_a_changed_backup_is_refused(
    sink: Sink, tmp_path: Path, name: str, content: bytes | None, reason: str
) -> None:
    """Damaged, incomplete, foreign or newer: the reason is told and nothing is changed."""
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    sink.spoil()
    refused = sink.command("restore", str(changed(file, name, content)))
    assert 1 == refused.exit_code
    assert reason in refused.output
    assert (0, ["after"]) == (sink.runs(), sink.notes())


@pytest.mark.parametrize(
    "name",
    [
        "files/../evil.toml",
        "files/sheets/../../evil.toml",
        "files/sheets/deeper/evil.toml",
        "files/sheets/..\\evil.toml",
        "files/.evil.toml",
        "files//etc/evil.toml",
        "/evil.toml",
        "files/station.toml",
        "evil.json",
    ],
)
def test_a_member_cannot_leave_its_place(sink: Sink, tmp_path: Path, name: str) -> None:
    """A list that names a file elsewhere is refused, although the file fits the list."""
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    with zipfile.ZipFile(file) as held:
        manifest = json.loads(held.read(archive.MANIFEST))
    manifest["members"][name] = {"bytes": 0, "sha256": ""}
    evil = changed(changed(file, archive.MANIFEST, json.dumps(manifest).encode()), name, b"")
    with pytest.raises(ArchiveRefused, match="nothing of wetside"), unpacking.opened(evil, "9"):
        pass


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x05\x06" + bytes(18)])
def test_what_is_no_backup_is_refused(sink: Sink, tmp_path: Path, content: bytes) -> None:
    """Any other file is told from a backup."""
    file = tmp_path / "x.zip"
    file.write_bytes(content)
    with pytest.raises(ArchiveRefused, match="not a backup"), unpacking.opened(file, "9"):
        pass


def test_a_file_that_is_not_there_is_told(sink: Sink, tmp_path: Path) -> None:
    """A mistyped path is no damaged backup."""
    refused = sink.command("restore", str(tmp_path / "none.zip"))
    assert (1, True) == (refused.exit_code, "No such file" in refused.output)


def test_a_cut_off_backup_is_refused(sink: Sink, tmp_path: Path) -> None:
    """A copy that ended too early on a full stick is not put back."""
    file = archive.make(sink.where, tmp_path / "all.zip", __version__)
    short = tmp_path / "short.zip"
    short.write_bytes(file.read_bytes()[:-400])
    with pytest.raises(ArchiveRefused, match="cut off"), unpacking.opened(short, "9"):
        pass


def test_a_damaged_journal_is_not_packed(sink: Sink, tmp_path: Path) -> None:
    """A backup that cannot be right is not made, and no half of one is left."""
    journal = sink.data / "journal.sqlite"
    content = bytearray(journal.read_bytes())
    content[4096:8192] = bytes(4096)
    journal.write_bytes(bytes(content))
    with pytest.raises(JournalError):
        archive.make(sink.where, tmp_path / "all.zip", __version__)
    assert [] == [path.name for path in tmp_path.iterdir() if path.is_file()]
    assert [] == list(tmp_path.glob(".wetside*"))


def test_a_backup_never_writes_over_another(sink: Sink, tmp_path: Path) -> None:
    """A file of that name stays as it is."""
    file = tmp_path / "all.zip"
    file.write_text("precious")
    refused = sink.command("backup", str(file))
    assert (1, "precious") == (refused.exit_code, file.read_text())


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


def test_a_folder_of_the_desk_alone_is_put_back(sink: Sink, tmp_path: Path) -> None:
    """A backup without a journal leaves the one that is there."""
    folder = tmp_path / "000001-2026-11-25T173000"
    (folder / "desk").mkdir(parents=True)
    archive.copy_database(sink.desk, folder / "desk" / "desk.sqlite3")
    sink.spoil()
    assert 0 == sink.command("restore", str(folder)).exit_code
    assert (0, ["before"]) == (sink.runs(), sink.notes())


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


def test_a_full_disk_refuses_before_anything_is_unpacked(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the backup would leave no room to spare it is refused, with what is free and needed."""
    made = archive.make(sink.where, tmp_path / "backup.zip", __version__)
    room = tmp_path / "room"
    room.mkdir()
    usage = shutil.disk_usage(room)
    with unpacking.opened(made, __version__, room) as found:
        need = sum(
            part.stat().st_size
            for part in (found.journal, found.desk, found.containers, found.station)
            if part is not None
        ) + sum(part.stat().st_size for part in found.files.values())
    for free, room_left in ((need + 64_000_000, True), (need + 63_999_999, False)):
        monkeypatch.setattr(shutil, "disk_usage", lambda _, free=free: usage._replace(free=free))
        if room_left:
            with unpacking.opened(made, __version__, room):
                pass
            continue
        with (
            pytest.raises(ArchiveRefused, match="MB are free and 64 MB needed"),
            unpacking.opened(made, __version__, room),
        ):
            pass
    assert [] == list(room.iterdir())


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


def test_a_backup_that_cannot_be_read_back_says_that_it_is_written(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stick with room for the backup and no more: exit code 1, and the file is told."""
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=0))
    file = tmp_path / "all.zip"
    made = sink.command("backup", str(file))
    assert (1, True) == (made.exit_code, file.is_file())
    assert made.stderr.startswith(f"wetside backup: {file} is written, but cannot be read back: 0 ")
