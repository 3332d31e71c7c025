"""The teacher's files as the desk keeps them: read, replaced whole, every version kept."""

from __future__ import annotations

import errno
import stat
import threading
from pathlib import Path
from typing import TYPE_CHECKING
from unittest import mock

import pytest

from wetside.errors import BellsError, ShelfError
from wetside_desk.files import papers
from wetside_desk.store import versions
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from tests.desk import stocked
else:
    import desk_stocked as stocked


@pytest.fixture
def database(tmp_path: Path) -> Database:
    return Database(tmp_path / "desk" / "desk.sqlite3")


FIXER = """format = 1
[[bottle]]
label = "Stop"
holds = "stop bath"
millilitres = 1000
mixed_on = 2031-09-01
use = "reused"
rolls_per_litre = 12
[[bottle]]
label = "Fixer"
holds = "fixer"
millilitres = 1000
mixed_on = 2031-09-01
opened_on = 2031-09-01
use = "reused"
rolls_per_litre = 20
fresh_clearing_seconds = 40
[[bottle.check]]
on = 2031-09-01
clearing_seconds = 40
[[bottle.check]]
on = 2031-09-02
clearing_seconds = 44
"""


@pytest.mark.parametrize(
    ("before", "after", "place"),
    [
        ('"stop bath"\nmillilitres = 1000\nmixed_on = 2031', None, "bottle[1].mixed_on"),
        ("opened_on = 2031", None, "bottle[2].opened_on"),
        ("on = 2031-09-02", "on = 2201-09-02", "bottle[2].check[2].on"),
    ],
)
def test_days_of_other_centuries_are_refused_wherever_they_stand(
    before: str, after: str | None, place: str
) -> None:
    """Sums of days stay inside what a date can hold, and the reason names the key."""
    papers.parse_shelf(FIXER, "shelf.toml")
    assert FIXER.count(before) == 1
    text = FIXER.replace(before, after or before.replace("2031", "2201"))
    with pytest.raises(ShelfError) as caught:
        papers.parse_shelf(text, "shelf.toml")
    ((named, reason),) = caught.value.problems
    assert (place, True) == (named, reason.endswith("is outside 1970 to 2200"))


def test_writing_keeps_every_version(tmp_path: Path, database: Database) -> None:
    """What stood there before, written by whomever, and each new text; the same text once."""
    paper = papers.shelf(tmp_path)
    one = papers.write(database, paper, "format = 1\n", papers.tag_of(""), "teacher")
    papers.write(database, paper, "format = 1\n", one.tag, "teacher")
    paper.path.write_text("format = 1 # by hand\n", encoding="utf-8")
    now = papers.read(paper)
    papers.write(database, paper, stocked.SHELF, now.tag, "teacher")
    kept = versions.of(database, "shelf", "shelf.toml")
    assert [
        (3, "teacher", stocked.SHELF),
        (2, "found in the folder", "format = 1 # by hand\n"),
        (1, "teacher", "format = 1\n"),
    ] == [(one.number, one.who, one.text) for one in kept]
    database.close()


def test_a_stale_writer_changes_nothing(tmp_path: Path, database: Database) -> None:
    """Who saw another text is refused, and the file is as it was."""
    paper = papers.shelf(tmp_path)
    papers.write(database, paper, stocked.SHELF, papers.tag_of(""), "teacher")
    with pytest.raises(papers.Stale):
        papers.write(database, paper, "format = 1\n", papers.tag_of(""), "teacher")
    assert stocked.SHELF == paper.path.read_text(encoding="utf-8")
    database.close()


def test_of_many_writers_who_saw_the_same_one_wins(tmp_path: Path, database: Database) -> None:
    """Eight write at once over one tag: one is kept, seven are told, nothing is mixed."""
    paper = papers.shelf(tmp_path)
    seen = papers.write(database, paper, stocked.SHELF, papers.tag_of(""), "teacher").tag
    won: list[str] = []
    lost: list[str] = []

    def write(label: str) -> None:
        text = stocked.SHELF.replace("Stop 1", label)
        try:
            papers.write(database, paper, text, seen, label)
            won.append(text)
        except papers.Stale:
            lost.append(text)

    threads = [threading.Thread(target=write, args=(f"Stop {one}",)) for one in range(2, 10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (1, 7) == (len(won), len(lost))
    assert won[0] == paper.path.read_text(encoding="utf-8")
    database.close()


def test_a_reader_never_sees_a_half(tmp_path: Path, database: Database) -> None:
    """While the desk writes again and again, whoever reads finds one whole text or the other."""
    paper = papers.shelf(tmp_path)
    long = stocked.SHELF + "# " + "x" * 20_000 + "\n"
    papers.write(database, paper, long, papers.tag_of(""), "teacher")
    done = threading.Event()
    seen: set[str] = set()

    def read() -> None:
        while not done.is_set():
            seen.add(paper.path.read_text(encoding="utf-8"))

    reader = threading.Thread(target=read)
    reader.start()
    for _ in range(10):
        for text in (stocked.SHELF, long):
            papers.write(database, paper, text, papers.read(paper).tag, "teacher")
    done.set()
    reader.join()
    assert seen <= {stocked.SHELF, long}
    assert [paper.path.name] == [file.name for file in tmp_path.iterdir() if file.is_file()]
    database.close()


def test_the_file_is_not_for_everybody(tmp_path: Path, database: Database) -> None:
    """Owner and group read it, others do not: it says when the darkroom is used."""
    paper = papers.bell_table(tmp_path)
    papers.write(database, paper, stocked.BELLS, papers.tag_of(""), "teacher")
    assert 0o640 == stat.S_IMODE(paper.path.stat().st_mode)
    database.close()


def test_a_folder_that_cannot_be_written(tmp_path: Path, database: Database) -> None:
    """The problem names the file and the reason."""
    (tmp_path / "taken").write_text("a file where the folder should be", encoding="utf-8")
    paper = papers.shelf(tmp_path / "taken")
    with pytest.raises(ShelfError, match=r"shelf\.toml: cannot be written: File exists"):
        papers.write(database, paper, "format = 1\n", papers.tag_of(""), "teacher")
    assert [] == versions.of(database, "shelf", "shelf.toml")
    database.close()


def test_a_text_that_finds_no_room_is_no_version(tmp_path: Path, database: Database) -> None:
    """Where the disk is full before the file is written, only what stood in it is kept."""
    paper = papers.bell_table(tmp_path)
    papers.write(database, paper, stocked.BELLS, papers.tag_of(""), "teacher")
    longer = f"{stocked.BELLS}# more\n"
    full = OSError(errno.ENOSPC, "No space left on device")
    with (
        mock.patch("os.fsync", side_effect=full),
        pytest.raises(BellsError, match=r"bells\.toml: cannot be written: No space left"),
    ):
        papers.write(database, paper, longer, papers.tag_of(stocked.BELLS), "teacher")
    kept = versions.of(database, "bells", "bells.toml")
    assert [stocked.BELLS] == [version.text for version in kept]
    assert stocked.BELLS == papers.read(paper).text
    database.close()
