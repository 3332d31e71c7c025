"""Students at the simulated sink, with the real station and the real parts between them."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from wetside.clock import Moment
from wetside.devices.buttons import ButtonPanel
from wetside.devices.buzzer import Buzzer
from wetside.devices.ds18b20 import Bus
from wetside.devices.feed import TimedFeed
from wetside.devices.oled import Oled
from wetside.errors import BenchError
from wetside.journal.schema import RunRow
from wetside.outlook import Outlook, Setup
from wetside.ports import Parts
from wetside.readings import Place, Reading
from wetside.session.events import Json
from wetside.session.presses import Button
from wetside.session.run import State
from wetside.session.sheet import Sheet, load, shipped_folder
from wetside.session.sheetbook import Offer
from wetside.session.signals import Cue, CueName
from wetside.settings import StationSettings
from wetside.sim.clock import VirtualClock
from wetside.sim.folder import memory_folder
from wetside.sim.scripts import STUDENTS, script
from wetside.sim.situation import Arrangement, Situation, usual
from wetside.sim.student import Deed, Rule, Script, Student, Verb
from wetside.sim.world import World
from wetside.station.loop import Station

SETUP = Setup(target_celsius=20.0, tolerance_celsius=0.3)


class _Log:
    """A journal that keeps the kinds of events."""

    failure: str | None = None

    def __init__(self) -> None:
        self.events: list[tuple[float, str, Mapping[str, Json]]] = []

    def append(
        self,
        moment: Moment,
        kind: str,
        detail: Mapping[str, Json],
        run: str | None = None,
        row: RunRow | None = None,
    ) -> None:
        """Keep an event."""
        self.events.append((moment.seconds, kind, detail))

    def sample(self, moment: Moment, readings: Sequence[Reading], run: str | None = None) -> None:
        """Samples are not looked at here."""

    def forecast(self, moment: Moment, outlook: Outlook, run: str | None = None) -> None:
        """Forecasts are not looked at here."""


class Roll:
    """A station, a sink and a student, on virtual time."""

    def __init__(
        self,
        name: str,
        sheet: Sheet,
        arrangement: Arrangement = Arrangement.DEVELOPER,
        *,
        seed: int = 1,
        reaches: bool = True,
    ) -> None:
        situation = usual(sheet.setup(), seed, arrangement, reaches=reaches)
        self.folder = memory_folder()
        self.clock = VirtualClock()
        self.world = World(self.clock, Path(self.folder.name), situation, seed=seed)
        settings = StationSettings(
            w1_folder=self.world.tree.folder, probe=self.world.probe_settings()
        )
        factory, wake = self.world.pins.factory, threading.Event()
        gpios = {
            Button.NOW: settings.pins.now_gpio,
            Button.PROBE: settings.pins.probe_gpio,
            Button.WAIT: settings.pins.wait_gpio,
        }
        self.parts = Parts(
            probes=TimedFeed(Bus(settings.w1_folder, settings.probe), self.clock, self.clock, wake),
            sounder=Buzzer(settings.pins.buzzer_gpio, self.clock, self.clock, factory),
            screen=Oled(self.world.panel.open, threaded=False),
            buttons=ButtonPanel(
                gpios,
                self.clock,
                wake,
                settle_seconds=settings.buttons.settle_seconds,
                long_seconds=settings.buttons.long_press_seconds,
                pin_factory=factory,
            ),
            wake=wake,
        )
        self.student = Student(self.world, script(name, arrangement), sheet.setup(), seed=seed)
        self.cues: list[Cue] = []
        self.log = _Log()
        self.station = Station(
            settings, self.clock, self.parts, self.log, [Offer("", sheet)], observer=self._heard
        )
        self.student.begin()

    def _heard(self, cue: Cue) -> None:
        self.cues.append(cue)
        self.student.hear(cue)

    def take(self, seconds: float = 5400.0) -> Roll:
        """Turn until the run is over, or for so long."""
        end = self.clock.now() + seconds
        while not self.student.finished and self.clock.now() < end:
            self.parts.wake.clear()
            self.clock.wait(min(end, self.station.turn()), self.parts.wake)
        self.world.close()
        self.folder.cleanup()
        return self

    def names(self) -> list[CueName]:
        """Names of the cues heard, in order."""
        return [cue.name for cue in self.cues]


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    """A sheet with short steps, so that a roll takes a few minutes after tempering."""
    whole = load(shipped_folder() / "one-reel-20.toml")
    steps = tuple(
        step
        if step.seconds is None
        else step.model_copy(update={"seconds": min(step.seconds, 130.0), "development": None})
        for step in whole.step
    )
    return whole.model_copy(update={"step": steps})


def _overshoot(roll: Roll) -> list[float]:
    return [
        (record.actual_seconds or 0.0) - record.planned_seconds
        for record in roll.station.session.steps
        if record.planned_seconds is not None
    ]


def test_a_student_by_the_book_takes_a_whole_roll_through(sheet: Sheet) -> None:
    """The film hangs, the developer was poured in the window, every step ended in time."""
    roll = Roll("scripted", sheet).take()
    session = roll.station.session
    assert session.state is State.FINISHED
    assert session.in_window is True
    assert roll.world.developer_celsius == pytest.approx(20.0, abs=0.5)
    assert [record.kind for record in session.steps] == [step.kind for step in sheet.step]
    assert all(0.0 <= over < 4.0 for over in _overshoot(roll))
    assert CueName.LATE not in roll.names()
    assert CueName.REFUSED not in roll.names()


def test_the_same_seed_gives_the_same_roll(sheet: Sheet) -> None:
    """Two benches with one seed differ in nothing: cues, hands and edges of pins."""
    one, two = (Roll("scripted", sheet, Arrangement.BATH, seed=2).take(600.0) for _ in range(2))
    assert one.cues == two.cues
    assert one.world.actions == two.world.actions
    assert one.world.pins.edges == two.world.pins.edges


def test_a_late_student_ends_too_but_late(sheet: Sheet) -> None:
    """Lateness is called, the roll goes on, and the steps lasted longer than planned."""
    roll = Roll("late", sheet).take()
    assert roll.station.session.state is State.FINISHED
    assert CueName.LATE in roll.names()
    assert all(over > 5.0 for over in _overshoot(roll))


def test_a_student_who_leaves_leaves_the_run_open(sheet: Sheet) -> None:
    """Nobody comes back: the fixer waits, late, and no button is pressed any more."""
    roll = Roll("leaving", sheet).take(2400.0)
    session = roll.station.session
    assert roll.student.left
    assert session.state is State.LATE
    assert session.present is not None
    assert session.present.name == "fix"
    assert "goes away" in roll.world.actions[-1][1]


def test_a_disturbing_student_disturbs_and_still_ends(sheet: Sheet) -> None:
    """Ice, hot water and a running tap are felt by the bath; the film hangs all the same."""
    roll = Roll("disturbing", sheet).take()
    told = " ".join(text for _, text in roll.world.actions)
    assert "150 g of ice" in told
    assert "taps: hot 0.0, cold 1.0" in told
    assert roll.station.session.state is State.FINISHED


def test_a_probe_pulled_out_is_told_and_comes_back(sheet: Sheet) -> None:
    """The station says that the probe is lost and that it is back, and the roll ends."""
    roll = Roll("unplugging", sheet).take()
    names = roll.names()
    assert names.index(CueName.PROBE_LOST) < names.index(CueName.PROBE_BACK)
    assert roll.station.session.state is State.FINISHED


def test_a_pausing_student_holds_and_goes_on(sheet: Sheet) -> None:
    """A long press holds the wash, a short one resumes it."""
    roll = Roll("pausing", sheet).take()
    names = roll.names()
    assert names.index(CueName.HELD) < names.index(CueName.RESUMED)
    assert roll.station.session.state is State.FINISHED


def test_a_bath_that_falls_short_is_mended_when_the_station_says_so(
    sheet: Sheet,
) -> None:
    """Told that the developer will not get there, the student helps the bath, and it does."""
    roll = Roll("scripted", sheet, reaches=False).take()
    assert CueName.WILL_NOT_REACH in roll.names()
    assert roll.station.session.state is State.FINISHED


def test_two_probes_need_no_dip(sheet: Sheet) -> None:
    """With a probe in each place no probe button is pressed, and the roll ends."""
    roll = Roll("scripted", sheet, Arrangement.TWO).take()
    assert roll.station.session.state is State.FINISHED
    assert not [text for _, text in roll.world.actions if text == "presses probe"]
    assert roll.world.truth()["probes"] == {"developer": "developer", "bath": "bath"}


def test_a_dip_is_told_by_the_probe_button(sheet: Sheet) -> None:
    """With one probe for the bath, the station is told developer first, then bath."""
    roll = Roll("scripted", sheet, Arrangement.BATH).take(60.0)
    told = [detail["probe"] for _, kind, detail in roll.log.events if kind == "place"]
    assert told == ["developer", "bath"]
    assert roll.world.truth()["probes"] == {"probe": "bath"}


def test_nobody_does_nothing(sheet: Sheet) -> None:
    """With a person at the page the script is empty."""
    roll = Roll("me", sheet).take(60.0)
    assert roll.world.actions == []
    assert roll.station.session.state is State.IDLE


def test_an_unknown_student_is_refused_with_the_names_there_are() -> None:
    """A wrong name is answered with the right ones."""
    with pytest.raises(BenchError, match="no student 'lazy'; there are scripted, late"):
        script("lazy")


@pytest.mark.parametrize("name", list(STUDENTS))
@pytest.mark.parametrize("arrangement", list(Arrangement))
def test_every_student_fits_every_arrangement(name: str, arrangement: Arrangement) -> None:
    """Each script can be made for each arrangement and says what kind of student it is."""
    made = script(name, arrangement)
    assert made.title == STUDENTS[name]
    assert bool(made.rules) == (name != "me")


class _Scene:
    """A student with a few rules at a sink without a station."""

    def __init__(self, folder: Path, *rules: Rule) -> None:
        self.clock = VirtualClock(start_seconds=0.0)
        self.world = World(self.clock, folder, Situation(26.0, 18.0))
        self.student = Student(self.world, Script("test", "a test", rules), SETUP, seed=1)

    def hear(self, name: CueName, **values: str) -> None:
        """Let the student hear a cue now."""
        self.student.hear(Cue(name, self.clock.now(), values))

    def done(self) -> list[tuple[float, str]]:
        """What was done so far."""
        return self.world.actions


def test_a_student_reacts_within_the_span_of_the_rule(tmp_path: Path) -> None:
    """The deed comes a reaction time after the cue, and what follows after that."""
    say = (Deed(Verb.SAY, "ah"), Deed(Verb.SAY, "oh", after=5.0))
    scene = _Scene(tmp_path, Rule(CueName.READY, say, react=(2.0, 4.0)))
    scene.hear(CueName.READY)
    scene.clock.run_for(20.0)
    ((first, ah), (second, oh)) = scene.done()
    assert (ah, oh) == ("ah", "oh")
    assert 2.0 <= first <= 4.0
    assert second == pytest.approx(first + 5.0)


def test_what_is_not_done_yet_can_be_forgotten(tmp_path: Path) -> None:
    """A cue that takes another's place drops its deeds."""
    scene = _Scene(
        tmp_path,
        Rule(CueName.READY, (Deed(Verb.SAY, "pours"),), react=(5.0, 5.0)),
        Rule(CueName.WINDOW_LEFT, forgets=(CueName.READY,)),
    )
    scene.hear(CueName.READY)
    scene.clock.run_for(2.0)
    scene.hear(CueName.WINDOW_LEFT)
    scene.clock.run_for(20.0)
    assert scene.done() == []


def test_a_rule_may_be_for_one_step_and_for_so_many_times(tmp_path: Path) -> None:
    """A rule with a step hears only that step's cues; one with times wears out."""
    at_once = (0.0, 0.0)
    scene = _Scene(
        tmp_path,
        Rule(CueName.DRAIN, (Deed(Verb.SAY, "fix only"),), react=at_once, step="fix"),
        Rule(CueName.DRAIN, (Deed(Verb.SAY, "once"),), react=at_once, times=1),
    )
    for step in ("stop", "fix", "wash"):
        scene.hear(CueName.DRAIN, step=step)
        scene.clock.run_for(1.0)
    assert [text for _, text in scene.done()] == ["once", "fix only"]


def test_words_of_a_cue_can_be_repeated(tmp_path: Path) -> None:
    """A student may say what the cue said; what it did not say stays blank."""
    deed = Deed(Verb.SAY, "gets {prepare}{gap}")
    scene = _Scene(tmp_path, Rule(CueName.PREPARE_NEXT, (deed,)))
    scene.hear(CueName.PREPARE_NEXT, prepare="fixer")
    scene.clock.run_for(5.0)
    assert scene.done()[0][1] == "gets fixer"


def test_who_has_left_does_nothing_any_more(tmp_path: Path) -> None:
    """After leaving, neither what was begun nor what is heard later is done."""
    scene = _Scene(
        tmp_path,
        Rule(CueName.DRAIN, (Deed(Verb.LEAVE), Deed(Verb.SAY, "late", after=9.0)), react=(1, 1)),
        Rule(CueName.READY, (Deed(Verb.SAY, "ready"),)),
    )
    scene.hear(CueName.DRAIN)
    scene.clock.run_for(3.0)
    scene.hear(CueName.READY)
    scene.clock.run_for(30.0)
    assert [text for _, text in scene.done()] == ["the student goes away"]


@pytest.mark.parametrize(
    ("developer", "bath", "cold_tap", "wanted", "how"),
    [
        (17.0, 18.0, 14.0, 21.5, "of 50 C"),  # too cold: hot water
        (23.0, 21.0, 10.0, 18.5, "of 10 C"),  # too warm: cold water
        (23.0, 21.0, 18.0, 18.5, "ice"),  # too warm, and the cold tap is no help
        (23.0, 17.0, 10.0, 17.0, ""),  # the bath is right already
    ],
)
def test_a_bath_is_mended_with_what_is_at_hand(
    tmp_path: Path, developer: float, bath: float, cold_tap: float, wanted: float, how: str
) -> None:
    """Hot water, cold water or ice brings the bath to the far side of the target."""
    scene = _Scene(tmp_path, Rule(CueName.WILL_NOT_REACH, (Deed(Verb.MEND, amount=1.5),)))
    situation = Situation(developer, bath)
    situation = replace(
        situation, sink=replace(situation.sink, tap_cold_celsius=cold_tap, overflow_litres=9.0)
    )
    scene.world = World(scene.clock, tmp_path / "b", situation)
    scene.student = Student(scene.world, scene.student.script, SETUP, seed=1)
    scene.world.lift()
    scene.hear(CueName.WILL_NOT_REACH)
    scene.clock.run_for(4.0)
    scene.world.stir(Place.BATH, 1.0, 300.0)
    scene.clock.run_for(300.0)
    assert scene.world.bath_celsius == pytest.approx(wanted, abs=0.5)
    assert how in " ".join(text for _, text in scene.done())
