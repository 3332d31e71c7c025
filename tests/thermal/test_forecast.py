"""The answer against sinks whose crossing times are known exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Outlook, Quantiles, Setup, Wall
from wetside.readings import Reading
from wetside.thermal import bank as banks
from wetside.thermal import forecast, futures
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook

SETUP = Setup(20.0, 0.3, Wall.STEEL, 300.0)


def told(rows: Sequence[Reading], setup: Setup = SETUP) -> Belief:
    """Belief after these readings."""
    belief = begin(setup)
    for row in rows:
        belief = update(belief, row)
    return belief


def view(sink: NewtonSink, plan: list[tuple[str, int]], setup: Setup = SETUP) -> Outlook:
    """Outlook at the end of a plan of places that were told."""
    rows = sink.readings(plan)
    return outlook(told(rows, setup), rows[-1].seconds)


@pytest.mark.parametrize("start", [27.0, 13.0])
def test_halfway_the_middle_is_near_and_the_interval_holds(start: float) -> None:
    """Cooling or warming, after half the wait the median lies within a quarter of the rest."""
    bath = 20.0 - np.sign(start - 20.0) * 2.0
    sink = NewtonSink(start=start, bath=float(bath), rate=1 / 350)
    wait = sink.crossing(20.0 + np.sign(start - 20.0) * 0.3)
    half = int(wait / 2)
    said = view(sink, [("developer", half)]).ready_in
    rest = wait - half
    assert said.p05 is not None
    assert said.p50 is not None
    assert said.p95 is not None
    assert said.p05 <= rest <= said.p95
    assert said.p50 == pytest.approx(rest, rel=0.25)


def test_inside_the_band_it_is_ready_now() -> None:
    """A developer at the target needs no time."""
    said = view(NewtonSink(20.0, 20.0, 1 / 300), [("developer", 60)])
    assert said.ready_in.p50 == 0.0
    assert said.never < 0.05


def test_a_bath_that_stops_short_is_said_early() -> None:
    """With a probe in each liquid a bath outside the band means never, within two minutes."""
    sink = NewtonSink(29.0, 23.0, 1 / 300)
    belief = begin(SETUP)
    for one, two in zip(
        sink.readings([("developer", 120)]), sink.readings([("bath", 120)]), strict=True
    ):
        belief = update(update(belief, one), replace(two, probe="q"))
    said = outlook(belief, 119.0)
    assert said.never > 0.75
    assert said.ready_in.p50 is None


def test_a_bath_beyond_the_target_says_when_it_leaves() -> None:
    """The window's end lies near the exact one, for a developer that is about to pass through."""
    sink = NewtonSink(26.0, 15.0, 1 / 300)
    now = int(sink.crossing(20.3)) - 20
    said = view(sink, [("developer", now)])
    truth = sink.crossing(19.7) - now
    assert said.leaves_in.p05 is not None
    assert said.leaves_in.p95 is not None
    assert said.leaves_in.p05 <= truth <= said.leaves_in.p95


def test_a_bath_at_the_target_holds_the_developer() -> None:
    """Where bath and developer lie in the band together, most futures stay."""
    sink = NewtonSink(26.0, 20.0, 1 / 200)
    belief = begin(replace(SETUP, tolerance_celsius=0.5))
    for one, two in zip(
        sink.readings([("developer", 900)]), sink.readings([("bath", 900)]), strict=True
    ):
        belief = update(update(belief, one), replace(two, probe="q"))
    assert outlook(belief, 899.0).leaves_in.p50 is None


def test_hidden_developer_has_a_wide_interval_that_a_check_dip_narrows() -> None:
    """After a dip the probe stays in the bath; half a minute in the developer tells a lot."""
    sink = NewtonSink(27.0, 19.0, 1 / 420)
    hidden = view(sink, [("developer", 30), ("bath", 200)])
    checked = view(sink, [("developer", 30), ("bath", 170), ("developer", 30)])
    truth = sink.crossing(20.3) - 229
    widths = []
    for said in (hidden, checked):
        assert said.ready_in.p05 is not None
        assert said.ready_in.p95 is not None
        assert said.ready_in.p05 <= truth <= said.ready_in.p95
        widths.append(said.ready_in.p95 - said.ready_in.p05)
    assert widths[1] < 0.5 * widths[0]


def test_a_short_dip_is_read_through_the_lag() -> None:
    """Fifteen seconds in the developer, from 21 C to 13 C, are enough for half a degree."""
    said = view(NewtonSink(13.0, 21.0, 1 / 600, lag=10.0), [("developer", 15), ("bath", 3)])
    assert said.developer is not None
    assert said.developer.celsius == pytest.approx(13.2, abs=0.5)


def test_ice_in_the_bath_is_noticed_within_30_s() -> None:
    """The bath falls by 3 C under its probe; half a minute later it is believed."""
    sink, colder = NewtonSink(27.0, 19.0, 1 / 400), NewtonSink(27.0, 16.0, 1 / 400)
    rows = sink.readings([("developer", 30), ("bath", 120)])
    jump = colder.readings([("developer", 30), ("bath", 120)])
    after = [replace(row, seconds=row.seconds + 60.0) for row in jump[90:120]]
    belief = begin(SETUP)
    for row in [*rows, *after]:
        belief = update(belief, row)
    said = outlook(belief, after[-1].seconds)
    assert said.bath is not None
    assert said.bath.celsius == pytest.approx(16.0, abs=0.3)


def test_probe_error_is_carried_into_every_figure() -> None:
    """A probe known worse gives wider temperatures and a wider interval."""
    sink = NewtonSink(26.0, 18.5, 1 / 300)
    plan = [("developer", 250)]
    good = view(sink, plan, replace(SETUP, probe_sd_celsius=0.04))
    bad = view(sink, plan, replace(SETUP, probe_sd_celsius=0.3))
    assert good.developer is not None
    assert bad.developer is not None
    assert bad.developer.sd > 0.3 > good.developer.sd
    widths = []
    for said in (good, bad):
        assert said.ready_in.p05 is not None
        assert said.ready_in.p95 is not None
        widths.append(said.ready_in.p95 - said.ready_in.p05)
    assert widths[1] > 1.5 * widths[0]


def test_long_steps_of_the_forecast_are_exact_enough() -> None:
    """The few growing steps come in when three hundred do, within 3 % in the middle."""
    sink = NewtonSink(26.0, 18.5, 1 / 400)
    bank = told(sink.readings([("developer", 150)])).story.bank
    assert bank is not None
    low, high = np.full(futures.SAMPLES, 19.7), np.full(futures.SAMPLES, 20.3)
    rough, fine = (
        futures.entry_and_exit(futures.play(bank, bank.weights(), steps), low, high)[0]
        for steps in (futures.COARSE, futures.grid(300, 1.01))
    )
    assert np.median(rough) == pytest.approx(np.median(fine), rel=0.03)


def test_before_the_first_reading_nothing_is_said() -> None:
    """No reading, no temperature, no time."""
    said = outlook(begin(SETUP), 0.0)
    assert said.developer is None
    assert said.ready_in.p50 is None


def test_probe_in_the_bath_alone_admits_that_the_developer_is_unknown() -> None:
    """Without a dip the developer is a guess about rooms, some degrees wide."""
    said = view(NewtonSink(26.0, 19.0, 1 / 300), [("bath", 40)])
    assert said.developer is not None
    assert said.developer.sd > 3.0


def test_nobody_leaves_before_having_come() -> None:
    """No quantile of leaving is earlier than that of arriving, cut as they are."""
    entry = np.array([30.0, 60.0, 90.0, 120.0])
    later = forecast._stays(entry, Quantiles(45.0, 60.0, 300.0), (0.05, 0.5, 0.95))
    assert Quantiles(45.0, 90.0, 300.0) == later
    sink = NewtonSink(start=26.0, bath=18.0, rate=1 / 150)
    for seconds in (5, 20, 60, 100):
        said = view(sink, [("developer", seconds)])
        assert said.ready_in.p05 is not None
        assert said.leaves_in.p05 is not None
        assert said.ready_in.p05 <= said.leaves_in.p05


@pytest.mark.parametrize("scale", [forecast._ALONE, forecast._HIDDEN, forecast._MET])
def test_never_is_sure_only_where_all_futures_are_of_one_mind(scale: forecast._Scale) -> None:
    """What is said of never grows with the share of futures that never come, from 0 to 1."""
    said = [scale.never(share / 128) for share in range(129)]
    assert (0.0, 1.0) == (said[0], said[-1])
    assert said == sorted(set(said))


def test_nothing_is_said_of_leaving_where_nothing_is_said_of_coming() -> None:
    """Two futures of many arrive: neither when, nor when they would be gone again."""
    never = Quantiles(None, None, None)
    assert never == forecast._stays(np.array([300.0, 600.0]), never, (0.05, 0.5, 0.95))


def test_what_a_long_silence_hides_costs_no_more_than_a_short_one() -> None:
    """After two minutes or a day without a reading the hypotheses take the same few steps."""
    sink = NewtonSink(26.0, 18.5, 1 / 300)
    bank = told(sink.readings([("developer", 100)])).story.bank
    assert bank is not None
    day = banks.predict(bank, 86_400.0, ())
    assert banks.moments(day, banks.DEVELOPER)[1] > 0.0
    with pytest.MonkeyPatch.context() as patch:
        steps: list[float] = []
        real = banks._step

        def counted(
            mean: banks.Array,
            covariance: banks.Array,
            seconds: float,
            bank: banks.Bank,
            media: tuple[banks.Medium, ...],
        ) -> tuple[banks.Array, banks.Array]:
            steps.append(seconds)
            return real(mean, covariance, seconds, bank, media)

        patch.setattr(banks, "_step", counted)
        banks.predict(bank, 100.0, ())
        assert [5.0] * 20 == steps
        steps.clear()
        banks.predict(bank, 86_400.0, ())
        assert banks._MOST_STEPS == len(steps)
        assert 86_400.0 == pytest.approx(sum(steps))


@pytest.mark.parametrize(("pace", "fine"), [(1.0, 3.0), (10.0, 25.0), (60.0, 150.0)])
def test_a_slow_recording_is_not_stale_between_its_readings(pace: float, fine: float) -> None:
    """A reading is overdue after three seconds, or two and a half of the recording's own steps."""
    rows = NewtonSink(26.0, 18.5, 1 / 300).readings([("developer", 300)])
    belief = told(rows[:: int(pace)])
    last = belief.tracks[0].seconds
    assert "stale" not in outlook(belief, last + fine).faults
    assert "stale" in outlook(belief, last + fine + 0.1).faults


def test_the_second_reading_counts_however_late_it_comes() -> None:
    """Readings two minutes apart: the second one moves the developer towards what it says."""
    sink = NewtonSink(26.0, 16.0, 1 / 600)
    rows = sink.readings([("developer", 130)])
    first, second = (
        outlook(told(rows[:1]), 0.0).developer,
        outlook(told(rows[::120]), 120.0).developer,
    )
    assert first is not None
    assert second is not None
    assert second.sd < 0.5 * first.sd
    assert abs(second.celsius - sink.developer(120.0)) < 2.0 * second.sd


def test_what_more_likely_never_comes_is_not_there_now() -> None:
    """Inside in four futures of ten, outside for ever in six: no median says 0."""
    never = np.full(60, np.inf)
    levels = (0.05, 0.5, 0.95)
    here = forecast._quantiles(np.concatenate([np.zeros(40), never]), levels)
    assert (0.0, None, None) == (here.p05, here.p50, here.p95)
    coming = forecast._quantiles(np.concatenate([np.full(40, 90.0), never]), levels)
    assert 90.0 == coming.p50


def test_accounts_that_differ_share_the_answer_by_their_chances() -> None:
    """Two accounts, nine to one: a tenth of the futures and of never are the second one's."""
    plan: list[tuple[str, int]] = [("developer", 200)]
    quick = told(NewtonSink(26.0, 18.0, 1 / 150).readings(plan))
    short = told(NewtonSink(26.0, 22.0, 1 / 150).readings(plan))
    seconds = 199.0
    alone, other = (outlook(each, seconds) for each in (quick, short))
    assert other.never > alone.never + 0.5
    first = replace(quick.story, log_evidence=math.log(0.9))
    second = replace(short.story, log_evidence=math.log(0.1))
    said = outlook(replace(quick, stories=(first, second)), seconds)
    expected = 0.9 * alone.never + 0.1 * other.never
    assert said.never == pytest.approx(expected, abs=0.02)
    assert said.ready_in.p50 == pytest.approx(alone.ready_in.p50, rel=0.1)
    assert said.developer is not None
    assert alone.developer is not None
    assert said.developer.celsius == alone.developer.celsius
    assert said.developer.sd > alone.developer.sd + 0.3


def test_an_answer_lies_between_accounts_that_are_as_likely() -> None:
    """Two accounts, one to one: the middle is neither's, the ends are those of both."""
    plan: list[tuple[str, int]] = [("developer", 120)]
    soon = told(NewtonSink(24.0, 16.0, 1 / 200).readings(plan))
    late = told(NewtonSink(28.0, 18.5, 1 / 300).readings(plan))
    early, later = (outlook(each, 119.0).ready_in for each in (soon, late))
    stories = tuple(replace(each.story, log_evidence=math.log(0.5)) for each in (soon, late))
    said = outlook(replace(soon, stories=stories), 119.0).ready_in
    assert early.p95 is not None
    assert later.p05 is not None
    assert said.p05 is not None
    assert said.p50 is not None
    assert said.p95 is not None
    assert early.p05 is not None
    assert later.p50 is not None
    assert later.p95 is not None
    assert early.p05 <= said.p05 < early.p95 <= said.p50 <= later.p50 < said.p95 <= later.p95
