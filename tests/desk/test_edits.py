"""Texts of TOML as the desk edits them: lines of keys, and changes of single keys."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from wetside.errors import ShelfError
from wetside.session import sheet
from wetside_desk.files import edits, lines, papers

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


def test_tomlkit_reads_what_tomllib_reads() -> None:
    """Two libraries agree on every file that ships and on the demo."""
    for text in TEXTS:
        assert tomllib.loads(text) == tomlkit.parse(text).unwrap()
