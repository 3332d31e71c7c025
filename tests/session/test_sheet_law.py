"""The law of development on a sheet: what is refused, and what the shipped ones borrow."""

from __future__ import annotations

import csv
import os
import re
from pathlib import Path

import pytest

from wetside.development.coefficient import Q10
from wetside.development.law import TimeTable
from wetside.errors import SheetError
from wetside.session import record
from wetside.session import sheet as sheets
from wetside.session.events import Event, Kind
from wetside.session.machine import fold
from wetside.session.sheet import Sheet

SHIPPED = {
    sheet.name: sheet for sheet in map(sheets.load, sheets.available([sheets.shipped_folder()]))
}
LAW = """
[step.development]
nominal_celsius = 20
lowest_celsius = 18
highest_celsius = 24
source = "teacher's own"
nominal_time = "2:50"
ten_degrees = 2.5
"""


def problems(text: str) -> list[str]:
    with pytest.raises(SheetError) as caught:
        sheets.parse(text, "my.toml")
    return [line.removeprefix("my.toml: ") for line in caught.value.lines()]


def with_law(small_sheet_text: str, law: str = LAW) -> str:
    """The small sheet (180 s of developing, 10 s of filling) with a law on its develop step."""
    cut = small_sheet_text.index('\n[[step]]\nkind = "stop"')
    return small_sheet_text[:cut] + law + small_sheet_text[cut:]


def test_a_law_that_agrees_with_the_step_is_accepted(small_sheet_text: str) -> None:
    """2:50 from the full tank and 10 s of filling are the step's 180 s."""
    sheet = sheets.parse(with_law(small_sheet_text), "my.toml")
    assert sheet.develop.development is not None


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"2:50"', '"3:00"',
         ("step[2].seconds: 180 s do not go with development, which gives 3:00 at 20 °C from the "
          "full tank; filling takes 10 s. Write seconds = 190 here, "
          'or under development nominal_time = "2:50"')),
        ("nominal_celsius = 20", "nominal_celsius = 21",
         ("step[2].development.nominal_celsius: 21 is not the temper step's celsius (20); "
          "write one temperature in both, and the time for it")),
        ("ten_degrees = 2.5", "ten_degrees = 2.5\njoules_per_mole = 70000",
         ("step[2].development: give one of table, ten_degrees and joules_per_mole; "
         "here: ten_degrees and joules_per_mole")),
        ('nominal_time = "2:50"\n', "",
         "step[2].development.nominal_time: is missing beside ten_degrees"),
        ("source =", "sauce =", "step[2].development.source: is missing"),
        ('"2:50"', '"170 s"',
         ("step[2].development.nominal_time: '170 s' is not a time; "
         "write minutes and seconds such as 6:45")),
        ("highest_celsius = 24", "highest_celsius = 17",
         "step[2].development.highest_celsius: 17 is not above lowest_celsius 18"),
    ],
)  # fmt: skip
def test_a_law_that_cannot_be_is_told_by_file_key_and_reason(
    small_sheet_text: str, old: str, new: str, said: str
) -> None:
    """Among the lines is the one about the key that is wrong."""
    text = with_law(small_sheet_text, LAW.replace(old, new, 1))
    assert said in problems(text)


def test_a_law_belongs_to_developing(small_sheet_text: str) -> None:
    """A fixer with a developing law is a mistake."""
    cut = small_sheet_text.index('\n[[step]]\nkind = "wash"')
    text = small_sheet_text[:cut] + LAW + small_sheet_text[cut:]
    assert ["step[4].development: belongs to the develop step, not to fix"] == problems(text)


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ('tank = "glass"', "tank: must be 'plastic' or 'steel', not 'glass'"),
        ('tank_stands = "floor"', "tank_stands: must be 'room' or 'bath', not 'floor'"),
    ],
)
def test_tanks_that_are_not_known_are_told(small_sheet_text: str, key: str, said: str) -> None:
    """Tanks for film are of plastic or steel, and stand in the room or in the bath."""
    assert [said] == problems(small_sheet_text.replace("format = 1", f"format = 1\n{key}"))


def test_an_allowed_step_needs_a_temperature(small_sheet_text: str) -> None:
    """How far a bath may be off says nothing without the bath's temperature."""
    text = small_sheet_text.replace("can_wait = true", "can_wait = true\nallowed_step_celsius = 2")
    assert ["step[5]: allowed_step_celsius needs celsius beside it"] == problems(text)


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_every_shipped_sheet_has_a_law_that_the_journal_keeps(name: str) -> None:
    """The BEGIN event carries it, and the fold gives the same sheet back."""
    sheet = SHIPPED[name]
    assert sheet.develop.development is not None
    begun = record.begin(0.0, "01RUN", sheet)
    assert sheet == fold([Event(Kind.BEGIN, 0.0, begun.detail)]).sheet


@pytest.fixture(scope="module")
def rows() -> list[tuple[float, float]]:
    """The series that the shipped sheets borrow, as F-32 prints it: degC and seconds."""
    folder = Path(os.environ.get("WETSIDE_FACTS", Path(__file__).parents[3] / "shared" / "facts"))
    path = folder / "tables" / "tt_kodak_f32_rotary_rolls.csv"
    if not path.is_file():
        if os.environ.get("WETSIDE_CI"):
            pytest.fail(f"no published table {path}; set WETSIDE_FACTS")
        pytest.skip(f"no published table {path}; set WETSIDE_FACTS")
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line[:1] != "#"]
    found = list(csv.DictReader(lines))
    _, fast = dict.fromkeys(row["film"] for row in found)  # of 100 and of 400 speed
    return [
        (float(row["temp_c"]), 60 * float(row["minutes"]))
        for row in found
        if row["film"] == fast and row["developer"].startswith("E metol-hydroquinone")
    ]


def law_of(name: str) -> object:
    development = SHIPPED[name].develop.development
    assert development is not None
    return development.law()


@pytest.mark.parametrize("name", ["one reel 20", "warm room 24"])
def test_the_shipped_tables_are_what_f_32_prints(
    name: str, rows: list[tuple[float, float]]
) -> None:
    """Kodak F-32, rotary table, 400-speed film, metol-hydroquinone-borax powder stock."""
    law = law_of(name)
    assert isinstance(law, TimeTable)
    assert rows == [(row.celsius, row.seconds) for row in law.rows]


def test_the_shipped_coefficient_meets_every_row_of_f_32(rows: list[tuple[float, float]]) -> None:
    """The fit stays inside half a printed step of each row."""
    law = law_of("two reels 20")
    assert isinstance(law, Q10)
    assert [] == [row for row in rows if abs(law.seconds_at(row[0]) - row[1]) > 15.0]


def test_a_sheet_of_before_has_no_law_and_folds_as_it_did(small_sheet: Sheet) -> None:
    """A sheet without the new keys is dumped without them, so its fingerprint stands."""
    dumped = small_sheet.model_dump(mode="json", exclude_none=True)
    assert {"tank", "tank_stands"} & set(dumped) == set()
    assert all("development" not in step for step in dumped["step"])


TABLE = """
[step.development]
nominal_celsius = 20
lowest_celsius = 18
highest_celsius = 24
source = "a table"
table = [["20C", "2:50"], ["24C", "2:10"]]
"""


@pytest.mark.parametrize(
    ("old", "new", "ways"),
    [
        ("", "", ('in the table of development ["20C", "3:20"] in place of ["20C", "2:50"], '
         "and the other rows alike")),
        ('"20C", "2:50"', '"18C", "3:10"', "change the table of development until it gives 3:20"),
        ('source = "a table"', ('source = "a table"\nfactor = [{why = "push", '
         "times = 1.0, basis = \"teacher's own\"}]"), "until they make 3:20 with its factors"),
    ],
)  # fmt: skip
def test_another_developing_time_says_what_to_change(
    small_sheet_text: str, old: str, new: str, ways: str
) -> None:
    """210 s with 10 s of filling are 3:20 in the law; the message names the row that is for it."""
    text = with_law(small_sheet_text.replace("seconds = 180", "seconds = 210"), TABLE)
    [said] = problems(text.replace(old, new) if old else text)
    assert said.startswith("step[2].seconds: 210 s do not go with development")
    assert ways in said


def test_what_the_message_asks_for_is_taken(small_sheet_text: str) -> None:
    """The row as the message gives it makes the sheet a good one."""
    text = with_law(small_sheet_text.replace("seconds = 180", "seconds = 210"), TABLE)
    sheet = sheets.parse(text.replace('"2:50"', '"3:20"'), "my.toml")
    assert 210 == sheet.develop.seconds


@pytest.mark.parametrize("given", ['"3:00"', "180", '" 3:00 "'])
def test_a_step_takes_minutes_and_seconds(small_sheet_text: str, given: str) -> None:
    """As the table of a law is written."""
    text = small_sheet_text.replace("seconds = 180", f"seconds = {given}")
    assert 180 == sheets.parse(text, "my.toml").develop.seconds


@pytest.mark.parametrize("given", ["3:60", "1:00:00", "0:03"])
def test_a_clock_that_cannot_be_is_told(small_sheet_text: str, given: str) -> None:
    """Sixty seconds, hours, or less than a step may last."""
    text = small_sheet_text.replace("seconds = 180", f'seconds = "{given}"')
    [said] = problems(text)
    assert said.startswith("step[2].seconds: ")
    assert re.search(r"minutes and seconds such as 6:45, or seconds such as 450|equal to 5", said)
