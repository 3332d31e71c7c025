"""Pour now or wait."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from printed import TABLE
from scipy import stats

from wetside.development.agitation import Factor, Why
from wetside.development.baths import Bath
from wetside.development.choose import Choice, Help, Way, choose
from wetside.development.coefficient import Q10
from wetside.development.figures import Basis
from wetside.development.limits import Limits
from wetside.outlook import Outlook, Quantiles, Temperature

LIMITS = Limits(lowest_celsius=17, highest_celsius=25)
NEVER = Quantiles(None, None, None)

#: Developer at 22.22 degC (72 degF), in the window of 20 degC in ten minutes.
WARM = Outlook(
    seconds=60.0,
    developer=Temperature(200 / 9, 0.1),
    bath=Temperature(18.0, 0.2),
    ready_in=Quantiles(540.0, 600.0, 700.0),
    leaves_in=Quantiles(800.0, 900.0, 1100.0),
    never=0.02,
)


def ask(outlook: Outlook, limits: Limits = LIMITS) -> Choice:
    return choose(outlook, TABLE, limits, 20.0)


def test_pouring_a_warm_developer_now_ends_sooner() -> None:
    """At 22.2 degC the printed 5:30 now beats ten minutes of waiting and 6:45."""
    choice = ask(WARM)
    assert choice.lines == ("WAIT 10:00 done 16:45", "NOW  pour, done 5:30")
    assert (choice.sooner, choice.safer) == (Way.POUR, Way.WAIT)
    assert (choice.wait.done_low, choice.wait.done_high) == (945.0, 1105.0)
    assert choice.pour.done_low is not None
    assert choice.pour.done_high is not None
    assert choice.pour.done_low < 330 - 7.5
    assert choice.pour.done_high > 330 + 7.5


def test_the_filling_counts_for_both_ways_and_for_no_warning() -> None:
    """Ten seconds of filling on the step's clock: 5:40, 6:55; five minutes with it are short."""
    choice = choose(WARM, TABLE, LIMITS, 20.0, filling_seconds=10.0)
    assert choice.lines == ("WAIT 10:00 done 16:55", "NOW  pour, done 5:40")
    assert (choice.wait.done_low, choice.wait.done_high) == (955.0, 1115.0)
    assert (choice.wait.develop, choice.pour.develop) == pytest.approx((415.0, 340.0))
    warmer = replace(WARM, developer=Temperature(23.6, 0.05))
    short = choose(warmer, TABLE, LIMITS, 20.0, filling_seconds=10.0)
    assert short.pour.develop is not None
    assert 295.0 < short.pour.develop < 305.0
    assert any("is under 5:00" in doubt for doubt in short.pour.doubts)


def test_a_short_wait_ends_sooner_than_a_cold_developer() -> None:
    """A developer at 18.3 degC needs 8:00; half a minute of waiting and 6:45 end first."""
    cold = replace(WARM, developer=Temperature(55 / 3, 0.05), ready_in=Quantiles(20.0, 30.0, 45.0))
    choice = ask(cold)
    assert (choice.sooner, choice.safer) == (Way.WAIT, Way.WAIT)
    assert choice.pour.done_in == pytest.approx(480.0)


def test_a_window_that_may_never_come_makes_pouring_safer() -> None:
    """With 40 % for never, waiting carries a doubt that pouring does not."""
    choice = ask(replace(WARM, never=0.4, ready_in=Quantiles(540.0, 600.0, None)))
    assert choice.safer is Way.POUR
    assert choice.wait.doubts == ("the window may never come: 40 % without ice or warm water",)
    assert choice.wait.done_high is None


def test_a_window_beyond_the_hour_leaves_only_pouring() -> None:
    """Without a forecast of the window, waiting cannot be chosen."""
    choice = ask(replace(WARM, never=0.9, ready_in=NEVER, leaves_in=NEVER))
    assert choice.wait.refused == "no time can be told at which the developer enters the window"
    assert choice.wait.line == "WAIT not in an hour"
    assert (choice.sooner, choice.safer) == (Way.POUR, Way.POUR)


def test_a_short_window_is_a_doubt() -> None:
    """A window that may close after 20 seconds is hard to hit."""
    choice = ask(replace(WARM, leaves_in=Quantiles(620.0, 700.0, 800.0)))
    assert choice.wait.doubts == ("the window may last only 20 s",)


def test_a_window_that_stays_is_no_doubt() -> None:
    """A developer that never leaves the window again leaves nothing to say about its length."""
    choice = ask(replace(WARM, leaves_in=NEVER))
    assert choice.wait.doubts == ()


def test_outside_the_table_pouring_is_refused() -> None:
    """At 24.5 degC, beyond the last printed row, there is no time unless the teacher allows."""
    hot = replace(WARM, developer=Temperature(24.5, 0.1))
    assert ask(hot).pour.refused is not None
    assert "outside the table" in str(ask(hot).pour.refused)
    assert ask(hot).pour.line == "NOW  no adjusted time"
    allowed = ask(hot, replace(LIMITS, outside_celsius=1.0)).pour
    assert allowed.refused is None
    assert len(allowed.doubts) == 2  # under five minutes, and outside the table


def test_an_unknown_developer_cannot_be_poured() -> None:
    """Without a temperature the student is asked to dip."""
    choice = ask(replace(WARM, developer=None))
    assert choice.pour.refused == "the developer's temperature is not known yet: dip the probe"


def test_a_vague_temperature_is_a_doubt() -> None:
    """A hidden developer known to 0.8 degC leaves its adjusted time vague, and says how much."""
    choice = ask(replace(WARM, developer=Temperature(200 / 9, 0.8)))
    assert any("known only to" in doubt for doubt in choice.pour.doubts)


def test_help_that_is_advised_counts_where_waiting_leads_nowhere() -> None:
    """Ice now, the window in three minutes: that is a way, with the doubt that it must be done."""
    stuck = replace(WARM, ready_in=NEVER, leaves_in=NEVER, never=0.97)
    ice = Help("ice in bath: 264 g", Quantiles(150.0, 180.0, 240.0), Quantiles(300.0, 400.0, 500.0))
    alone = choose(stuck, TABLE, LIMITS, 20.0)
    helped = choose(stuck, TABLE, LIMITS, 20.0, help_=ice)
    assert "WAIT not in an hour" == alone.lines[0]
    assert Way.POUR is alone.safer
    assert "HELP 3:00 done 9:45" == helped.lines[0]
    assert ("help first: ice in bath: 264 g",) == helped.wait.doubts
    assert (180.0, None) == (helped.wait.pour_in, helped.wait.refused)
    hot = replace(stuck, developer=Temperature(27.0, 0.1))
    assert ask(hot).safer is None
    assert Way.WAIT is choose(hot, TABLE, LIMITS, 20.0, help_=ice).safer
    assert choose(WARM, TABLE, LIMITS, 20.0, help_=ice) == choose(WARM, TABLE, LIMITS, 20.0)
    nothing = replace(ice, ready_in=NEVER)
    assert alone == choose(stuck, TABLE, LIMITS, 20.0, help_=nothing)


def test_inside_the_window_there_is_nothing_to_choose() -> None:
    """Ready in 0 seconds means waiting is over."""
    now = replace(WARM, developer=Temperature(20.1, 0.05), ready_in=Quantiles(0.0, 0.0, 0.0))
    assert 0.0 == ask(now).wait.pour_in
    assert ask(now).wait.done_in == pytest.approx(405.0)


def test_factors_count_for_both_ways() -> None:
    """A push of 1.3 lengthens the nominal and the adjusted time alike."""
    choice = choose(WARM, TABLE, LIMITS, 20.0, [Factor(Why.PUSH, 1.3, Basis.TEACHER)])
    assert choice.wait.develop == pytest.approx(405 * 1.3)
    assert choice.pour.develop == pytest.approx(330 * 1.3)


def test_a_sheet_that_refuses_its_own_nominal_is_an_error() -> None:
    """Limits that exclude the target contradict the sheet."""
    with pytest.raises(ValueError, match="nominal temperature is refused"):
        choose(WARM, TABLE, LIMITS, 16.0)


def test_baths_far_from_the_developer_as_it_is_are_a_doubt_about_pouring_it() -> None:
    """At 23.6 degC a stop bath of 20 is 3.6 degrees colder; after the wait it is as warm."""
    warm = replace(WARM, developer=Temperature(23.6, 0.05))
    choice = choose(warm, TABLE, LIMITS, 20.0, baths=(Bath("stop", 20.0), Bath("fix", 20.6)))
    assert choice.pour.doubts[0] == (
        "warm stop first or film may wrinkle: up to 3.6 degrees colder than the developer"
    )
    assert choice.wait.doubts == ()
    wide = choose(warm, TABLE, LIMITS, 20.0, baths=(Bath("stop", 24.0),))
    assert any("cool stop first" in doubt for doubt in wide.wait.doubts)
    assert not any("wrinkle" in doubt for doubt in wide.pour.doubts)


@given(
    celsius=st.floats(16, 27),
    sd=st.floats(0, 1.5),
    ready=st.floats(0, 3599),
    never=st.floats(0, 1),
)
def test_lines_fit_the_display_and_ends_are_in_order(
    celsius: float, sd: float, ready: float, never: float
) -> None:
    """Whatever the forecast, both lines have at most 21 characters and low <= likely <= high."""
    outlook = replace(
        WARM,
        developer=Temperature(celsius, sd),
        ready_in=Quantiles(ready * 0.8, ready, ready * 1.5),
        never=never,
    )
    choice = choose(outlook, TABLE, LIMITS, 20.0)
    for option in (choice.wait, choice.pour):
        assert len(option.line) <= 21
        if option.done_in is not None:
            assert option.done_low is not None
            assert option.done_high is not None
            assert option.done_low - 1e-6 <= option.done_in <= option.done_high + 1e-6


def test_the_spread_told_is_ninety_per_cent() -> None:
    """With an exact law, 0.5 degC of doubt moves the ends by 1.645 times that."""
    law = Q10(nominal_celsius=20, nominal_seconds=480, coefficient=2.5, source="own")
    outlook = replace(WARM, developer=Temperature(21.0, 0.5))
    pour = choose(outlook, law, LIMITS, 20.0).pour
    half = float(stats.norm.ppf(0.95)) * 0.5
    assert pour.done_low == pytest.approx(480 * 2.5 ** (-(1.0 + half) / 10))
    assert pour.done_high == pytest.approx(480 * 2.5 ** (-(1.0 - half) / 10))


def test_a_wait_that_may_exceed_the_hour_is_a_doubt() -> None:
    """Likely in ten minutes, perhaps not within the hour: said as a doubt about waiting."""
    choice = ask(replace(WARM, ready_in=Quantiles(540.0, 600.0, None)))
    assert choice.wait.doubts == ("the wait may be longer than an hour",)
