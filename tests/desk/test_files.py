"""The TOML files as the desk keeps them: lines of keys, single-key edits, atomic replacing."""

from __future__ import annotations

import errno
import stat
import threading
import tomllib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from unittest import mock

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from wetside.errors import BellsError, ShelfError
from wetside.session import sheet
from wetside_desk.files import edits, lines, papers
from wetside_desk.store import versions
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from tests.desk import stocked
else:
    import desk_stocked as stocked

TEXTS = [
    stocked.SHELF,
    stocked.BELLS,
    *(path.read_text(encoding="utf-8") for path in sorted(sheet.shipped_folder().glob("*.toml"))),
]


def keys_of(table: dict[str, object], before: str = "") -> set[str]:
    """Every key of a table as people name it, from the standard library's own reading."""
    found: set[str] = set()
    for key, value in table.items():
        name = f"{before}.{key}" if before else key
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for number, one in enumerate(value, start=1):
                found |= {f"{name}[{number}]"} | keys_of(one, f"{name}[{number}]")
        elif isinstance(value, dict):
            found |= {name} | keys_of(value, name)
        else:
            found.add(name)
    return found


@pytest.mark.parametrize("text", TEXTS)
def test_every_key_has_its_line(text: str) -> None:
    """All keys that tomllib reads are found, each on a line that names it."""
    known = lines.places(text)
    written = text.splitlines()
    assert keys_of(tomllib.loads(text)) == set(known)
    for place, line in known.items():
        last = place.rpartition(".")[2].split("[")[0]
        assert last in written[line - 1]


def test_a_missing_key_points_to_its_table() -> None:
    """What is not there is shown at the table that lacks it; what is nowhere has no line."""
    known = lines.places("format = 1\n\n[[step]]\nkind = 'fix'\n")
    assert 3 == lines.line_of(known, "step[1].seconds")
    assert 4 == lines.line_of(known, "step[1].kind")
    assert lines.line_of(known, "title") is None


def test_a_broken_text_points_to_its_line() -> None:
    """The parser says where it stopped; that line is marked."""
    text = "format = 1\nname = \n"
    with pytest.raises(ShelfError) as caught:
        papers.parse_shelf(text, "shelf.toml")
    assert 2 == lines.marks(text, caught.value.problems)[0].line


def test_text_in_several_lines_holds_no_keys() -> None:
    """What stands between triple quotes is no key."""
    known = lines.places('a = """\nb = 1\n[[c]]\n"""\nd = 2\n')
    assert {"a": 1, "d": 5} == known


@given(st.text(max_size=200))
def test_any_text_can_be_looked_at(text: str) -> None:
    """Whatever is written, looking for lines gives lines of the text and never fails."""
    assert all(1 <= line <= len(text.splitlines()) for line in lines.places(text).values())


def test_an_edit_changes_only_its_line() -> None:
    """Every other line, comments too, is as it was."""
    after = edits.change(stocked.SHELF, "bottle", 3, {"millilitres": 1500, "use": "reused"})
    differing = [
        pair
        for pair in zip(stocked.SHELF.splitlines(), after.splitlines(), strict=True)
        if pair[0] != pair[1]
    ]
    assert [("millilitres = 1000", "millilitres = 1500")] == differing


def test_a_new_key_stands_right_under_those_of_its_table() -> None:
    """No empty line parts it from them, as nobody would write it so."""
    text = "format = 1\n\n[[bottle]]\nlabel = 'A'\n\n[[bottle]]\nlabel = 'B'\n"
    changed = edits.change(text, "bottle", 1, {"millilitres": 500})
    assert text.replace("'A'\n", "'A'\nmillilitres = 500\n") == changed


def test_a_key_is_taken_away_and_nothing_else() -> None:
    """None takes a key out of its table with its line; one that is not there stays away."""
    text = "format = 1\n\n[[bottle]]\nlabel = 'A'\nopened_on = 2025-01-04\nmillilitres = 500\n"
    taken = edits.change(text, "bottle", 1, {"opened_on": None, "bath": None})
    assert text.replace("opened_on = 2025-01-04\n", "") == taken


def test_a_table_is_made_changed_and_taken_away() -> None:
    """A table such as [weeks] keeps what is not named in a change; None takes all of it."""
    made = edits.set_table("format = 1\n", "weeks", {"names": ["A", "B"], "first": "A"})
    changed = edits.set_table(made, "weeks", {"first": "B"})
    assert {"names": ["A", "B"], "first": "B"} == tomllib.loads(changed)["weeks"]
    assert {"format": 1} == tomllib.loads(edits.set_table(changed, "weeks", None))
    assert changed == edits.set_table(changed, "others", None)


def test_edits_give_what_they_say() -> None:
    """Add, take, set and take keys, tables and tables in tables: read back by tomllib."""
    text = edits.add("", "bottle", {"label": "A", "mixed_on": date(2025, 1, 2)})
    text = edits.add(text, "bottle", {"label": "B"})
    text = edits.add_under(text, "bottle", 1, "check", {"on": date(2025, 1, 3)})
    text = edits.change(text, "bottle", 1, {"opened_on": date(2025, 1, 4)})
    assert {
        "format": 1,
        "bottle": [
            {
                "label": "A",
                "mixed_on": date(2025, 1, 2),
                "opened_on": date(2025, 1, 4),
                "check": [{"on": date(2025, 1, 3)}],
            },
            {"label": "B"},
        ],
    } == tomllib.loads(text)
    text = edits.take(edits.change(text, "bottle", 1, {"check": None}), "bottle", 2)
    assert ["A"] == [one["label"] for one in tomllib.loads(text)["bottle"]]
    assert {"format": 1} == tomllib.loads(edits.take(text, "bottle", 1))


COMMENTED = """\
# Bells of the school, looked through in August
format = 1
# five minutes are not enough on Fridays
clear_up_minutes = 5

# --- the old timetable is in the drawer ---

# mornings
[[period]]
name = "1"   # register
starts = 09:00:00
# the bell is late here

# afternoons
[[period]]
name = "2"

# the end
"""


@pytest.mark.parametrize(
    ("edit", "under", "fresh"),
    [
        (
            lambda text: edits.set_table(text, "weeks", {"names": ["A", "B"]}),
            "# --- the old timetable is in the drawer ---",
            ["[weeks]", 'names = ["A", "B"]'],
        ),
        (
            lambda text: edits.set_keys(text, {"group": "X"}),
            "clear_up_minutes = 5",
            ['group = "X"'],
        ),
        (
            lambda text: edits.change(text, "period", 1, {"group": "X"}),
            "# the bell is late here",
            ['group = "X"'],
        ),
        (
            lambda text: edits.add_under(text, "period", 1, "check", {"on": date(2025, 1, 3)}),
            "# the bell is late here",
            ["[[period.check]]", "on = 2025-01-03"],
        ),
        (
            lambda text: edits.add(text, "period", {"name": "3"}),
            'name = "2"',
            ["[[period]]", 'name = "3"'],
        ),
    ],
)
def test_what_is_new_leaves_every_comment_at_its_table(
    edit: Callable[[str], str], under: str, fresh: list[str]
) -> None:
    """A new key or table stands under its own, and every line that was there is there, in order."""
    after = edit(COMMENTED)
    new = list(filter(None, after.splitlines()))
    place = new.index(under) + 1
    assert fresh == new[place : place + len(fresh)]
    del new[place : place + len(fresh)]
    assert list(filter(None, COMMENTED.splitlines())) == new
    assert "\n\n\n" not in after


def test_a_period_goes_with_its_own_comments_only() -> None:
    """Those right above and under it go; the next one's and those between empty lines stay."""
    after = edits.take(COMMENTED, "period", 1)
    above = COMMENTED[: COMMENTED.index("# mornings")]
    below = COMMENTED[COMMENTED.index("# afternoons") :]
    assert above + below == after
    assert above + "# the end\n" == edits.take(after, "period", 1)


def test_tests_of_the_old_filling_go_without_the_next_bottles_comment() -> None:
    """Mixed anew: the tables under a bottle go, what stands above the next one stays."""
    text = edits.add("", "bottle", {"label": "A"})
    text = edits.add_under(text, "bottle", 1, "check", {"on": date(2025, 1, 3)})
    text += '\n# upper board\n[[bottle]]\nlabel = "B"\n'
    assert (
        'format = 1\n\n[[bottle]]\nlabel = "A"\n\n# upper board\n[[bottle]]\nlabel = "B"\n'
    ) == edits.change(text, "bottle", 1, {"check": None})


def test_a_text_that_looks_like_a_comment_is_never_cut() -> None:
    """Lines of a long text are no comments of the next table: rather nothing is changed."""
    text = 'format = 1\n[[bottle]]\nsource = """\n# a\n# b"""\n[[bottle]]\nlabel = "B"\n'
    with pytest.raises(edits.CannotEdit, match="unusual way"):
        edits.take(text, "bottle", 2)


@given(st.data())
def test_edits_never_lose_another_key(data: st.DataObject) -> None:
    """Whichever bottles are changed, tested and taken: what is left is as tomllib would have it."""
    text, wanted = stocked.SHELF, tomllib.loads(stocked.SHELF)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(1, len(wanted["bottle"])))
        act = data.draw(st.sampled_from(["take", "test", "key", "none", "add"]))
        bottle = wanted["bottle"][place - 1]
        if act == "take" and len(wanted["bottle"]) > 1:
            text = edits.take(text, "bottle", place)
            del wanted["bottle"][place - 1]
        elif act == "test":
            text = edits.add_under(text, "bottle", place, "check", {"on": date(2025, 1, 3)})
            bottle.setdefault("check", []).append({"on": date(2025, 1, 3)})
        elif act == "key":
            text = edits.change(text, "bottle", place, {"opened_on": date(2025, 1, 3)})
            bottle["opened_on"] = date(2025, 1, 3)
        elif act == "none":
            text = edits.change(text, "bottle", place, {"check": None})
            bottle.pop("check", None)
        elif act == "add":
            text = edits.add(text, "bottle", {"label": "New"})
            wanted["bottle"].append({"label": "New"})
    assert wanted == tomllib.loads(text)


@pytest.mark.parametrize("text", ["bottle = [1, 2]\n", "bottle = 1\n", "not toml"])
def test_what_cannot_be_edited_says_so(text: str) -> None:
    """A text laid out otherwise is left to the editor."""
    with pytest.raises(edits.CannotEdit):
        edits.add(text, "bottle", {"label": "A"})


@given(
    value=st.text(max_size=40).filter(lambda text: "\x00" not in text and text.isprintable()),
    place=st.integers(min_value=1, max_value=6),
)
def test_no_text_breaks_out_of_its_key(value: str, place: int) -> None:
    """Whatever is typed into a field is that key's value and nothing else."""
    before = tomllib.loads(stocked.SHELF)
    after = tomllib.loads(edits.change(stocked.SHELF, "bottle", place, {"source": value}))
    before["bottle"][place - 1]["source"] = value
    assert before == after


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


def test_tomlkit_reads_what_tomllib_reads() -> None:
    """Two libraries agree on every file that ships and on the demo."""
    for text in TEXTS:
        assert tomllib.loads(text) == tomlkit.parse(text).unwrap()
