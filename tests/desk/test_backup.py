"""A backup by the page: whole, refused when it is not right, put back."""

from __future__ import annotations

import asyncio
import io
import os
import sqlite3
import zipfile
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, BinaryIO

import pytest
from typer.testing import CliRunner

from wetside import __version__
from wetside.__main__ import app
from wetside.errors import JournalError
from wetside.journal import unpacking
from wetside.journal.archive import Where
from wetside.journal.putback import Part, put_back
from wetside.journal.reader import Reader
from wetside.journal.schema import DESK_VERSION
from wetside_desk import backup
from wetside_desk.__main__ import parse
from wetside_desk.store import accounts, notes, preferences
from wetside_desk.store.database import MIGRATIONS, Database

if TYPE_CHECKING:
    from collections.abc import Callable, MutableMapping

    from httpx2 import Response
    from starlette.testclient import TestClient
    from tests.desk import stocked
    from tests.desk.asking import database_of, desk_of, form_of, ids_of
    from tests.desk.invented import local

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import database_of, desk_of, form_of, ids_of
    from desk_invented import local


def restore(client: TestClient, content: bytes) -> Response:
    """Give a file to the page's form."""
    return client.post(
        "/settings/restore",
        data={"form": form_of(client), "sure": "on"},
        files={"file": ("backup.zip", content, "application/zip")},
    )


def test_backup_holds_all_and_restores(client: TestClient, tmp_path: Path) -> None:
    """Journal, desk and files are in it; notes, passphrase, sheets and bells come back."""
    run = ids_of(client)[0]
    desk = desk_of(client)
    stocked.put(desk.settings)
    notes.write(desk.database, run, "good", "before", 0)
    accounts.open_session(desk.database, "somebody")
    content = client.get("/settings/backup").content
    file = tmp_path / "backup.zip"
    file.write_bytes(content)
    with zipfile.ZipFile(file) as held:
        held.extract("journal.sqlite", tmp_path / "out")
    with Reader(tmp_path / "out" / "journal.sqlite") as copy:
        assert ids_of(client) == [row.id for row in copy.runs().rows]
        assert 0 < sum(1 for _ in copy.samples(run))
    notes.write(desk.database, run, "thin", "after", 1)
    files = desk.settings.files_folder
    (files / "bells.toml").unlink()
    (files / "sheets" / "short-wash.toml").write_text("# spoilt\n", encoding="utf-8")
    assert 200 == restore(client, content).status_code
    assert "before" == notes.of_run(desk.database, run).note
    assert [] == accounts.sessions(desk.database)
    assert stocked.BELLS == (files / "bells.toml").read_text(encoding="utf-8")
    assert "short wash" in client.get("/sheets").text
    assert (desk.database.path.parent / "desk.replaced-1.sqlite3").exists()
    assert "# spoilt\n" == (files / "replaced-1/sheets/short-wash.toml").read_text("utf-8")


def test_a_backup_of_the_page_is_one_for_the_command(client: TestClient, tmp_path: Path) -> None:
    """``wetside restore`` on a new card puts all of the page's file back."""
    runs = ids_of(client)
    desk_of(client).settings.journal.with_name("containers.json").write_text("learnt")
    notes.write(database_of(client), runs[0], "good", "kept", 0)
    file = tmp_path / "backup.zip"
    file.write_bytes(client.get("/settings/backup").content)
    new = tmp_path / "new"
    with unpacking.opened(file, __version__) as found:
        where = Where(
            journal=new / "journal.sqlite",
            desk=new / "desk" / "desk.sqlite3",
            containers=new / "containers.json",
            files=new / "files",
        )
        put_back(found, where, frozenset(Part))
    assert "learnt" == (new / "containers.json").read_text()
    database = Database(new / "desk" / "desk.sqlite3")
    assert "kept" == notes.of_run(database, runs[0]).note
    database.close()
    with Reader(new / "journal.sqlite") as reader:
        assert runs == [row.id for row in reader.runs().rows]


def test_a_backup_holds_the_settings_wherever_they_are(client: TestClient, tmp_path: Path) -> None:
    """The file that the desk was told of is in it; without one the page says what is left out."""
    told = "settings are not in it: this desk was not told"
    assert told in client.get("/settings").text
    desk = desk_of(client)
    file = tmp_path / "elsewhere" / "mine.toml"
    file.parent.mkdir()
    file.write_text('station = "sink-7"\n', encoding="utf-8")
    object.__setattr__(desk, "settings", replace(desk.settings, station=file))
    assert told not in client.get("/settings").text
    with zipfile.ZipFile(io.BytesIO(client.get("/settings/backup").content)) as held:
        assert b'station = "sink-7"\n' == held.read("settings/station.toml")


def test_the_command_tells_the_desk_where_the_settings_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``wetside desk --settings FILE`` hands the file on."""
    started: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda _, words: started.append(words))
    file = tmp_path / "mine.toml"
    file.write_text(f'data_folder = "{tmp_path}"\n', encoding="utf-8")
    assert 0 == CliRunner().invoke(app, ["desk", "--settings", str(file)]).exit_code
    assert file == parse(started[0][3:])[0].station


def test_a_journal_that_cannot_be_copied_is_told(client: TestClient) -> None:
    """Instead of half a file the answer says why there is none."""
    desk_of(client).settings.journal.write_bytes(b"SQLite format 3\x00" + bytes(4080))
    answer = client.get("/settings/backup")
    assert 503 == answer.status_code
    assert "cannot be" in answer.json()["detail"] or "no journal" in answer.json()["detail"]


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x05\x06" + b"\x00" * 18])
def test_what_is_no_backup_changes_nothing(client: TestClient, content: bytes) -> None:
    """A wrong file is refused with a reason, and everything stays."""
    run = ids_of(client)[0]
    notes.write(database_of(client), run, "good", "kept", 0)
    answer = restore(client, content)
    assert 422 == answer.status_code
    assert "not a backup" in answer.text
    assert "kept" == notes.of_run(database_of(client), run).note


def spoilt(content: bytes, change: Callable[[sqlite3.Connection], object]) -> bytes:
    """A backup of the first format, which has no checksums, with another desk in it."""
    with TemporaryDirectory() as folder:
        desk = Path(folder) / "desk.sqlite3"
        with zipfile.ZipFile(io.BytesIO(content)) as held:
            desk.write_bytes(held.read("desk.sqlite3"))
        with sqlite3.connect(desk) as connection:
            change(connection)
        connection.close()
        made = io.BytesIO()
        with zipfile.ZipFile(made, "w") as archive:
            archive.writestr("wetside-backup.json", '{"format": 1}')
            archive.writestr("desk.sqlite3", desk.read_bytes())
    return made.getvalue()


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ("PRAGMA application_id = 7", "damaged"),
        ("PRAGMA user_version = 99", "newer wetside"),
    ],
)
def test_another_desk_changes_nothing(client: TestClient, change: str, reason: str) -> None:
    """A database that is another program's, or a newer desk's, is refused."""
    preferences.save(database_of(client), preferences.Preferences(school="ours"))
    content = client.get("/settings/backup").content
    answer = restore(client, spoilt(content, lambda one: one.execute(change)))
    assert 422 == answer.status_code
    assert reason in answer.text
    assert "ours" == preferences.load(database_of(client)).school


def test_a_folder_of_sheets_that_may_not_be_written_changes_nothing(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page names it, and the desk's own part is not put back alone."""
    desk = desk_of(client)
    stocked.put(desk.settings)
    content = client.get("/settings/backup").content
    preferences.save(desk.database, preferences.Preferences(school="ours"))
    sheets = desk.settings.files_folder / "sheets"
    monkeypatch.setattr(os, "access", lambda path, *_, **__: path != sheets)
    answer = restore(client, content)
    assert 422 == answer.status_code
    assert f"{sheets} cannot be written, so nothing was changed" in answer.text
    assert "ours" == preferences.load(desk.database).school


def test_a_restore_knows_the_newest_version_of_the_desk() -> None:
    """What refuses a desk of a newer wetside counts as the desk's own steps do."""
    assert DESK_VERSION == len(MIGRATIONS)


def test_foreign_database_is_left_alone(tmp_path: Path) -> None:
    """A file of another program in our place is reported and not touched."""
    path = tmp_path / "desk.sqlite3"
    with sqlite3.connect(path) as foreign:
        foreign.execute("CREATE TABLE theirs (x)")
    foreign.close()
    with pytest.raises(JournalError, match="other program"):
        preferences.load(Database(path))


def test_a_backup_that_goes_out_lies_in_no_folder(client: TestClient) -> None:
    """Whatever ends the desk in the middle of a download, nothing of it is left behind."""
    desk = desk_of(client)
    with backup.taken(desk.settings, desk.database) as stream:
        assert b"PK" == stream.read(2)
        assert [] == list(desk.settings.data.glob("*backup*"))
        assert [] == list(backup.unfinished(desk.settings).iterdir())


def test_what_a_power_cut_left_half_made_goes_at_the_next_start(school: DeskSettings) -> None:
    """Labels that are forgotten later stand in no copy that nobody knows of."""
    left = backup.unfinished(school) / "tmp1" / ".wetside-backup-2" / "desk.sqlite3"
    left.parent.mkdir(parents=True)
    left.write_bytes(b"K7")
    with local(school):
        assert not left.parent.parent.exists()


def test_a_backup_is_closed_when_the_client_goes_away(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its room on the disk is free again at once."""
    taken: list[BinaryIO] = []
    make = backup.taken

    def watched(*given: Any) -> BinaryIO:  # noqa: ANN401  # as `taken` has them
        taken.append(make(*given))
        return taken[0]

    monkeypatch.setattr(backup, "taken", watched)

    async def leave() -> None:
        gone = asyncio.Event()
        asked = iter([{"type": "http.request", "body": b"", "more_body": False}])

        async def receive() -> dict[str, Any]:
            if (first := next(asked, None)) is not None:
                return first
            await gone.wait()
            return {"type": "http.disconnect"}

        async def send(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.body":
                gone.set()
                await asyncio.sleep(3600)  # a client that takes no more

        scope = {
            "type": "http",
            "http_version": "1.1",
            "method": "GET",
            "scheme": "http",
            "path": "/settings/backup",
            "query_string": b"",
            "headers": [(b"host", b"127.0.0.1:8470")],
            "client": ("127.0.0.1", 50000),
            "server": ("127.0.0.1", 8470),
        }
        await client.app(scope, receive, send)

    asyncio.run(asyncio.wait_for(leave(), 30.0))
    assert [True] == [stream.closed for stream in taken]
