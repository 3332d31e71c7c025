"""Runs of the journal counted onto bottles: once, onto the right ones, from the right day."""

from __future__ import annotations

import shutil
import threading
import uuid
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from wetside.development.bottles import Holds
from wetside.development.film import Film
from wetside.development.shelf import Use
from wetside.journal.reader import Reader
from wetside.journal.writer import Writer
from wetside.outlook import Wall
from wetside.session import sheet
from wetside_desk.files import papers
from wetside_desk.shelf import counting
from wetside_desk.shelf.counting import Counter
from wetside_desk.store import uses
from wetside_desk.store.database import Database

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.desk import stocked
    from tests.desk.invented import SCHOOL_DAY, Story, in_memory, tell

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_invented import SCHOOL_DAY, Story, in_memory, tell


@pytest.fixture
def house(folder: DeskSettings) -> Iterator[tuple[DeskSettings, Database]]:
    """Stocked shelf over an empty journal."""
    stocked.put(folder)
    database = Database(folder.data / "desk.sqlite3")
    yield folder, database
    database.close()


def runs(settings: DeskSettings, *stories: Story) -> list[str]:
    """Journal these runs; written in memory, as waiting for the disk is not what is tested."""
    kept = in_memory() / f"{uuid.uuid4().hex}.sqlite3"
    with Writer(kept, "sink-1") as writer:
        told = [tell(writer, replace(story, sample_every=60.0)) for story in stories]
    shutil.copy(kept, settings.journal)
    return told


def look(settings: DeskSettings, database: Database, at_once: int = counting.AT_ONCE) -> int:
    with Reader(settings.journal) as reader:
        counter = Counter(reader, database, settings.files_folder / "shelf.toml")
        return counter.count_ended(at_once)


def by_bottle(database: Database) -> dict[str, tuple[float, float]]:
    """Rolls and millilitres drawn of each bottle."""
    found: dict[str, tuple[float, float]] = {}
    for use in uses.current(database):
        rolls, drawn = found.get(use.bottle, (0.0, 0.0))
        found[use.bottle] = (rolls + use.rolls, drawn + use.drawn_millilitres)
    return found


def test_one_run_counts_on_one_bottle_of_each_kind(
    house: tuple[DeskSettings, Database],
) -> None:
    """One reel: 150 mL of stock at 1+1, one roll on stop, the older fixer, clearing, wetting.

    By hand from the sheet that ships (300 mL fillings): 300/2 = 150 mL of stock; wetting agent
    1+200 takes 300/201 = 1.49 mL.
    """
    settings, database = house
    runs(settings, Story(sheet=0))
    assert 1 == look(settings, database)
    found = by_bottle(database)
    assert {"Dev stock", "Stop 1", "Fixer 1", "Clearing", "Wetting"} == set(found)
    assert (1.0, 150.0) == found["Dev stock"]
    assert (1.0, 0.0) == found["Fixer 1"]
    assert pytest.approx((1.0, 300 / 201)) == found["Wetting"]


def test_looking_again_counts_nothing_twice(house: tuple[DeskSettings, Database]) -> None:
    """A second look, and one by a desk that was started anew, leave the counts as they are."""
    settings, database = house
    runs(settings, Story(seed=1), Story(seed=2, wall=SCHOOL_DAY + 5000))
    assert 2 == look(settings, database)
    before = uses.current(database)
    assert 0 == look(settings, database)
    again = Database(settings.data / "desk.sqlite3")
    assert 0 == look(settings, again)
    assert before == uses.current(again)
    again.close()


def test_many_lookers_at_once_count_each_run_once(house: tuple[DeskSettings, Database]) -> None:
    """Pages and the caretaker look at the same time; each run still has one use a bottle."""
    settings, database = house
    told = runs(settings, *(Story(seed=one, wall=SCHOOL_DAY + 4000 * one) for one in range(4)))
    with Reader(settings.journal) as reader:
        counter = Counter(reader, database, settings.files_folder / "shelf.toml")
        threads = [threading.Thread(target=counter.count_ended) for _ in range(6)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert sorted(told) == sorted(
        use.run for use in uses.current(database) if use.bottle == "Dev stock"
    )


def test_a_run_given_up_counts_as_far_as_it_came(house: tuple[DeskSettings, Database]) -> None:
    """Given up in the stop bath: developer and stop bath were used, the fixer was not."""
    settings, database = house
    runs(settings, Story(abandon_in="stop"))
    look(settings, database)
    assert {"Dev stock", "Stop 1"} == set(by_bottle(database))


def test_an_open_run_is_not_counted_yet(house: tuple[DeskSettings, Database]) -> None:
    """A run that still goes on waits for its end."""
    settings, database = house
    runs(settings, Story(stop_in="fix"))
    assert 0 == look(settings, database)
    assert [] == uses.current(database)


def test_runs_from_before_the_bottle_do_not_count(folder: DeskSettings) -> None:
    """What ended before a bottle was put on the shelf did not go through it."""
    stocked.put(folder, seen_since=SCHOOL_DAY + 50_000)
    database = Database(folder.data / "desk.sqlite3")
    runs(folder, Story(), Story(seed=2, wall=SCHOOL_DAY + 60_000))
    assert 2 == look(folder, database)
    assert 1.0 == by_bottle(database)["Fixer 1"][0]
    database.close()


@pytest.mark.parametrize("wall", [SCHOOL_DAY - 3 * 86400, 60_000.0])
def test_a_run_by_an_unset_clock_is_counted_and_told(folder: DeskSettings, wall: float) -> None:
    """The clock stands three days back, or at 1970, and the bottles seem to come later: told.

    The bottles do not age by such a date: they were opened no earlier than they were mixed.
    """
    stocked.put(folder, seen_since=SCHOOL_DAY - 86400)
    database = Database(folder.data / "desk.sqlite3")
    runs(folder, Story(wall=wall, trusted=False))
    assert 1 == look(folder, database)
    assert 1.0 == by_bottle(database)["Fixer 1"][0]
    (told,) = uses.latest_ended(database, 1)[0].missing
    assert "its clock was not set: counted onto Dev stock, Stop 1, Fixer 1, Cl" in told
    assert told.endswith(", put there later by that clock")
    mixed = {one.label: one.mixed_on for one in papers.parse_shelf(stocked.SHELF, "x").bottle}
    assert all(use.on >= mixed[use.bottle] for use in uses.current(database))
    database.close()


def test_a_run_by_an_unset_clock_that_fits_is_not_in_doubt(
    house: tuple[DeskSettings, Database],
) -> None:
    """A device without network counts every run; where the times fit nothing is told."""
    settings, database = house
    runs(settings, Story(trusted=False))
    look(settings, database)
    assert 1.0 == by_bottle(database)["Fixer 1"][0]
    assert () == uses.latest_ended(database, 1)[0].missing


def test_a_run_that_is_listed_far_below_is_counted(house: tuple[DeskSettings, Database]) -> None:
    """A sink without a clock begins each day at the same hour: the run begun last is looked at."""
    settings, database = house
    clock = Story(wall=SCHOOL_DAY, trusted=False, sample_every=300.0)
    early = [replace(clock, wall=SCHOOL_DAY + 3600.0 + 60.0 * day, seed=day) for day in range(51)]
    runs(settings, *early)
    while look(settings, database):
        pass
    with Writer(settings.journal, "sink-1") as writer:
        last = tell(writer, clock)
    assert 1 == look(settings, database)
    assert {last} == uses.counted(database, [last])


def test_bottles_of_a_clock_that_was_ahead_count_again(
    house: tuple[DeskSettings, Database],
) -> None:
    """Once a trusted clock says that it was, runs since the day of mixing are counted."""
    settings, database = house
    with database.transaction() as connection:
        connection.execute("UPDATE filling SET known = ?", (SCHOOL_DAY + 4e8,))
    uses.mend(database, SCHOOL_DAY + 86400.0)
    runs(settings, Story())
    assert 1 == look(settings, database)
    assert (1.0, 0.0) == by_bottle(database)["Fixer 1"]


def test_a_bottle_that_is_new_takes_no_run_that_ended_before(folder: DeskSettings) -> None:
    """Met in the very look that finds the run, it came after it by any clock."""
    stocked.put(folder)
    database = Database(folder.data / "desk.sqlite3")
    with database.transaction() as connection:
        connection.execute("DELETE FROM filling")
    runs(folder, Story(trusted=False))
    assert 1 == look(folder, database)
    assert {} == by_bottle(database)
    database.close()


def test_a_full_fixer_hands_over_to_the_next(house: tuple[DeskSettings, Database]) -> None:
    """Fixer 1 takes 20 rolls, 6 went before: the fifteenth run goes onto fixer 2."""
    settings, database = house
    runs(settings, *(Story(seed=one, wall=SCHOOL_DAY + 4000 * one) for one in range(15)))
    while look(settings, database, at_once=4):
        pass
    found = by_bottle(database)
    assert 14.0 == found["Fixer 1"][0]
    assert 1.0 == found["Fixer 2"][0]


def test_what_found_no_bottle_is_kept(house: tuple[DeskSettings, Database]) -> None:
    """The stop bath takes twelve rolls; the thirteenth run says that none was left."""
    settings, database = house
    runs(settings, *(Story(seed=one, wall=SCHOOL_DAY + 4000 * one) for one in range(13)))
    look(settings, database)
    assert 12.0 == by_bottle(database)["Stop 1"][0]
    latest = uses.latest_ended(database, 1)[0]
    assert ("no bottle of stop bath serves 1 roll and 300 mL",) == latest.missing


def test_a_later_day_of_mixing_is_a_new_filling(house: tuple[DeskSettings, Database]) -> None:
    """Counting begins anew; an earlier day only mends the date and keeps the uses."""
    settings, database = house
    runs(settings, Story())
    look(settings, database)
    earlier = stocked.SHELF.replace("mixed_on = 2025-11-03", "mixed_on = 2025-11-02")
    uses.note_fillings(database, papers.parse_shelf(earlier, "shelf.toml"))
    assert "Stop 1" in by_bottle(database)
    later = stocked.SHELF.replace("mixed_on = 2025-11-03", "mixed_on = 2025-11-05")
    uses.note_fillings(database, papers.parse_shelf(later, "shelf.toml"))
    assert {"Fixer 1", "Wetting"} == set(by_bottle(database))


def test_mixed_anew_on_the_same_day_starts_from_nothing(
    house: tuple[DeskSettings, Database],
) -> None:
    """The day is the same, yet the runs of the morning do not count onto the new filling."""
    settings, database = house
    runs(settings, Story())
    look(settings, database)
    uses.renew(database, "Stop 1", date(2025, 11, 3))
    assert "Stop 1" not in by_bottle(database)
    assert 4 == len(by_bottle(database))


def on_record(database: Database, label: str) -> int:
    """Uses on record under a label, of every filling."""
    with database.read() as connection:
        (found,) = connection.execute(
            "SELECT COUNT(*) FROM bottle_use WHERE label = ?", (label,)
        ).fetchone()
    return int(found)


@pytest.mark.parametrize(("gone", "stays"), [("Fixer 1", "Fixer 2"), ("Fixer 2", "Fixer 1")])
def test_a_label_that_is_taken_over_keeps_what_is_on_record_under_it(
    house: tuple[DeskSettings, Database], gone: str, stays: str
) -> None:
    """The bottle that gets the label of one taken away counts its own runs and no other's.

    Whichever of the two has the more fillings; given its first label back it counts the same.
    """
    settings, database = house
    runs(settings, *(Story(seed=one, wall=SCHOOL_DAY + 4000 * one) for one in range(3)))
    look(settings, database)
    told = [use.run for use in uses.current(database) if use.bottle == "Fixer 1"]
    assert 3 == len(told)
    uses.renew(database, "Fixer 2", date(2025, 11, 12))
    uses.move(database, told[0], "Fixer 1", Use(told[0], "Fixer 2", date(2025, 11, 12), 1.0))
    before = by_bottle(database)
    kept = on_record(database, gone)
    own = on_record(database, stays)
    uses.rename(database, stays, gone)
    after = by_bottle(database)
    assert stays not in after
    assert before[stays] == after[gone]
    assert kept + own == on_record(database, gone)
    uses.rename(database, gone, stays)
    assert before[stays] == by_bottle(database)[stays]
    assert (kept, own) == (on_record(database, gone), on_record(database, stays))


def test_a_run_through_both_stays_with_the_bottle_that_has_the_label(
    house: tuple[DeskSettings, Database],
) -> None:
    """Two baths were fixed in, one was taken away and the other bears its label now."""
    settings, database = house
    (run,) = runs(settings, Story())
    look(settings, database)
    uses.move(database, run, "", Use(run, "Fixer 2", date(2025, 11, 12), 1.0))
    uses.rename(database, "Fixer 2", "Fixer 1")
    assert (1.0, 0.0) == by_bottle(database)["Fixer 1"]
    assert 0 == on_record(database, "Fixer 2")


def test_a_label_that_was_left_begins_from_nothing(house: tuple[DeskSettings, Database]) -> None:
    """A bottle mixed anew and renamed leaves its earlier filling; a new one there counts none."""
    settings, database = house
    runs(settings, Story())
    look(settings, database)
    uses.renew(database, "Stop 1", date(2025, 11, 13))
    uses.rename(database, "Stop 1", "Stop A")
    uses.note_fillings(database, papers.parse_shelf(stocked.SHELF, "shelf.toml"))
    assert 1 == on_record(database, "Stop 1")
    assert not {"Stop 1", "Stop A"} & set(by_bottle(database))


def test_a_broken_shelf_file_loses_no_run(house: tuple[DeskSettings, Database]) -> None:
    """While the file has mistakes nothing is counted; once mended, the run is."""
    settings, database = house
    runs(settings, Story())
    file = settings.files_folder / "shelf.toml"
    file.write_text("format = 2\n", encoding="utf-8")
    assert 0 == look(settings, database)
    file.write_text(stocked.SHELF, encoding="utf-8")
    assert 1 == look(settings, database)


def test_hand_over_is_what_a_step_lasted_over_its_time(
    house: tuple[DeskSettings, Database],
) -> None:
    """The invented student pours 14 s after each step's end; that is what is learnt."""
    settings, database = house
    runs(settings, Story(late_seconds=14.0))
    look(settings, database)
    assert [pytest.approx(14.0, abs=0.5)] == uses.gaps(database)


def test_a_power_cut_tells_no_hand_over(house: tuple[DeskSettings, Database]) -> None:
    """Nobody knows how long the student took while the power was gone."""
    settings, database = house
    runs(settings, Story(power_cut=True, gap_seconds=300.0))
    look(settings, database)
    assert [] == uses.gaps(database)


def test_the_film_on_the_reels_is_counted_by_its_area() -> None:
    """Two reels of six 4x5 sheets are 12 * 20 = 240 square inches: three rolls of 80."""
    made = sheet.load(sheet.shipped_folder() / "two-reels-20.toml")
    laden = made.model_copy(update={"film": Film.SHEET_4X5, "films_per_reel": 6})
    assert pytest.approx(3.0, abs=0.005) == counting.needs_of(laden, laden.step).rolls


@pytest.mark.parametrize(
    ("film", "tank", "millilitres"),
    [
        (Film.MEDIUM, Wall.PLASTIC, 1180.0),
        (Film.LONG, Wall.STEEL, 1000.0),
        (None, None, 600.0),
        (Film.SMALL_24, Wall.STEEL, 474.0),
    ],
)
def test_without_a_volume_the_tank_and_its_reels_tell_the_filling(
    film: Film | None, tank: Wall | None, millilitres: float
) -> None:
    """Two reels by the figures for the tank; the steel jug of the developer is no tank."""
    made = sheet.load(sheet.shipped_folder() / "two-reels-20.toml")
    assert made.vessel is Wall.STEEL
    steps = tuple(step.model_copy(update={"volume_millilitres": None}) for step in made.step)
    bare = made.model_copy(update={"film": film, "tank": tank, "step": steps})
    took = {need.millilitres for need in counting.needs_of(bare, bare.step).needs}
    assert {millilitres} == took


@pytest.mark.parametrize("name", ["one-reel-20.toml", "two-reels-20.toml", "warm-room-24.toml"])
def test_every_shipped_sheet_takes_its_fillings(name: str) -> None:
    """Each bottle is taken once, with the largest filling of its steps; water takes none."""
    made = sheet.load(sheet.shipped_folder() / name)
    took = counting.needs_of(made, made.step)
    kinds = [need.holds for need in took.needs]
    assert len(set(kinds)) == len(kinds)
    assert {Holds.DEVELOPER, Holds.FIXER} <= set(kinds)
    assert float(made.reels) == took.rolls
    for need in took.needs:
        given = [
            step.volume_millilitres or made.temper.volume_millilitres
            for step in made.step
            if counting.takes_bottle(step) is need.holds
        ]
        assert max(one for one in given if one is not None) == need.millilitres
