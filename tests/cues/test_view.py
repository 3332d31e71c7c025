"""Which screen stands when, and that it says what the tone says."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from pathlib import Path

import pytest

from wetside.cues import catalogue, gallery, wording
from wetside.cues.cautioning import AT_THE_END, AT_THE_POUR, IN_THE_STEP
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.outlook import Outlook, Quantiles, Setup, Temperature
from wetside.readings import Condition, Place, Reading
from wetside.session import machine
from wetside.session import sheet as sheets
from wetside.session.events import Event, Kind
from wetside.session.run import Session, State
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import Cue, CueName
from wetside.thermal import forecast
from wetside.thermal.calibration import UNCORRECTED_SD
from wetside.thermal.estimator import begin, update

SHEETS = [sheets.load(path) for path in sheets.available([sheets.shipped_folder()])]
ONE_REEL = next(sheet for sheet in SHEETS if sheet.name == "one reel 20")
SCENES = {scene.name: scene for scene in gallery.scenes(ONE_REEL)}
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
NOWHERE = Quantiles(None, None, None)


def text(scene: str) -> str:
    return view(SCENES[scene].snapshot).text()


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


def running(offset: float, step: int = 1, sheet: Sheet = ONE_REEL) -> Snapshot:
    session, now = gallery.run_until(sheet, step, offset)
    return Snapshot(now=now, session=session)


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


def outlook(
    celsius: float = 21.0,
    sd: float = 0.05,
    ready: Quantiles = NOWHERE,
    leaves: Quantiles = NOWHERE,
    never: float = 0.0,
    bath: float = 20.0,
) -> Outlook:
    return Outlook(0.0, Temperature(celsius, sd), Temperature(bath, 0.1), ready, leaves, never)


def tempering(given: Outlook | None, **changes: object) -> Snapshot:
    snapshot = SCENES["tempering-developer"].snapshot
    return replace(snapshot, outlook=given, **changes)  # type: ignore[arg-type]


def test_tempering_shows_where_the_developer_is_and_when_it_will_be_ready() -> None:
    """Temperature with what is promised, target, place of the probe, wait with its interval."""
    said = text("tempering-developer")
    for words in ("22.3", "±0.1 °C", "to 20.0 °C", "in developer", "in 1:58", "ready 1:36 to 2:31"):
        assert words in said


@pytest.mark.parametrize(
    ("sd", "shown"), [(0.05, "±0.1 °C"), (0.051, "±0.2 °C"), (0.25, "±0.5 °C"), (6.0, "±12 °C")]
)
def test_the_promise_is_two_deviations(sd: float, shown: str) -> None:
    """It is rounded up, never down."""
    assert view(tempering(outlook(sd=sd))).beside == shown


@pytest.mark.parametrize("corrected", [True, False])
def test_the_promise_counts_what_the_probe_may_be_off_once(*, corrected: bool) -> None:
    """The deviation of the forecast holds the probe's error, so it is not added again."""
    probe_sd = 0.05 if corrected else UNCORRECTED_SD
    past = begin(Setup(20.0, 0.3, probe_sd_celsius=probe_sd))
    for second in range(120):
        past = update(past, Reading(float(second), "a", 20.0, Place.DEVELOPER))
    found = forecast.outlook(past, 120.0)
    assert found.developer is not None
    assert wording.half_width(found.developer) == pytest.approx(2 * probe_sd, rel=0.5)


def test_a_developer_that_only_a_dip_can_tell_has_no_countdown() -> None:
    """It may be ready, so neither a time nor "never" nor ice stands there, but what to do."""
    seen = SCENES["tempering-unsure"].snapshot
    asked = view(seen)
    assert ("DIP", "") == (asked.aside, asked.aside_label)
    gone = outlook(ready=NOWHERE, never=0.95)
    said = {
        view(replace(seen, outlook=gone, advice=("ice in bath: 100 g",), now=seen.now + 4 * n))
        for n in range(6)
    }
    assert {"DIP"} == {notice.aside for notice in said}
    lines = {line for notice in said for line in notice.lines}
    assert {"dip the probe into the", "developer; press probe"} <= lines
    assert not any("ice" in line for line in lines)


def test_a_late_step_names_its_solution_all_the_time() -> None:
    """Whatever takes its turn on the second line, probe troubles among it."""
    snapshot = replace(SCENES["late"].snapshot, troubles={"p": Condition.VANISHED})
    shown = {view(replace(snapshot, now=snapshot.now + 4 * n)).corner for n in range(6)}
    assert len(shown) == 1
    assert snapshot.session.following is not None
    assert {wording.title(snapshot.session.following)} == shown


def test_an_uncorrected_probe_is_said() -> None:
    """Who reads a promise of half a degree is told what would better it."""
    given = tempering(outlook(ready=Quantiles(90.0, 100.0, 120.0)), corrected=False)
    seen = {view(replace(given, now=given.now + 4 * n)).lines[-1] for n in range(6)}
    tolerance = given.session.sheet.setup().tolerance_celsius if given.session.sheet else 0.0
    assert {"probe not yet corrected", f"cannot promise ±{tolerance:.1f} °C"} <= seen
    poor = replace(given, corrected=True, probe_sd_celsius=tolerance)
    seen = {view(replace(poor, now=given.now + 4 * n)).lines[-1] for n in range(6)}
    assert f"cannot promise ±{tolerance:.1f} °C" in seen
    assert "probe not yet corrected" not in seen


@pytest.mark.parametrize(
    ("given", "aside", "line"),
    [
        (outlook(ready=Quantiles(90.0, 100.0, 120.0)), "1:40", "ready 1:30 to 2:00"),
        (outlook(ready=Quantiles(900.0, None, None), never=0.2), "> 1 h", "ready 15:00 or later"),
        (outlook(never=0.9, bath=17.0), "never", "add warm water to bath"),
        (outlook(never=0.9, bath=24.0), "never", "cool the bath"),
        (outlook(never=0.1), "> 1 h", "not within the hour"),
    ],
)
def test_the_wait_and_what_to_do_about_it(given: Outlook, aside: str, line: str) -> None:
    """A wait beyond the horizon is not given; a bath that will not do is mended."""
    snapshot = tempering(given)
    notice = view(replace(snapshot, now=snapshot.session.began or 0.0))
    assert (aside, line) == (notice.aside, notice.lines[-1])


def test_ice_never_goes_into_the_solution() -> None:
    """US Army SS0509-8 p. 14: ice belongs into the bath; said where cooling is asked for."""
    given = tempering(outlook(never=0.9, bath=24.0))
    began = given.session.began or 0.0
    assert view(replace(given, now=began + 4)).lines[-1] == "ice in the bath only"


def test_no_probe_and_no_dip_are_told_apart() -> None:
    """Without a probe one waits; with one, the developer is to be touched first."""
    assert view(tempering(None, places={})).big == "WAIT"
    assert view(tempering(None)).big == "DIP"


@pytest.mark.parametrize(
    ("places", "corner"),
    [
        ({"a": Place.BATH}, "in bath"),
        ({"a": Place.DEVELOPER}, "in developer"),
        ({"a": Place.AIR}, "in air"),
        ({"a": Place.UNKNOWN}, "where?"),
        ({}, "no probe"),
        ({"a": Place.DEVELOPER, "b": Place.BATH}, "two probes"),
    ],
)
def test_the_place_of_the_probe_is_shown(places: dict[str, Place], corner: str) -> None:
    """A wrong guess can be seen, and so corrected by the button."""
    assert view(tempering(outlook(), places=places)).corner == corner


def test_the_window_counts_down_with_the_time_that_is_almost_sure() -> None:
    """The 5 % quantile is shown: 19 of 20 windows stay open longer than the screen says."""
    assert view(SCENES["ready"].snapshot).big == "2:28"
    assert view(SCENES["ready-stays"].snapshot).big == "READY"


def test_degrees_fahrenheit_are_shown_on_request() -> None:
    """20.0 C is 68.0 F; the promise is a difference, so 0.1 C make 0.2 F."""
    notice = view(tempering(outlook(celsius=20.0, sd=0.05), fahrenheit=True))
    assert ("68.0", "±0.2 °F", "to 68.0 °F") == (notice.big, notice.beside, notice.head)


def test_minus_nothing_is_nothing() -> None:
    """A temperature just below zero is not shown as -0.0."""
    assert wording.degrees(-0.04, fahrenheit=False) == "0.0"
    assert wording.degrees(-0.06, fahrenheit=False) == "-0.1"


def test_the_gauge_puts_the_window_in_the_middle() -> None:
    """Developer above the window lies to the right of it, the bath below it to the left."""
    gauge = view(SCENES["tempering-developer"].snapshot).gauge
    assert gauge is not None
    assert gauge.bath is not None
    assert gauge.low + gauge.high == pytest.approx(1.0)
    assert gauge.bath < gauge.low < gauge.high < gauge.mark_low < gauge.mark < gauge.mark_high


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


def finished(poured: float, *, inside: bool = True) -> list[str]:
    wet = len(ONE_REEL.step) - 2
    session, now = gallery.run_until(ONE_REEL, wet, 74.0)
    session = replace(session, poured_celsius=poured, in_window=inside)
    session, _ = machine.receive(session, Event(Kind.NOW, now))
    snapshot = Snapshot(now=now, session=session)
    return [view(replace(snapshot, now=now + 4 * n)).text() for n in range(12)]


def test_the_summary_tells_window_planned_and_actual() -> None:
    """Every step in turn with what was planned, the late ones with what they were."""
    said = " ".join(finished(20.1))
    assert "window hit: 20.1 °C" in said
    assert "develop 7:10 of 7:10" in said
    assert "wet 1:14 of 1:10" in said
    assert "window missed: 21.4 °C" in " ".join(finished(21.4, inside=False))


def test_cautions_stand_where_the_work_is_done() -> None:
    """Gloves at the pour, waste and hands at the end, the sheet's own words in their step."""
    pour = running(6.0)
    assert {"developer", "gloves on, no splashes"} == {
        view(replace(pour, now=300.0 + at)).lines[1] for at in (1.0, 5.0)
    }
    assert "wash hands" in " ".join(finished(20.0))
    assert ONE_REEL.step[-1].cautions[0] in " ".join(finished(20.0))
    rest = running(100.0)
    seen = {view(replace(rest, now=rest.now + 4 * n)).lines[1] for n in range(6)}
    assert set(ONE_REEL.step[1].cautions) <= seen


def _said_in(kind: StepKind) -> set[str]:
    """Every second line of a step of this kind from the pour on; of hanging, the end of a roll."""
    if kind is StepKind.HANG:
        shown = SCENES["finished"].snapshot
        return {view(replace(shown, now=shown.now + 4 * n)).lines[1] for n in range(12)}
    steps = [step.kind for step in ONE_REEL.step]
    if kind is StepKind.TEMPER:
        given = tempering(outlook(ready=Quantiles(90.0, 100.0, 120.0)))
        return {view(replace(given, now=given.now + 4 * n)).lines[-1] for n in range(12)}
    at = [*range(9), *range(12, 70, 4)]
    return {view(running(float(offset), steps.index(kind))).lines[1] for offset in at}


SAFETY = Path(__file__).parents[2] / "docs" / "safety.md"


@pytest.mark.parametrize("kind", StepKind)
def test_the_safety_page_quotes_what_the_display_says_in_each_step(kind: StepKind) -> None:
    """Each text of the page's column stands on that step's second line, and none is missing."""
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in SAFETY.read_text(encoding="utf-8").splitlines()
        if line.startswith("| ") and line.count("|") == 5
    ]
    (quoted,) = [row[3] for row in rows if str(kind) in row[0].split(", ")]
    texts = set(re.findall(r'"([^"]+)"', quoted))
    said = _said_in(kind)
    assert texts <= said
    own = {*AT_THE_POUR.get(kind, ()), *IN_THE_STEP.get(kind, ())}
    assert (own or texts if kind is not StepKind.HANG else set(AT_THE_END)) == texts


def test_collected_fixer_is_named_at_the_end() -> None:
    """A sheet that collects its fixer says so when the film hangs."""
    two = next(sheet for sheet in SHEETS if sheet.reels == 2)
    snapshot = next(s.snapshot for s in gallery.scenes(two) if s.name == "finished")
    seen = {view(replace(snapshot, now=snapshot.now + 4 * n)).lines[1] for n in range(8)}
    assert "collect the fixer" in seen


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
