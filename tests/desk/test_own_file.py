"""The desk's own file held by somebody, damaged, or on a disk that is only read."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from wetside_desk.store.database import MIGRATIONS, Database, Unusable, migrate

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk import stocked
    from tests.desk.asking import PAGE, database_of, desk_of, ids_of
    from tests.desk.invented import distant, local, write_live

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import PAGE, database_of, desk_of, ids_of
    from desk_invented import distant, local, write_live

PATHS = ["/", "/runs/{run}", "/report", "/slips", "/shelf", "/bells", "/export/runs.csv"]


@pytest.mark.parametrize("path", PATHS)
def test_what_a_look_would_keep_is_shown_where_it_cannot_be(teacher: TestClient, path: str) -> None:
    """Runs are shown with the periods of the bells, though nothing can be written now."""
    stocked.put(desk_of(teacher).settings)
    database, run = database_of(teacher), ids_of(teacher)[0]
    with closing(sqlite3.connect(database.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with database.read() as connection:
            connection.execute("PRAGMA busy_timeout = 10")
        answer = teacher.get(path.format(run=run), headers=PAGE)
        other.execute("ROLLBACK")
    assert 200 == answer.status_code
    assert "Period <bdi>" in answer.text or path != "/"


class _Overtaken(sqlite3.Connection):
    """A connection before whose first transaction another process makes the tables."""

    path: Path
    overtaken = False

    def execute(self, sql: str, parameters: Any = (), /) -> sqlite3.Cursor:  # noqa: ANN401  # as there
        if sql == "BEGIN IMMEDIATE" and not self.overtaken:
            self.overtaken = True
            first = Database(self.path)
            with first.read():
                pass
            first.close()
        return super().execute(sql, parameters)


def test_two_processes_may_make_the_file_at_once(tmp_path: Path) -> None:
    """The desk starts for the first time and somebody runs its command beside it."""
    path = tmp_path / "desk.sqlite3"
    with closing(sqlite3.connect(path, factory=_Overtaken, isolation_level=None)) as connection:
        connection.path = path
        migrate(connection, path)
        assert (len(MIGRATIONS),) == connection.execute("PRAGMA user_version").fetchone()


def spoil(settings: DeskSettings, how: str) -> None:
    """Damage the desk's file as a card does."""
    file = settings.data / "desk.sqlite3"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    content = bytearray(file.read_bytes())
    if how == "garbage":
        content[:] = b"\xa5" * len(content)
    else:
        content[4096:] = b"\xa5" * (len(content) - 4096)
    file.write_bytes(content)


@pytest.mark.parametrize("how", ["garbage", "hole"])
@pytest.mark.parametrize("path", ["/live", "/problems", "/api"])
def test_the_board_stays_up_over_a_damaged_file(claimed: DeskSettings, path: str, how: str) -> None:
    """What needs nothing of the desk's own file is shown as to anybody."""
    write_live(claimed.live_file)
    spoil(claimed, how)
    answer = distant(claimed).get(path, headers=PAGE)
    assert 200 == answer.status_code
    assert "3:01" in answer.text or path != "/live"


@pytest.mark.parametrize("how", ["garbage", "hole"])
@pytest.mark.parametrize("path", ["/sign-in", "/", "/first-start"])
def test_damage_of_the_file_is_named(claimed: DeskSettings, path: str, how: str) -> None:
    """The page says which file it is, and what helps."""
    spoil(claimed, how)
    answer = distant(claimed).get(path, headers=PAGE)
    assert 503 == answer.status_code
    assert "The file of the desk cannot be used" in answer.text
    assert "desk.sqlite3" in answer.text
    assert str(claimed.data) not in answer.text


def test_programs_hear_of_the_damage(claimed: DeskSettings) -> None:
    """The API names the problem, and health fails without telling strangers more."""
    spoil(claimed, "garbage")
    client = distant(claimed)
    answer = client.get("/v1/runs", headers={"Authorization": "Bearer something"})
    assert (503, "desk-unavailable") == (answer.status_code, answer.json()["type"].split("/")[-1])
    health = client.get("/v1/health")
    assert (503, {}) == (health.status_code, health.json()["checks"])


def test_a_disk_that_is_only_read_is_named(
    school: DeskSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing can be opened for writing there: the board is shown, the rest says why it is not."""
    real = os.open

    def refuse(path: Any, flags: int, *more: Any, **others: Any) -> int:  # noqa: ANN401  # as os.open
        if Path(path).name == "desk.sqlite3" and flags & os.O_RDWR:
            raise OSError(30, "Read-only file system", str(path))
        return real(path, flags, *more, **others)

    monkeypatch.setattr(os, "open", refuse)
    write_live(school.live_file)
    client = local(school, loud=False)
    assert 200 == client.get("/live", headers=PAGE).status_code
    answer = client.get("/", headers=PAGE)
    assert 503 == answer.status_code
    assert "desk.sqlite3 cannot be used: Read-only file system" in answer.text


def test_a_board_of_the_teacher_is_not_opened_by_damage(claimed: DeskSettings) -> None:
    """Who may see it was read before, and goes on to hold."""
    client = distant(claimed)
    database = database_of(client)
    with database.transaction() as connection:
        connection.execute("INSERT INTO preference VALUES ('board', 'teacher')")
    assert 401 == client.get("/live").status_code
    database.close()
    spoil(claimed, "garbage")
    assert 401 == client.get("/live").status_code


def test_a_page_that_is_damaged_is_told_by_its_reader(tmp_path: Path) -> None:
    """A question that meets the damage gets the file's name, and so does a change."""
    database = Database(tmp_path / "desk.sqlite3")
    with database.read(), pytest.raises(Unusable, match=r"desk\.sqlite3"), database.read() as one:
        one.execute("SELECT nothing FROM nowhere")
    with pytest.raises(Unusable, match=r"desk\.sqlite3"), database.transaction() as one:
        one.execute("INSERT INTO nowhere VALUES (1)")
    database.close()
