"""The choice at the moment of pouring, and what the press that pours carries."""

from __future__ import annotations

import math

import pytest

from wetside.development.choose import Way
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.session import record
from wetside.session import sheet as sheets
from wetside.session.chemistry import choice_of, pour_detail
from wetside.session.events import Event, Kind
from wetside.session.machine import fold
from wetside.session.sheet import Sheet

SHEETS = {
    sheet.name: sheet for sheet in map(sheets.load, sheets.available([sheets.shipped_folder()]))
}
ONE_REEL, TWO_REELS = SHEETS["one reel 20"], SHEETS["two reels 20"]
NOWHERE = Quantiles(None, None, None)


def outlook(celsius: float | None, ready: float | None = 200.0) -> Outlook:
    developer = None if celsius is None else Temperature(celsius, 0.1)
    wait = NOWHERE if ready is None else Quantiles(ready, ready, ready)
    return Outlook(0.0, developer, Temperature(18.0, 0.1), wait, NOWHERE, 0.0)


def test_both_ways_are_told_on_the_clock_of_the_step() -> None:
    """At 22 degC the table prints 6:00; with 10 s of filling the display says 6:10 and 7:10."""
    choice = choice_of(ONE_REEL, outlook(22.0))
    assert choice is not None
    assert ("WAIT 3:20 done 10:30", "NOW  pour, done 6:10") == choice.lines


def test_the_sheets_own_baths_count_against_a_developer_that_is_not_as_warm() -> None:
    """A developer of 24.5 degC goes into baths of 20: three degrees are allowed."""
    choice = choice_of(ONE_REEL, outlook(24.5))
    assert choice is not None
    assert choice.pour.doubts[0].startswith("warm stop, fix, clear first or film may wrinkle")
    assert not any("wrinkle" in doubt for doubt in choice.wait.doubts)


def test_the_coefficient_of_a_sheet_is_its_own() -> None:
    """Two reels: 7:00 at 20 degC and 1.82 in ten degrees make 373 s at 22 degC, and 20 s more."""
    choice = choice_of(TWO_REELS, outlook(22.0))
    assert choice is not None
    assert choice.pour.develop is not None
    # 420 / 1.82 ** 0.2 = 372.6
    assert 393 == round(choice.pour.develop)


def test_without_a_law_or_a_developer_there_is_no_choice(small_sheet: Sheet) -> None:
    """Nothing is offered that cannot be computed."""
    assert choice_of(small_sheet, outlook(22.0)) is None
    assert choice_of(ONE_REEL, outlook(None)) is None
    assert choice_of(ONE_REEL, None) is None


def test_a_pour_before_the_window_carries_its_time_and_both_ways() -> None:
    """The log keeps the way, both options' figures and doubts, and whose law it was."""
    detail = pour_detail(ONE_REEL, outlook(22.0), inside=False)
    choice = detail["choice"]
    assert isinstance(choice, dict)
    assert isinstance(choice["wait"], dict)
    assert isinstance(choice["pour"], dict)
    assert (370.0, "Kodak F-32", "pour now") == (
        detail["develop_seconds"],
        detail["law"],
        choice["way"],
    )
    assert (630.0, 370.0) == (choice["wait"]["done_in"], choice["pour"]["done_in"])
    assert ("pour now", "wait") == (choice["sooner"], choice["safer"])
    # 5:57 at 22.16 and 6:05 at 21.84 degC, each 15 s either way: F-32 prints half minutes
    assert ["the adjusted time is known only to 5 %: 5:42 to 6:20"] == choice["pour"]["doubts"]


def test_a_pour_inside_the_window_waited() -> None:
    """Inside the window the nominal time stands, whatever tenth of a degree it is off."""
    detail = pour_detail(ONE_REEL, outlook(20.2, 0.0), inside=True)
    choice = detail["choice"]
    assert isinstance(choice, dict)
    assert (430.0, "wait") == (detail["develop_seconds"], choice["way"])
    assert "no_adjusted_time" not in detail


def test_a_pour_outside_the_table_says_why_it_has_no_time() -> None:
    """27.3 degC is beyond the useful range of the sheet."""
    detail = pour_detail(ONE_REEL, outlook(27.3), inside=False)
    assert "develop_seconds" not in detail
    assert (
        "27.3 degC is outside the useful range 18.0 to 25.0 degC of this sheet"
        == detail["no_adjusted_time"]
    )


def _steep(ten_degrees: float, **keys: float) -> Sheet:
    """One reel whose law has this coefficient, useful from 5 to 40 degC; keys of its step."""
    law = ONE_REEL.develop.development
    assert law is not None
    changed = {"table": None, "ten_degrees": ten_degrees, "nominal_time": "7:00"}
    limits = {"lowest_celsius": 5.0, "highest_celsius": 40.0, "rounding_seconds": 0.0}
    given = {**law.model_dump(), **changed, **limits, "outside_celsius": 0.0}
    develop = {**ONE_REEL.develop.model_dump(), **keys, "development": given}
    develop["seconds"] = 420.0 + develop["fill_seconds"]
    steps = [ONE_REEL.temper.model_dump(), develop]
    steps += [step.model_dump() for step in ONE_REEL.step[2:]]
    return Sheet.model_validate({**ONE_REEL.model_dump(), "step": steps})


@pytest.mark.parametrize(
    ("sheet", "celsius", "reason"),
    [
        # 7:00 * 10 ** 1.3 = 2:19:40, and 10 s of filling
        (_steep(10.0), 7.0, "2:19:50 is longer than a step may be, which is 2:00:00"),
        # 7:00 / 10 = 42 s, and 20 s of filling, which with 60 s of draining leave nothing
        (
            _steep(10.0, fill_seconds=20.0, drain_seconds=60.0),
            30.0,
            "1:02 is too short: filling and draining take 1:20",
        ),
    ],
    ids=["too long", "too short"],
)
def test_a_time_that_the_step_cannot_hold_is_refused_and_not_promised(
    sheet: Sheet, celsius: float, reason: str
) -> None:
    """The choice offers no such time, and a pour all the same runs the nominal one, flagged."""
    seen = outlook(celsius)
    choice = choice_of(sheet, seen)
    assert choice is not None
    assert ("NOW  no adjusted time", reason) == (choice.pour.line, choice.pour.refused)
    assert Way.WAIT is choice.safer
    detail = pour_detail(sheet, seen, inside=False)
    assert ("develop_seconds" in detail, detail["no_adjusted_time"]) == (False, reason)
    run = fold([record.begin(0.0, "01RUN", sheet), Event(Kind.NOW, 300.0, detail)])
    assert (sheet.develop.seconds, reason) == (run.steps[1].planned_seconds, run.no_time_reason)
    assert "no-adjusted-time" in run.flags


@pytest.mark.parametrize("handling", [52.0, 51.0])
def test_whatever_is_promised_is_what_the_step_lasts(handling: float) -> None:
    """52.4 s are told as 0:52: they fit 51 s of filling and draining, and are refused beside 52."""
    sheet = _steep(10.0, drain_seconds=handling - 10.0)
    celsius = 20.0 + 10.0 * math.log10(420.0 / 42.4)
    detail = pour_detail(sheet, outlook(celsius), inside=False)
    run = fold([record.begin(0.0, "01RUN", sheet), Event(Kind.NOW, 300.0, detail)])
    promised = detail.get("develop_seconds", sheet.develop.seconds)
    assert promised == run.steps[1].planned_seconds
    assert ("no_adjusted_time" in detail) == (handling == 52.0)


def test_a_pour_of_an_unknown_developer_says_so() -> None:
    """Nobody dipped the probe: the nominal time runs, and the reason is kept."""
    detail = pour_detail(ONE_REEL, outlook(None), inside=False)
    assert {"way": "pour now"} == detail["choice"]
    assert (
        "the developer's temperature is not known: it was not measured"
        == detail["no_adjusted_time"]
    )


def test_a_time_under_five_minutes_is_doubted() -> None:
    """Two degrees beyond F-32's warmest row the warning for short times is among the doubts."""
    warm = SHEETS["one reel 20"]
    law = warm.develop.development
    assert law is not None
    short = law.model_copy(update={"short_seconds": 345.0})
    develop = warm.develop.model_copy(update={"development": short})
    sheet = warm.model_copy(update={"step": (warm.temper, develop, *warm.step[2:])})
    choice = choice_of(sheet, outlook(24.0))
    assert choice is not None
    assert any("5:30 is under 5:45" in doubt for doubt in choice.pour.doubts)


def test_a_sheet_without_a_law_pours_as_it_did(small_sheet: Sheet) -> None:
    """Only what was measured is kept."""
    detail = pour_detail(small_sheet, outlook(22.0), inside=False)
    assert {"developer_celsius": 22.0, "developer_sd": 0.1, "bath_celsius": 18.0} == detail
