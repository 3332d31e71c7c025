"""What a develop step amounted to, worked out by hand where that is possible."""

from __future__ import annotations

import pytest

from wetside.development.film import Film
from wetside.development.tank import Stands, tank_for
from wetside.outlook import Temperature, Wall
from wetside.session import record
from wetside.session import sheet as sheets
from wetside.session.effect import Around, effect_detail, end_follows, moved_end_detail
from wetside.session.events import Event, Json, Kind
from wetside.session.machine import due, fold, receive
from wetside.session.run import Session
from wetside.session.sheet import Sheet

SHEETS = {
    sheet.name: sheet for sheet in map(sheets.load, sheets.available([sheets.shipped_folder()]))
}
ONE_REEL, WARM = SHEETS["one reel 20"], SHEETS["warm room 24"]
EXACT = 1e-6


def changed(sheet: Sheet, **law: object) -> Sheet:
    """The sheet with its tank in the bath, and some keys of its law changed."""
    assert sheet.develop.development is not None
    development = sheet.develop.development.model_copy(update=law)
    develop = sheet.develop.model_copy(update={"development": development})
    return sheet.model_copy(
        update={"tank_stands": Stands.BATH, "step": (sheet.temper, develop, *sheet.step[2:])}
    )


def run(sheet: Sheet, celsius: float | None, lasted: float, **pour: Json) -> Session:
    """A run poured at 100 s whose next solution goes in ``lasted`` seconds later."""
    detail: dict[str, Json] = {"developer_celsius": celsius, "developer_sd": 0.0, **pour}
    detail["develop_seconds"] = lasted
    session = fold([record.begin(0.0, "01RUN", sheet), Event(Kind.NOW, 100.0, detail)])
    while (event := due(session, 100.0 + lasted)) is not None:
        session, _ = receive(session, event)
    return receive(session, Event(Kind.NOW, 100.0 + lasted))[0]


def steady(celsius: float) -> Around:
    """Bath and room that keep the developer's temperature exactly."""
    return Around(Temperature(celsius, EXACT), ((0.0, celsius), (600.0, celsius)))


def test_the_nominal_time_at_the_nominal_temperature_is_all_of_it() -> None:
    """430 s with 10 s of filling are 7:00 from the full tank: 100 %."""
    detail = effect_detail(run(changed(ONE_REEL), 20.0, 430.0), steady(20.0))
    assert detail is not None
    assert (100.0, 420.0) == (detail["percent"], detail["seconds"])


@pytest.mark.parametrize(
    ("celsius", "lasted", "percent"),
    [
        # printed 6:00 at 22 and 5:30 at 24: 420 s there are 420/360 and 420/330 of nominal
        (22.0, 430.0, 116.7),
        (24.0, 430.0, 127.3),
        # and the printed time of its own is nominal again
        (22.0, 370.0, 100.0),
        (24.0, 340.0, 100.0),
        # half a minute late at 20: 450 of 420
        (20.0, 460.0, 107.1),
    ],
)
def test_other_temperatures_count_as_the_table_prints(
    celsius: float, lasted: float, percent: float
) -> None:
    """A tank that keeps its temperature: the fraction is one division of printed times."""
    detail = effect_detail(run(changed(ONE_REEL), celsius, lasted), steady(celsius))
    assert detail is not None
    assert percent == detail["percent"]


def test_a_cold_tank_takes_heat_and_development_away() -> None:
    """300 mL at 24 into a plastic tank at 18: 260 g of plastic cool it by nearly two degrees.

    (1256 J/K at 24 and 494 J/K at 18 meet at 22.3; 6:00 at 22 against 7:00 at 20.)
    """
    session = run(WARM, 24.0, 340.0)
    cold = effect_detail(session, Around(Temperature(18.0, 0.5)))
    warm = effect_detail(session, Around(Temperature(24.0, 0.5)))
    assert cold is not None
    assert warm is not None
    assert isinstance(cold["percent"], float)
    assert 100.0 == warm["percent"]
    # at 22.3 degC all the time it would be 330/355 = 93 %; it starts warmer and ends cooler
    assert 88.0 < cold["percent"] < 95.0


def test_the_volume_of_the_temper_step_is_the_tanks_where_developing_names_none() -> None:
    """150 mL lose more to a cold tank than 300 do, wherever the sheet names them."""

    def percent(temper: float, develop: float | None) -> object:
        steps = (
            WARM.temper.model_copy(update={"volume_millilitres": temper}),
            WARM.develop.model_copy(update={"volume_millilitres": develop}),
            *WARM.step[2:],
        )
        session = run(WARM.model_copy(update={"step": steps}), 24.0, 340.0)
        detail = effect_detail(session, Around(Temperature(18.0, 0.5)))
        assert detail is not None
        return detail["percent"]

    assert percent(150.0, None) == percent(300.0, 150.0) != percent(300.0, None)


def test_uncertainty_of_room_and_developer_is_told() -> None:
    """What is not known well is a wider interval around the same percent."""
    session = run(ONE_REEL, 20.0, 430.0)
    sharp = effect_detail(session, Around(Temperature(20.0, 0.2)))
    vague = effect_detail(session, Around(Temperature(20.0, 3.0)))
    assert sharp is not None
    assert vague is not None

    def width(detail: dict[str, Json]) -> float:
        high, low = detail["high"], detail["low"]
        assert isinstance(high, float)
        assert isinstance(low, float)
        return high - low

    assert sharp["percent"] == vague["percent"] == 100.0
    assert width(sharp) < width(vague)


def test_the_interval_of_the_percent_lies_around_it() -> None:
    """A room known to half a degree leaves some percent on either side of nominal, not many."""
    detail = effect_detail(run(ONE_REEL, 20.0, 430.0), Around(Temperature(20.0, 0.5)))
    assert detail is not None
    low, high = detail["low"], detail["high"]
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert 90.0 < low < 100.0 < high < 110.0


def test_what_the_bath_was_before_the_tank_was_full_does_not_count() -> None:
    """A bath that was hot for some seconds of the filling leaves developing as it was."""
    session = run(changed(ONE_REEL), 20.0, 430.0)
    hot = ((0.0, 20.0), (1.0, 45.0), (9.0, 45.0), (10.0, 20.0), (430.0, 20.0))
    detail = effect_detail(session, Around(Temperature(20.0, EXACT), hot))
    assert detail is not None
    assert 100.0 == detail["percent"]


def test_a_bath_without_readings_is_told_as_it_was_at_the_pour_or_should_be() -> None:
    """Else its readings are counted: with none, what was taken for it is told."""
    room = Around(Temperature(24.0, 0.5))
    poured = effect_detail(run(changed(ONE_REEL), 20.0, 430.0, bath_celsius=18.5), room)
    unseen = effect_detail(run(changed(ONE_REEL), 20.0, 430.0), room)
    assert poured is not None
    assert unseen is not None
    assert "in the bath, taken as 18.5 degC (sd 0.5)" == poured["tank"]
    assert "in the bath, taken as 20.0 degC (sd 2.0)" == unseen["tank"]


def test_a_room_that_nobody_measured_moves_no_end_and_widens_the_interval() -> None:
    """Guessed at 21 where it is 27, the end would go to 107 %: it stays, and 104 % is inside."""
    session = run(WARM, 24.0, 340.0)
    guessed = effect_detail(session, Around(None))
    true = effect_detail(session, Around(Temperature(27.0, 0.5)))
    assert guessed is not None
    assert true is not None
    assert isinstance(true["percent"], float)
    assert isinstance(guessed["high"], float)
    assert 102.0 < true["percent"] < guessed["high"]
    assert "in the room, taken as 21.0 degC (sd 5.0): nobody measured it" == guessed["tank"]
    poured = developing(WARM)
    assert moved_end_detail(poured, Around(None)) is None
    assert moved_end_detail(poured, Around(Temperature(19.0, 1.0))) is not None


def test_a_tank_in_a_bath_needs_no_room() -> None:
    """The bath around it is what counts, and its end follows as the sheet says."""
    bath = changed(WARM)
    assert end_follows(bath, room_measured=False)
    assert not end_follows(WARM, room_measured=False)
    assert not end_follows(ONE_REEL, room_measured=True)
    assert moved_end_detail(developing(bath), Around(None, ((0.0, 20.0),))) is not None


def developing(sheet: Sheet) -> Session:
    """Poured at the sheet's own temperature; the step is under way."""
    detail: dict[str, Json] = {"developer_celsius": sheet.temper.celsius, "developer_sd": 0.1}
    return fold([record.begin(0.0, "01RUN", sheet), Event(Kind.NOW, 100.0, detail)])


def test_readings_of_the_jacket_bath_are_used() -> None:
    """A bath that warms while film develops gives more than one that does not."""
    session = run(changed(ONE_REEL), 20.0, 430.0)
    room = Temperature(20.0, 0.5)
    still = effect_detail(session, Around(room, ((0.0, 20.0), (400.0, 20.0))))
    warming = effect_detail(session, Around(room, ((0.0, 20.0), (400.0, 24.0))))
    assert still is not None
    assert warming is not None
    assert isinstance(warming["percent"], float)
    assert 100.0 == still["percent"]
    assert 101.0 < warming["percent"] < 115.0
    assert "in the bath, 2 readings of it" == warming["tank"]


def test_without_a_measured_developer_nothing_is_made_up(small_sheet: Sheet) -> None:
    """No dip, or no law: no percent."""
    assert effect_detail(run(ONE_REEL, None, 430.0), steady(20.0)) is None
    assert effect_detail(run(small_sheet, 20.0, 180.0), steady(20.0)) is None


def moved(sheet: Sheet, celsius: float, around: Around, **pour: Json) -> dict[str, Json] | None:
    detail: dict[str, Json] = {"developer_celsius": celsius, "developer_sd": 0.0, **pour}
    session = fold([record.begin(0.0, "01RUN", sheet), Event(Kind.NOW, 100.0, detail)])
    while (event := due(session, 150.0)) is not None:
        session, _ = receive(session, event)
    return moved_end_detail(session, around)


def test_the_end_moves_to_where_development_is_nominal() -> None:
    """At 22 degC all the time 7:00 of work take the printed 6:00: 370 s with the filling."""
    sheet = changed(ONE_REEL, may_adjust_end=True)
    detail = moved(sheet, 22.0, steady(22.0))
    assert detail is not None
    assert (370.0, 430.0, False) == (
        detail["develop_seconds"],
        detail["before_seconds"],
        detail["held"],
    )


def test_the_end_is_held_by_the_limits_of_the_sheet() -> None:
    """Not before nine tenths of 7:00, which are 378 s, and 10 s of filling."""
    sheet = changed(ONE_REEL, may_adjust_end=True, earliest=0.9)
    detail = moved(sheet, 22.0, steady(22.0))
    assert detail is not None
    assert (388.0, True) == (detail["develop_seconds"], detail["held"])


def test_an_adjusted_pour_is_moved_from_its_own_time() -> None:
    """Poured at 24 with 5:30, in a tank that stays at 24: nothing is left to move.

    Against 7:00 its limits would hold it at 0.8, which is 5:36.
    """
    sheet = changed(ONE_REEL, may_adjust_end=True)
    pour: dict[str, Json] = {"choice": {"way": "pour now"}, "develop_seconds": 340.0}
    assert moved(sheet, 24.0, steady(24.0), **pour) is None


@pytest.mark.parametrize(
    ("sheet", "celsius"), [(ONE_REEL, 24.0), (changed(ONE_REEL, may_adjust_end=True), 20.1)]
)
def test_the_end_stays_where_the_sheet_forbids_or_little_is_won(
    sheet: Sheet, celsius: float
) -> None:
    """Without may_adjust_end, or for less than five seconds, nothing moves."""
    assert moved(sheet, celsius, steady(celsius)) is None


def test_a_pour_without_a_time_is_not_moved() -> None:
    """Where the law gives no time it gives no end."""
    sheet = changed(ONE_REEL, may_adjust_end=True)
    assert moved(sheet, 27.3, steady(27.3), no_adjusted_time="outside") is None


def test_wide_film_without_a_volume_has_the_filling_of_its_tank() -> None:
    """A plastic tank takes 590 mL for a reel of 120, whatever the developer was tempered in."""

    def said(volume: float | None) -> dict[str, Json] | None:
        temper = ONE_REEL.temper.model_copy(update={"volume_millilitres": volume})
        develop = ONE_REEL.develop.model_copy(update={"volume_millilitres": volume})
        steps = (temper, develop, *ONE_REEL.step[2:])
        wide = ONE_REEL.model_copy(
            update={"film": Film.MEDIUM, "vessel": Wall.STEEL, "step": steps}
        )
        return effect_detail(run(wide, 24.0, 430.0), Around(Temperature(18.0, EXACT)))

    assert said(590.0) == said(None) != said(300.0)


def test_more_reels_have_a_larger_tank() -> None:
    """Two reels: one and a half times the tank of one."""
    one, two = tank_for(Wall.STEEL), tank_for(Wall.STEEL, 2)
    assert 1.5 == pytest.approx(two.joules_per_kelvin / one.joules_per_kelvin)
