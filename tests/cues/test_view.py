"""Which screen stands when, and that it says what the tone says."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from posed import ONE_REEL, SCENES, finished, running, text

from wetside.cues import catalogue, gallery, wording
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.readings import Condition
from wetside.session import machine
from wetside.session.events import Event, Kind
from wetside.session.run import Session, State
from wetside.session.signals import Cue, CueName

#: Screens that the desk asks for in place of that of the state.
TO_THE_DESK = {
    "first-start",
    "first-start-code",
    "label",
    "address",
    "address-words",
    "address-none",
    "certificate",
}
#: For each cue that the standing screen says itself: that screen, and words on it.
STANDING = {
    CueName.TEMPERING_BEGUN: ("tempering-first", ["DIP", "dip the probe into the"]),
    CueName.READY: ("ready", ["ready", "POUR NOW", "2:28"]),
    CueName.WINDOW_CLOSING: ("ready-closing", ["closes in", "POUR NOW", "soon out of tolerance"]),
    CueName.POUR_BEGUN: ("pouring", ["POUR IN", "developer"]),
    CueName.AGITATE: ("agitating", ["AGITATE"]),
    CueName.REST: ("running", ["rest"]),
    CueName.DRAIN: ("draining", ["POUR OUT"]),
    CueName.NEXT_NOW: ("handover", ["now", "stop bath", "PRESS NOW"]),
    CueName.LATE: ("late", ["LATE", "+0:24"]),
    CueName.HELD: ("holding", ["held", "now: go on", "hold wait 2x: give up"]),
    CueName.INTERRUPTED: ("interrupted", ["power lost", "GO ON?", "off for 2:31"]),
    CueName.FINISHED: ("finished", ["DONE", "window hit: 20.0 °C", "hang about 1 h"]),
    CueName.ABANDONED: ("abandoned", ["GIVEN UP", "not fixed: keep it dark"]),
}


@pytest.mark.parametrize("name", list(CueName))
def test_the_screen_says_the_same_as_each_tone(name: CueName) -> None:
    """A cue's words stand over the screen for a while, or its state's screen carries them."""
    row = catalogue.row(name)
    if row.show_seconds > 0:
        said = text(f"message-{name}")
        assert row.words.head in said
        assert row.words.big in said
    else:
        scene, words = STANDING[name]
        said = text(scene)
        assert [] == [word for word in words if word not in said]


def test_every_state_has_a_screen_of_its_own() -> None:
    """The gallery holds each state of the machine, and each screen is named after it."""
    shown = {scene.snapshot.session.state for scene in SCENES.values()}
    assert set(State) == shown
    for scene in SCENES.values():
        snapshot = scene.snapshot
        if snapshot.lights_out or snapshot.message is not None or scene.name in TO_THE_DESK:
            continue
        name = view(snapshot).name
        state = snapshot.session.state
        assert name == ("agitating" if snapshot.session.agitating else str(state))


def test_lights_out_shows_nothing_whatever_happens() -> None:
    """Open film comes first: no message and no alarm lights the display."""
    for scene in SCENES.values():
        notice = view(replace(scene.snapshot, lights_out=True))
        assert notice.blank
        assert notice.text() == ""


@pytest.mark.parametrize(
    "name", ["agitating", "draining", "handover", "late", "pouring", "continuous", "ready"]
)
@pytest.mark.parametrize("cue", [CueName.PREPARE_NEXT, CueName.PROBE_LOST, CueName.READY_SOON])
def test_an_order_is_never_covered_by_a_message(name: str, cue: CueName) -> None:
    """While the tank must be moved or emptied the screen says so, whatever else is said."""
    snapshot = SCENES[name].snapshot
    message = Cue(cue, snapshot.now, {"prepare": "set out fixer"})
    assert view(snapshot) == view(replace(snapshot, message=message))


def test_a_refused_press_is_answered_even_over_an_order() -> None:
    """Somebody who pressed is told why nothing happened."""
    snapshot = SCENES["handover"].snapshot
    refused = Cue(CueName.REFUSED, snapshot.now, {"reason": "develop cannot wait"})
    assert "develop cannot wait" in view(replace(snapshot, message=refused)).text()


def test_a_message_keeps_the_countdown_in_the_corner() -> None:
    """Timing stays visible behind every message."""
    assert view(SCENES["message-prepare-next"].snapshot).corner == "5:37"


def test_the_countdown_runs_to_the_planned_end() -> None:
    """It begins at the whole time, reaches 0:00 at the end and not before, then counts up."""
    seconds = ONE_REEL.step[1].seconds
    assert seconds == 430
    assert view(running(0.0)).big == "7:10"
    assert view(running(429.9)).big == "0:01"
    assert view(running(430.0)).corner == "+0:00"
    assert view(running(435.0)).corner == "+0:05"
    assert view(running(441.0)).big == "+0:11"


def test_agitation_counts_down_and_the_rest_says_when_it_begins_again() -> None:
    """30 s from the full tank at 10 s, then 5 s at each minute."""
    assert view(running(10.0)).lines[0] == "AGITATE 0:30"
    assert view(running(39.5)).lines[0] == "AGITATE 0:01"
    assert view(running(40.0)).lines[0] == "rest, agitate in 0:20"
    assert view(running(60.0)).lines[0] == "AGITATE 0:05"
    assert view(running(370.0)).lines[0] == "rest, pour out in 0:50"


def test_what_is_to_be_prepared_stands_from_its_cue_to_the_draining() -> None:
    """The second line takes the sheet's words once PREPARE was due."""
    assert "set out stop bath" not in view(running(369.0)).text()
    assert view(running(371.0)).lines[1] == "set out stop bath"
    assert view(running(419.0)).lines[1] == "set out stop bath"


def test_gentle_agitation_is_said() -> None:
    """A sheet that asks for gentle agitation gets it on the band."""
    clear = next(i for i, step in enumerate(ONE_REEL.step) if step.kind == "clear")
    assert view(running(20.0, clear)).lines[0] == "AGITATE GENTLY"


def test_a_lost_probe_is_named_while_the_timing_goes_on() -> None:
    """The countdown stays; the trouble takes turns on the second line."""
    snapshot = replace(running(200.0), troubles={"bus": Condition.BUS_GONE})
    seen = {view(replace(snapshot, now=snapshot.now + 4 * n)).lines[1] for n in range(6)}
    assert "no probe answers" in seen
    assert "then stop bath" in seen
    assert view(snapshot).big == view(replace(snapshot, troubles={})).big


@pytest.mark.parametrize("condition", [c for c in Condition if c is not Condition.FINE])
def test_every_condition_of_a_probe_is_named_in_tempering(condition: Condition) -> None:
    """A named condition stands on the tempering screen at once, and where to look after it."""
    snapshot = SCENES["tempering-trouble"].snapshot
    named, hint = wording.CONDITIONS[condition]
    began = snapshot.session.began or 0.0
    troubled = replace(snapshot, troubles={"p": condition}, now=began)
    assert view(troubled).lines[-1] == named
    assert view(replace(troubled, now=began + 4)).lines[-1] == hint


def test_warnings_of_the_station_reach_the_screen() -> None:
    """A warning takes its turn on the last line while a step runs and while nothing does."""
    warned = replace(running(200.0), signs=("clock is not set",))
    seen = {view(replace(warned, now=warned.now + 4 * n)).lines[1] for n in range(6)}
    assert "clock is not set" in seen
    ready = replace(SCENES["ready"].snapshot, signs=("clock is not set",))
    assert "clock is not set" in {
        view(replace(ready, now=ready.now + 4.0 * n)).lines[1] for n in range(8)
    }
    idle = replace(SCENES["idle"].snapshot, signs=("clock is not set",))
    assert "clock is not set" in {view(replace(idle, now=4.0 * n)).lines[1] for n in range(8)}


def test_a_late_step_names_its_solution_all_the_time() -> None:
    """Whatever takes its turn on the second line, probe troubles among it."""
    snapshot = replace(SCENES["late"].snapshot, troubles={"p": Condition.VANISHED})
    shown = {view(replace(snapshot, now=snapshot.now + 4 * n)).corner for n in range(6)}
    assert len(shown) == 1
    assert snapshot.session.following is not None
    assert {wording.title(snapshot.session.following)} == shown


def test_late_changes_light_and_dark_for_those_who_do_not_hear() -> None:
    """One change a second, far below what could harm."""
    assert {True, False} == {view(SCENES[name].snapshot).inverted for name in ("late", "late-dark")}


def test_held_tempering_counts_no_step() -> None:
    """Tempering is not one of the counted steps."""
    tempering = SCENES["tempering-developer"].snapshot
    held, _ = machine.receive(tempering.session, Event(Kind.HOLD, 120.0))
    notice = view(replace(tempering, session=held))
    assert ("held: temper", "") == (notice.head, notice.corner)


def test_handover_names_the_next_solution_and_the_hanging() -> None:
    """The last hand-over asks for the film, not for a solution."""
    assert view(SCENES["handover"].snapshot).big == "stop bath"
    assert "hang" in text("hang")


def test_the_summary_tells_window_planned_and_actual() -> None:
    """Every step in turn with what was planned, the late ones with what they were."""
    said = " ".join(finished(20.1))
    assert "window hit: 20.1 °C" in said
    assert "develop 7:10 of 7:10" in said
    assert "wet 1:14 of 1:10" in said
    assert "window missed: 21.4 °C" in " ".join(finished(21.4, inside=False))


def test_a_run_given_up_after_the_fix_may_see_light() -> None:
    """Only film that was fixed to the end is called fixed."""
    fix = next(i for i, step in enumerate(ONE_REEL.step) if step.kind == "fix")

    def said(step: int) -> str:
        session, now = gallery.run_until(ONE_REEL, step, 20.0)
        session, _ = machine.receive(session, Event(Kind.ABANDON, now))
        return view(Snapshot(now=now, session=session)).lines[0]

    assert said(fix) == "not fixed: keep it dark"
    assert said(fix + 1) == "wash it well, then dry"


def test_an_unknown_gap_is_said_to_be_unknown() -> None:
    """After a power cut of unknown length nothing is made up."""
    snapshot = SCENES["interrupted"].snapshot
    blind = replace(snapshot, session=replace(snapshot.session, gap_text=None))
    assert "the gap is not known" in view(replace(blind, now=1.0)).text()


def test_the_view_asks_nothing_but_the_snapshot(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same snapshot gives the same notice, and no clock is looked at for it."""

    def asked() -> float:
        raise AssertionError("the view looked at a clock")

    before = {name: view(scene.snapshot) for name, scene in SCENES.items()}
    for clock in ("time", "time_ns", "monotonic", "monotonic_ns", "perf_counter", "clock_gettime"):
        monkeypatch.setattr(time, clock, asked)
    assert before == {name: view(scene.snapshot) for name, scene in SCENES.items()}


def test_an_idle_station_shows_the_sheet_that_now_begins() -> None:
    """Its name stands big; both buttons are explained."""
    notice = view(SCENES["idle"].snapshot)
    assert (notice.big, notice.lines[0]) == ("one reel 20", "now: begin   wait: other")
    assert view(Snapshot(now=0.0, session=Session())).big == "no sheet"
