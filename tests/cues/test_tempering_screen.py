"""The screen of a developer that is on its way: where it is, how long yet, what to do."""

from __future__ import annotations

from dataclasses import replace

import pytest
from posed import NOWHERE, SCENES, outlook, tempering, text

from wetside.cues import wording
from wetside.cues.view import view
from wetside.outlook import Outlook, Quantiles, Setup
from wetside.readings import Place, Reading
from wetside.thermal import forecast
from wetside.thermal.calibration import UNCORRECTED_SD
from wetside.thermal.estimator import begin, update


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
