"""A school's week: four classes a day, four stations, one shelf, one bell table.

Every expectation here was worked out by hand on paper from the two files below:

* A run is 6:45 developing, 0:30 stop, 5:00 fixer, 0:30 rinse, 2:00 clearing, 5:00 wash, 1:00
  wetting = 20:45, with six hand-overs of 20 s = 22:45. Developer, stop and fixer with three
  hand-overs are 13:15.
* A class has four students, one tank each, 300 mL, at four stations. The tempering bath holds two
  developers: the second two begin 13:15 after the first, when film of those is in water.
* Developer 1+1 takes 150 mL of stock: 5 L are 33 tanks. Stop bath 2 L at 12 rolls a litre are
  24 rolls. Fixer 2 L at 20 rolls a litre are 40 rolls.
* On Wednesday morning the third class meets a cold sink: ready after 20 minutes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from wetside.development import bells, bottles
from wetside.development.before_class import Lesson, before_class
from wetside.development.bottles import Holds
from wetside.development.deadline import (
    Handover,
    Prospect,
    Timing,
    at_bell,
    deadline,
    judge,
    takes,
)
from wetside.development.shelf import Need, Use, count_run, standings
from wetside.development.sinks import Sinks, capacity
from wetside.outlook import Quantiles

BELLS = bells.parse(
    """
format = 1
clear_up_minutes = 5
[weeks]
names = ["A", "B"]
first_week_of = 2031-09-01

[[period]]
name = "1"
days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
starts = 08:30:00
ends = 09:20:00
[[period]]
name = "2"
days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
starts = 09:30:00
ends = 10:20:00
[[period]]
name = "3"
days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
starts = 10:40:00
ends = 11:30:00
[[period]]
name = "4"
days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
weeks = ["A"]
starts = 12:30:00
ends = 13:20:00
""",
    "bells.toml",
)

DEVELOPER = """
[[bottle]]
label = "Dev {name}"
holds = "developer"
strength = "1+1"
millilitres = {millilitres}
mixed_on = {mixed_on}
use = "once"
keeps_opened_days = 30
"""

STOP = """
[[bottle]]
label = "Stop {name}"
holds = "stop bath"
millilitres = {millilitres}
mixed_on = {mixed_on}
use = "reused"
rolls_per_litre = 12
"""

FIXER = """
[[bottle]]
label = "Fix {name}"
holds = "fixer"
strength = "1+4"
millilitres = 2000
mixed_on = 2031-09-01
use = "reused"
rolls_per_litre = 20
fresh_clearing_seconds = 40
check_every_rolls = 20
keeps_opened_days = 30
"""

CHECK = """
  [[bottle.check]]
  on = {on}
  clearing_seconds = {seconds}
  rolls = {rolls}
"""

STEPS = (
    Timing("develop", 405),
    Timing("stop", 30),
    Timing("fix", 300),
    Timing("rinse", 30),
    Timing("clear", 120),
    Timing("wash", 300),
    Timing("wet", 60),
)
HANDOVER = Handover(20.0, 0.0)
NEEDS = (Need(Holds.DEVELOPER, 300), Need(Holds.STOP, 300), Need(Holds.FIXER, 300))

WEEK = [date(2031, 9, 1) + timedelta(days=n) for n in range(5)]
NAMES = ("mon", "tue", "wed", "thu", "fri")


@dataclass
class School:
    """The shelf file as the teacher keeps it, and what has been recorded."""

    parts: dict[str, str]
    uses: list[Use] = field(default_factory=list)
    warnings: dict[str, list[str]] = field(default_factory=dict)
    hung: dict[str, list[str]] = field(default_factory=dict)
    prospects: dict[str, list[Prospect]] = field(default_factory=dict)

    def shelf(self) -> bottles.ShelfFile:
        """The file as it is now, read and checked."""
        return bottles.parse("format = 1\n" + "".join(self.parts.values()), "shelf.toml")

    def teacher(self, class_name: str) -> None:
        """What the teacher does once the warnings of a class are read."""
        match class_name:
            case "tue 1":
                self.parts["fix 1"] += CHECK.format(on="2031-09-02", seconds=48, rolls=16)
            case "tue 3":
                del self.parts["stop 1"]
                self.parts["stop 2"] = STOP.format(
                    name="2", millilitres=5000, mixed_on="2031-09-02"
                )
            case "wed 1":
                self.parts["fix 1"] += CHECK.format(on="2031-09-03", seconds=62, rolls=32)
            case "wed 3":
                del self.parts["fix 1"]
            case "thu 4":
                self.parts["fix 2"] += CHECK.format(on="2031-09-04", seconds=45, rolls=18)
            case "fri 2":
                self.parts["dev c"] = DEVELOPER.format(
                    name="C", millilitres=2000, mixed_on="2031-09-05"
                )


def run_week() -> School:
    school = School(
        {
            "dev a": DEVELOPER.format(name="A", millilitres=5000, mixed_on="2031-09-01"),
            "dev b": DEVELOPER.format(name="B", millilitres=5000, mixed_on="2031-09-01"),
            "stop 1": STOP.format(name="1", millilitres=2000, mixed_on="2031-09-01"),
            "fix 1": FIXER.format(name="1"),
            "fix 2": FIXER.format(name="2"),
        }
    )
    for day, short in zip(WEEK, NAMES, strict=True):
        for period in BELLS.on(day):
            name = f"{short} {period.name}"
            ready = timedelta(minutes=20 if name == "wed 3" else 5)
            play(school, name, datetime.combine(day, period.starts), ready)
    return school


def play(school: School, name: str, opens: datetime, ready: timedelta) -> None:
    """One class: warnings, the teacher, then as many rounds as hang before the bell."""
    lesson = Lesson(opens.date(), 4, 1.0, 2, NEEDS)
    notices = before_class(school.shelf(), school.uses, lesson)
    if notices:
        school.warnings[name] = [notice.text for notice in notices]
        school.teacher(name)
    limit = deadline(BELLS, opens, STEPS, HANDOVER)
    assert limit is not None
    later = takes(STEPS[:3], HANDOVER).likely + HANDOVER.mean_seconds
    whole = takes(STEPS, HANDOVER).likely
    for round_number in range(2):
        start = opens + ready + timedelta(seconds=later * round_number)
        seconds = (start - opens).total_seconds()
        verdict = judge(limit, opens, Quantiles(seconds, seconds, seconds))
        school.prospects.setdefault(name, []).append(verdict.prospect)
        if verdict.prospect is not Prospect.EASY:
            continue
        school.hung.setdefault(name, []).append(f"{start + timedelta(seconds=whole):%H:%M:%S}")
        for station in range(2):
            counted, missing = count_run(
                school.shelf(),
                school.uses,
                run=f"{name} round {round_number} station {station}",
                on=opens.date(),
                rolls=1.0,
                needs=NEEDS,
            )
            assert missing == ()
            school.uses.extend(counted)


def test_warnings_come_before_the_classes_that_need_them() -> None:
    """The week's warnings are exactly these, each before the class it concerns."""
    assert run_week().warnings == {
        # 16 rolls on Monday; the 20th falls into this class
        "tue 1": ["Fix 1: 20 rolls since its last clearing-time test"],
        # 16 + 8 rolls were all that 2 L of stop bath take
        "tue 3": [
            "stop bath: no bottle that may be used",
            "Stop 1: has taken its 24 rolls (teacher's own); mix new",
        ],
        # tested at 16 rolls; the 36th falls into this class
        "wed 1": ["Fix 1: 20 rolls since its last clearing-time test"],
        # 32 + 8 rolls were all that Fix 1 takes; Fix 2 stands ready
        "wed 3": ["Fix 1: has taken its 40 rolls (teacher's own); mix new"],
        # 2 + 4 rolls on Wednesday and 12 so far today; this class makes 22
        "thu 4": ["Fix 2: 22 rolls since its last clearing-time test"],
        # 66 tanks were all that twice 5 L of stock give; 50 mL are left in each bottle
        "fri 2": [
            "developer: serves 0 of 4 tanks; mix before class",
            "developer: 200 mL at hand, 2 tanks at once take 600 mL",
        ],
        # tested at 18 rolls; the 38th falls into this class
        "fri 4": ["Fix 2: 20 rolls since its last clearing-time test"],
    }


def test_film_hangs_at_these_times() -> None:
    """Round one starts 5 min after the bell, round two 13:15 later; each hangs 22:45 on."""
    usual = {
        "1": ["08:57:45", "09:11:00"],
        "2": ["09:57:45", "10:11:00"],
        "3": ["11:07:45", "11:21:00"],
        "4": ["12:57:45", "13:11:00"],
    }
    expected = {f"{day} {period}": times for day in NAMES for period, times in usual.items()}
    # ready at 11:00, hung at 11:22:45; a second round at 11:13:15 is too late
    expected["wed 3"] = ["11:22:45"]
    assert run_week().hung == expected


def test_the_cold_morning_is_told_in_time() -> None:
    """On Wednesday the third class gets one round; the second could not even rest in water."""
    prospects = run_week().prospects
    assert prospects.pop("wed 3") == [Prospect.EASY, Prospect.NO]
    assert set(map(tuple, prospects.values())) == {(Prospect.EASY, Prospect.EASY)}


def test_the_shelf_at_the_end_of_the_week() -> None:
    """78 rolls: what each bottle has done and has left on Friday afternoon."""
    school = run_week()
    found = {
        one.bottle.label: (one.rolls, one.left_rolls, round(one.left_millilitres))
        for one in standings(school.shelf(), school.uses, WEEK[-1])
    }
    assert found == {
        "Dev A": (33.0, None, 50),
        "Dev B": (33.0, None, 50),
        "Dev C": (12.0, None, 200),
        "Stop 2": (54.0, 6.0, 5000),
        "Fix 2": (38.0, 2.0, 2000),
    }


def test_one_round_fits_into_a_period_of_these_classes() -> None:
    """5 + 22:45 + 5 + 22:45 are more than 45 min, so four students need four stations at once."""
    four, two = (
        capacity(
            Sinks(stations),
            4,
            open_seconds=45 * 60,
            ready_seconds=5 * 60,
            run_seconds=22 * 60 + 45,
        )
        for stations in (4, 2)
    )
    assert (four.students, four.periods, len(four.starts)) == (4, 1, 1)
    assert (two.students, two.periods, len(two.starts)) == (2, 2, 1)


def test_a_round_started_against_advice_is_in_the_fixer_at_the_clearing_up() -> None:
    """Started at 11:13:15 film is fixing at 11:25 and reaches water at 11:26:30."""
    opens = datetime.fromisoformat("2031-09-03T11:13:15")
    found = at_bell(STEPS, HANDOVER, opens, datetime.fromisoformat("2031-09-03T11:25:00"))
    assert (found.kind, found.leaving.safe) == ("fix", False)
    assert f"{found.safe_at:%H:%M:%S}" == "11:26:30"


def test_a_b_week_has_three_classes() -> None:
    """The fourth period is held in A weeks only."""
    assert [len(BELLS.on(day + timedelta(days=7))) for day in WEEK] == [3] * 5
