"""What the station knows of the developer: the choice, the bath around the tank, its events."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wetside.development.tank import Stands
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.readings import Place, Reading
from wetside.session import record
from wetside.session import sheet as sheets
from wetside.session.events import Event, Kind
from wetside.session.machine import due, fold, receive
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet
from wetside.station.developer import DeveloperWatch

SHEETS = {
    sheet.name: sheet for sheet in map(sheets.load, sheets.available([sheets.shipped_folder()]))
}
ONE_REEL, WARM = SHEETS["one reel 20"], SHEETS["warm room 24"]
ROOM = Temperature(21.0, 2.0)


def outlook(celsius: float) -> Outlook:
    nowhere = Quantiles(None, None, None)
    wait = Quantiles(100.0, 100.0, 100.0)
    return Outlook(0.0, Temperature(celsius, 0.1), None, wait, nowhere, 0.0)


def tempering(sheet: Sheet) -> Session:
    return fold([record.begin(0.0, "01RUN", sheet)])


def developing(sheet: Sheet, until: float) -> Session:
    """Poured at 100 s at the sheet's own temperature, walked until then."""
    now = Event(Kind.NOW, 100.0, {"developer_celsius": sheet.temper.celsius, "developer_sd": 0.1})
    return walked(receive(tempering(sheet), now)[0], until)


def walked(session: Session, until: float) -> Session:
    while (event := due(session, until)) is not None:
        session, _ = receive(session, event)
    return session


def test_the_two_ways_are_compared_once_a_second() -> None:
    """However often readings come, and never outside of tempering."""
    watch, session = DeveloperWatch(ROOM), tempering(ONE_REEL)
    watch.compare(session, outlook(22.0), 10.0)
    first = watch.choice
    assert first is not None
    watch.compare(session, outlook(23.0), 10.9)
    assert first is watch.choice
    watch.compare(session, outlook(23.0), 11.0)
    assert watch.choice is not None
    assert "NOW  pour, done 5:55" == watch.choice.pour.line  # 360 s at 22, 330 at 24: 345 and 10
    watch.compare(replace(session, state=State.READY), outlook(20.0), 12.0)
    assert watch.choice is None


def test_what_the_step_amounted_to_is_told_once() -> None:
    """After the next pour; the run then knows it, and nothing is told again."""
    watch = DeveloperWatch(ROOM)
    session = developing(ONE_REEL, 531.0)
    assert watch.event(session, 531.0) is None
    session, _ = receive(session, Event(Kind.NOW, 532.0))
    told = watch.event(session, 532.0)
    assert told is not None
    assert (Kind.DEVELOPED, 532.0) == (told.kind, told.seconds)
    session, _ = receive(session, told)
    assert session.developed is not None
    assert watch.event(session, 533.0) is None


def test_a_station_that_died_in_between_tells_it_afterwards() -> None:
    """Killed right after the pour: a new process finds that it was not told, and tells it."""
    session, _ = receive(developing(ONE_REEL, 531.0), Event(Kind.NOW, 532.0))
    told = DeveloperWatch(ROOM).event(walked(session, 540.0), 540.0)
    assert told is not None
    assert Kind.DEVELOPED is told.kind


def test_an_unmeasured_developer_is_asked_for_once_only() -> None:
    """Nothing can be said, and the station does not try at each turn."""
    session = receive(tempering(ONE_REEL), Event(Kind.NOW, 100.0))[0]
    session, _ = receive(walked(session, 531.0), Event(Kind.NOW, 532.0))
    watch = DeveloperWatch(ROOM)
    assert watch.event(session, 532.0) is None
    known = replace(session, poured_celsius=20.0)
    assert watch.event(known, 533.0) is None


def test_the_end_moves_after_the_first_agitation_and_not_in_it() -> None:
    """A tank at 21 cools a developer of 24: the end comes later, said when hands are free."""
    watch = DeveloperWatch(ROOM)
    assert watch.event(developing(WARM, 115.0), 115.0) is None  # 30 s of agitation from 110
    session = developing(WARM, 141.0)
    told = watch.event(session, 141.0)
    assert told is not None
    assert Kind.END_MOVED is told.kind
    moved, cues = receive(session, told)
    assert (1, True) == (len(cues), "end-moved" in moved.flags)
    assert moved.steps[1].planned_seconds is not None
    assert 345.0 <= moved.steps[1].planned_seconds <= 365.0  # from 340
    assert watch.event(moved, 142.0) is None
    assert watch.event(moved, 175.0) is None  # thought over again, and still right


def jacket(watch: DeveloperWatch, session: Session, celsius: float) -> None:
    for second in range(100, 531):
        place = Place.BATH if second > 102 else Place.DEVELOPER
        watch.hear(session, [Reading(float(second), "p", celsius, place)])


@pytest.mark.parametrize(
    ("stands", "low", "high"), [(Stands.BATH, 110.0, 127.3), (Stands.ROOM, 100.0, 104.0)]
)
def test_the_bath_around_the_tank_is_heard_where_the_tank_stands_in_it(
    stands: Stands, low: float, high: float
) -> None:
    """A bath of 24 around a developer of 20 makes much more of it than the room's 21.

    At 24 all the time it would be 7:00 against 5:30, 127 %.
    """
    watch = DeveloperWatch(ROOM)
    sheet = ONE_REEL.model_copy(update={"tank_stands": stands})
    session = developing(sheet, 531.0)
    jacket(watch, session, 24.0)
    told = watch.event(receive(session, Event(Kind.NOW, 532.0))[0], 532.0)
    assert told is not None
    found = told.detail["percent"]
    assert isinstance(found, float)
    assert low < found < high
    readings = "in the bath, 86 readings of it"  # one each five seconds from 103 s on
    assert (told.detail["tank"] == readings) == (stands is Stands.BATH)
