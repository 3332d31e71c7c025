"""What ``wetside doctor`` says of bells, shelf, containers and the desk's database."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.__main__ import app
from wetside.journal.schema import DESK_APPLICATION_ID, DESK_VERSION


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A station's folders with a whole file of each kind."""
    (tmp_path / "sheets").mkdir()
    (tmp_path / "desk").mkdir()
    (tmp_path / "station.toml").write_text(
        f'data_folder = "{tmp_path}"\nlive_folder = "{tmp_path}"\n'
        f'sheets_folder = "{tmp_path}/sheets"\nbells_file = "{tmp_path}/bells.toml"\n',
        encoding="utf-8",
    )
    (tmp_path / "containers.json").write_text('{"format": 1, "runs": []}', encoding="utf-8")
    (tmp_path / "shelf.toml").write_text("format = 1\n", encoding="utf-8")
    connection = sqlite3.connect(tmp_path / "desk" / "desk.sqlite3")
    connection.execute(f"PRAGMA application_id = {DESK_APPLICATION_ID}")
    connection.execute("CREATE TABLE note (text TEXT)")
    connection.executemany("INSERT INTO note VALUES (?)", [("x" * 1000,)] * 20)
    connection.commit()
    connection.close()
    return tmp_path


def _said(house: Path, part: str) -> str:
    result = CliRunner().invoke(app, ["doctor", "--settings", str(house / "station.toml")])
    lines = result.stdout.splitlines()
    return "\n".join(line for line in lines if line[8:].startswith(f"{part:<14} "))


def test_whole_files_have_a_line_each(house: Path) -> None:
    """Whoever looks sees that bells, shelf, containers and desk were looked at."""
    found = {part: _said(house, part) for part in ("bells", "shelf", "containers", "desk")}
    assert dict.fromkeys(found, "fine") == {
        part: line.split(" ")[0] for part, line in found.items()
    }
    (house / "shelf.toml").unlink()
    assert "none yet" in _said(house, "shelf")


@pytest.mark.parametrize(
    ("part", "file", "content", "says"),
    [
        ("bells", "bells.toml", b"x = [", "not valid TOML"),
        ("shelf", "shelf.toml", b"q", "not valid TOML"),
        ("containers", "containers.json", b"{", "cannot be used"),
        ("containers", "containers.json", b'{"format": 7}', "cannot be used"),
        ("desk", "desk/desk.sqlite3", None, "malformed"),
        ("desk", "desk/desk.sqlite3", b"no database, that is sure" * 9, "not a database"),
        ("desk", "desk/desk.sqlite3", 99, "a newer wetside"),
    ],
)
def test_a_broken_file_is_named(
    house: Path, part: str, file: str, content: bytes | int | None, says: str
) -> None:
    """Each is to be looked at, with its file and what is wrong."""
    path = house / file
    if isinstance(content, int):
        connection = sqlite3.connect(path)
        connection.execute(f"PRAGMA user_version = {DESK_VERSION + content}")
        connection.close()
    else:
        path.write_bytes(path.read_bytes()[:5000] if content is None else content)
    line = _said(house, part)
    assert line.startswith("look")
    assert says in line
    assert file in line


def test_a_broken_ledger_is_told_by_its_own_command(house: Path) -> None:
    """Exit code 1 and the file, in place of the words for a station that has learnt nothing."""
    (house / "containers.json").write_text("{", encoding="utf-8")
    words = ["containers", "--settings", str(house / "station.toml")]
    result = CliRunner().invoke(app, words)
    assert (1, "") == (result.exit_code, result.stdout)
    assert f"{house / 'containers.json'} cannot be used" in result.stderr
