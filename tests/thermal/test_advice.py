"""Advice, check dip, calibration and learning on sinks with known answers."""

from __future__ import annotations

import math

import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Setup, Wall
from wetside.readings import Place, Reading
from wetside.settings import Supplies
from wetside.thermal import calibration, learning
from wetside.thermal.advice import Kind, advise, resting_bath_celsius, with_bath
from wetside.thermal.bank import BATH, COUPLING, DEVELOPER, moments
from wetside.thermal.belief import Belief
from wetside.thermal.calorimetry import ICE_FUSION_J_PER_KG as FUSION
from wetside.thermal.checkdip import DIP_SD_CELSIUS, after_dip, dip_gain
from wetside.thermal.estimator import begin, update
from wetside.thermal.hindsight import Hindsight, hear
from wetside.thermal.learning import Evidence, evidence_of, learn
from wetside.thermal.priors import Prior, prior_for
from wetside.units import WATER_J_PER_KG_K as WATER

SETUP = Setup(20.0, 0.3, Wall.STEEL, 300.0)
SUPPLIES = Supplies(
    bath_litres=4.0, hot_tap_celsius=45.0, cold_tap_celsius=12.0, ice=True, more_litres=3.0
)


def at(sink: NewtonSink, plan: list[tuple[str, int]]) -> Belief:
    """Belief after a plan of told places."""
    belief = begin(SETUP)
    for row in sink.readings(plan):
        belief = update(belief, row)
    return belief


def test_bath_that_stops_short_gets_cold_water() -> None:
    """A bath of 22 C for 20 C: litres of tap water that make the bath named with them."""
    belief = at(NewtonSink(26.0, 22.0, 1 / 300), [("developer", 40), ("bath", 200)])
    best = advise(belief, 239.0, SUPPLIES)[0]
    assert best.kind is Kind.COLD_WATER
    assert best.amount is not None
    bath = belief.story.bank
    assert bath is not None
    now = float(bath.weights() @ bath.mean[:, BATH])
    mixed = (4.0 * now + best.amount * 12.0) / (4.0 + best.amount)
    assert best.bath_celsius == pytest.approx(mixed, abs=0.05)
    assert best.ready_in.p50 is not None


def test_without_cold_water_it_is_ice_in_the_bath() -> None:
    """Grams of ice that melt to the bath named with them, and a word on the developer."""
    supplies = Supplies(bath_litres=4.0, ice=True)
    belief = at(NewtonSink(27.0, 23.0, 1 / 300), [("developer", 40), ("bath", 200)])
    best = advise(belief, 239.0, supplies)[0]
    assert best.kind is Kind.ICE
    assert best.amount is not None
    bath = belief.story.bank
    assert bath is not None
    now = float(bath.weights() @ bath.mean[:, BATH])
    ice = best.amount / 1000.0
    melted = (4.0 * WATER * now - ice * (FUSION + 18.0 * 2090.0)) / ((4.0 + ice) * WATER)
    assert best.bath_celsius == pytest.approx(melted, abs=0.05)
    assert "never put ice into the developer" in best.reason


def test_with_nothing_at_hand_it_names_the_bath_to_swap_to() -> None:
    """No taps, no ice, no litres: a bath temperature is advised."""
    belief = at(NewtonSink(26.0, 22.0, 1 / 300), [("developer", 40), ("bath", 200)])
    assert advise(belief, 239.0, Supplies())[0].kind is Kind.SWAP


def test_bath_beyond_the_target_says_when_to_lift() -> None:
    """The moment lies between entering and leaving the band."""
    sink = NewtonSink(26.0, 16.0, 1 / 300)
    now = int(sink.crossing(20.3)) - 60
    ways = advise(at(sink, [("developer", now)]), float(now - 1), Supplies())
    lift = next(way for way in ways if way.kind is Kind.LIFT)
    assert lift.amount is not None
    assert sink.developer(now - 1 + lift.amount) == pytest.approx(20.0, abs=0.35)


def test_ready_and_staying_needs_nothing() -> None:
    """A developer that rests in the band gets one advice: wait."""
    belief = at(NewtonSink(20.1, 20.0, 1 / 300), [("developer", 60), ("bath", 300)])
    assert [Kind.WAIT] == [way.kind for way in advise(belief, 359.0, SUPPLIES)]


def test_resting_bath_counts_the_developers_own_heat_in() -> None:
    """A warm developer asks for a bath a little under the target, where the bath is still."""
    belief = at(NewtonSink(27.0, 21.0, 1 / 400), [("developer", 60)])
    assert 19.0 < resting_bath_celsius(belief.story) < 20.0


def test_another_bath_is_known_as_well_as_it_is_made() -> None:
    """A bath brought to 18 C is there to a tenth of a degree, whatever was believed of the old."""
    belief = at(NewtonSink(27.0, 21.0, 1 / 400), [("developer", 60)])
    bank = with_bath(belief.story, 18.0).bank
    assert bank is not None
    assert (18.0, 0.1) == pytest.approx(moments(bank, BATH))
    assert not bank.covariance[:, BATH, DEVELOPER].any()


def test_check_dip_is_worth_it_when_the_developer_is_hidden_for_long() -> None:
    """Its expected interval is much narrower; right after a dip another one is not advised."""
    sink = NewtonSink(27.0, 19.0, 1 / 420)
    late = dip_gain(at(sink, [("developer", 30), ("bath", 250)]), 279.0)
    soon = dip_gain(at(sink, [("developer", 30), ("bath", 40)]), 69.0)
    assert late is not None
    assert soon is not None
    assert late.worthwhile
    assert late.expected_width_seconds < 0.6 * late.width_seconds
    assert not soon.worthwhile


def test_no_check_dip_where_the_developer_is_measured() -> None:
    """A probe in the developer already tells all that a dip would."""
    belief = at(NewtonSink(27.0, 19.0, 1 / 420), [("developer", 90)])
    assert dip_gain(belief, 89.0) is None
    two = update(belief, Reading(90.0, "other", 19.0, place=Place.BATH))
    assert dip_gain(two, 90.0) is None


def test_a_dip_leaves_the_developer_known_as_well_as_a_dip_does() -> None:
    """However little was known of it before, and at what the dip showed."""
    belief = at(NewtonSink(27.0, 19.0, 1 / 420), [("developer", 30), ("bath", 250)])
    story = after_dip(belief.story, 21.0)
    assert story.bank is not None
    middle, sd = moments(story.bank, DEVELOPER)
    assert 21.0 == pytest.approx(middle, abs=0.1)
    assert DIP_SD_CELSIUS == pytest.approx(sd, rel=0.1)


def test_two_points_correct_a_probe_and_carry_their_uncertainty() -> None:
    """A probe that reads 0.4 C high at 0 C and 0.3 C high at 25 C is right at both afterwards."""
    ice = calibration.ice_point([0.375, 0.4375])
    reference = calibration.reference_point([25.3], 25.0, 0.1)
    line = calibration.calibrate(ice, reference)
    slope, offset = line.settings
    assert slope * 0.40625 + offset == pytest.approx(0.0)
    assert slope * 25.3 + offset == pytest.approx(25.0)
    # the reference, the steps of 1/16 C, the scatter of two readings, what a line leaves
    at_reference = (0.1, 0.018, calibration.RESIDUAL_SD)
    at_ice = (0.03, 0.018, 0.022, calibration.RESIDUAL_SD)
    assert math.hypot(*at_reference) == pytest.approx(line.sd(25.3), abs=0.005)
    assert math.hypot(*at_ice) == pytest.approx(line.sd(0.4), abs=0.005)


def test_without_calibration_three_tenths_cannot_be_promised() -> None:
    """The data sheet's 0.5 C leave no room for +-0.3 C; two good points do."""
    sheet = calibration.Calibration(0.0, 0.0, 0.0, calibration.UNCORRECTED_SD, 0.0)
    assert not sheet.holds(0.3, 20.0)
    ice = calibration.ice_point([0.25])
    line = calibration.calibrate(ice, calibration.reference_point([25.1], 25.0, 0.1))
    assert line.holds(0.3, 20.0)


@pytest.mark.parametrize(
    ("read", "reason"),
    [(5.0, "at least 10 C"), (26.5, "more than 1 C"), (25.8, "slope would be")],
)
def test_bad_points_are_refused_with_the_reason(read: float, reason: str) -> None:
    """Points too close to each other, or a probe far off, are no calibration."""
    ice = calibration.ice_point([0.1])
    with pytest.raises(ValueError, match=reason):
        calibration.calibrate(ice, calibration.reference_point([read], 25.0, 0.1))


def test_unsettled_readings_are_no_point() -> None:
    """A probe still on its way gives no ice point."""
    with pytest.raises(ValueError, match="stir and wait"):
        calibration.ice_point([3.0, 1.0, 0.4])


@pytest.mark.parametrize(("last", "settled"), [(0.125, True), (0.1875, False)])
def test_readings_that_differ_by_two_steps_of_the_probe_are_settled(
    last: float, settled: bool
) -> None:
    """A tenth of a degree and one step of 1/16 C, which rounding makes, are no change."""
    if settled:
        assert calibration.ice_point([0.0, last]).read_celsius == last / 2
        return
    with pytest.raises(ValueError, match=r"still change by 0\.19 C"):
        calibration.ice_point([0.0, last])


def test_a_probe_that_nobody_corrected_is_known_as_its_data_sheet_says() -> None:
    """Anywhere within half a degree, as likely here as there: the sd of that is 0.5 / sqrt 3."""
    assert pytest.approx(0.288675, abs=1e-6) == calibration.UNCORRECTED_SD


def test_runs_narrow_the_prior_and_shift_it_to_the_container() -> None:
    """Five runs of one container move the prior there; it stays as wide as runs differ."""
    prior = prior_for(SETUP)
    truth = prior.log_coupling + 0.6
    told = [Evidence(truth + off, 0.2) for off in (-0.1, 0.0, 0.1, -0.05, 0.05)]
    learnt = learn(prior, told)
    assert learnt.log_coupling == pytest.approx(truth, abs=0.1)
    assert 0.08 < learnt.log_coupling_sd < 0.6 * prior.log_coupling_sd
    assert learnt.runs == 5
    assert learn(prior, []) == prior


def test_one_odd_run_does_not_carry_a_container_away() -> None:
    """A run that is far off, as with a probe that was not where somebody said, counts little."""
    prior = prior_for(SETUP)
    told = [Evidence(prior.log_coupling + off, 0.25) for off in (0.5, 0.6, 0.4, 0.55)]
    odd = Evidence(prior.log_coupling - 3.0, 0.25)
    assert learn(prior, [*told, odd]).log_coupling > prior.log_coupling + 0.15


def test_one_run_says_nothing_of_how_far_runs_lie_apart() -> None:
    """The next run lies a quarter or so from the container, and so did the one that was seen.

    Over the grid the mean square of what is assumed is 0.27, and 0.27 times the root of 2 is 0.38.
    """
    prior = Prior(math.log(1 / 400), 5.0, exponent=0.02)
    learnt = learn(prior, [Evidence(prior.log_coupling, 0.01)])
    assert learnt.log_coupling_sd == pytest.approx(0.38, abs=0.01)


def test_runs_no_further_apart_than_they_say_count_in_full() -> None:
    """Two runs each one of their own deviations from the middle of both are not odd."""
    prior = Prior(math.log(1 / 400), 5.0, exponent=0.02)
    told = [Evidence(prior.log_coupling + off, 0.3) for off in (-0.3, 0.3)]
    between = learning._between_runs(prior, told)
    container = (2 / (0.3**2 + between**2) + 1 / 5.0**2) ** -0.5
    assert learn(prior, told).log_coupling_sd == pytest.approx(math.hypot(container, between))


def test_runs_that_differ_leave_the_next_one_open() -> None:
    """Where runs of one container lie far apart, the next is known less well than where not."""
    prior = prior_for(SETUP)
    alike = [Evidence(prior.log_coupling + off, 0.1) for off in (0.0, 0.05, -0.05, 0.02)]
    apart = [Evidence(prior.log_coupling + 8 * (one.log_coupling - prior.log_coupling), 0.1)
             for one in alike]  # fmt: skip
    assert 1.2 * learn(prior, alike).log_coupling_sd < learn(prior, apart).log_coupling_sd


def test_a_finished_run_tells_its_coupling() -> None:
    """Evidence of a run in a bath of one coupling holds it, with the physics' guess left out."""
    rate = 1 / 200
    plan = [("developer", 30), ("bath", 230), ("developer", 240)]
    rows = NewtonSink(27.0, 19.0, rate).readings(plan)
    told = evidence_of(SETUP, rows)
    assert told is not None
    assert told.sd < 0.4
    assert told.log_coupling == pytest.approx(math.log(rate), abs=2.5 * told.sd)
    assert evidence_of(SETUP, rows[:10]) is None
    assert evidence_of(SETUP, ()) is None


def test_evidence_and_the_prior_together_are_what_the_run_believed() -> None:
    """The prior is taken out once: put in again, mean and spread are those of the run's end."""
    sink = NewtonSink(27.0, 19.0, 1 / 200, lag=7.0)
    rows = sink.readings([("developer", 30), ("bath", 230)])
    prior, told = prior_for(SETUP), evidence_of(SETUP, rows)
    assert told is not None
    past = Hindsight(begin(SETUP, prior))
    for row in rows:
        past = hear(past, row)
    assert past.belief.story.bank is not None
    middle, sd = moments(past.belief.story.bank, COUPLING)
    weights = (told.sd**-2, prior.log_coupling_sd**-2)
    assert sd**-2 == pytest.approx(sum(weights))
    together = weights[0] * told.log_coupling + weights[1] * prior.log_coupling
    assert middle == pytest.approx(together / sum(weights))


def test_a_run_whose_bath_nobody_measured_teaches_nothing() -> None:
    """With the probe in the developer alone, coupling and bath explain each other."""
    rows = NewtonSink(27.0, 19.0, 1 / 200).readings([("developer", 500)])
    assert evidence_of(SETUP, rows) is None


def test_a_learnt_prior_makes_the_hidden_developer_known() -> None:
    """With the container's coupling learnt, the interval of a hidden developer shrinks."""
    sink = NewtonSink(27.0, 19.0, 1 / 420)
    rows = sink.readings([("developer", 30), ("bath", 150)])
    spreads = []
    for prior in (None, Prior(math.log(1 / 420), 0.15, exponent=0.02)):
        belief = begin(SETUP, prior)
        for row in rows:
            belief = update(belief, row)
        assert belief.story.bank is not None
        spreads.append(moments(belief.story.bank, COUPLING)[1])
    assert spreads[1] < 0.6 * spreads[0]
