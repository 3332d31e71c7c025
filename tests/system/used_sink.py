"""A station that was used for a while, for tests of backups."""

from __future__ import annotations

import sqlite3
import zipfile
from collections.abc import Callable
from pathlib import Path

from typer.testing import CliRunner, Result

from wetside.__main__ import app
from wetside.clock import Moment
from wetside.journal import schema
from wetside.journal.archive import Where
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
