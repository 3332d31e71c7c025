"""Everything of a station as one file: made while it runs, and refused when wrong."""

from __future__ import annotations

import errno
import json
import shutil
import zipfile
from pathlib import Path

import pytest
from used_sink import Sink, changed

from wetside import __version__
from wetside.errors import ArchiveRefused, JournalError
from wetside.journal import archive, unpacking


def test_a_sheet_that_cannot_be_in_a_backup_is_told(sink: Sink, tmp_path: Path) -> None:
    """A file with a dot in front or a control character is named, and all others are held."""
    for name in (".hidden.toml", "two\nlines.toml"):
        (sink.etc / "sheets" / name).write_text("# lost\n", encoding="utf-8")
    made = sink.command("backup", str(tmp_path / "all.zip"))
    assert (0, 2) == (made.exit_code, len(made.stderr.splitlines()))
    assert r"two\nlines.toml': a file's name has letters that can be printed" in made.stderr
    with zipfile.ZipFile(tmp_path / "all.zip") as held:
        assert "files/sheets/own.toml" in held.namelist()


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


def test_a_stick_without_rights_takes_a_backup(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """FAT and exFAT refuse to change a file's rights; there the rights of a copy do not matter."""

    def refuse(path: Path, _mode: int) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted", str(path))

    monkeypatch.setattr(Path, "chmod", refuse)
    made = sink.command("backup", str(tmp_path / "all.zip"))
    assert 0 == made.exit_code, made.stderr
    with zipfile.ZipFile(tmp_path / "all.zip") as held:
        assert "journal.sqlite" in held.namelist()


def test_a_folder_that_cannot_be_written_says_how_a_stick_is_mounted(
    sink: Sink, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stick that belongs to root is told with the page that says what to do."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(tmp_path))

    monkeypatch.setattr(archive, "TemporaryDirectory", refuse)
    made = sink.command("backup", str(tmp_path / "all.zip"))
    assert 1 == made.exit_code
    assert "Permission denied; a stick is mounted for the user of the station" in made.stderr


def test_a_backup_never_writes_over_another(sink: Sink, tmp_path: Path) -> None:
    """A file of that name stays as it is."""
    file = tmp_path / "all.zip"
    file.write_text("precious")
    refused = sink.command("backup", str(file))
    assert (1, "precious") == (refused.exit_code, file.read_text())


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
