"""What one reading does to the belief, good or bad."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from newton_sinks import NewtonSink

from wetside.outlook import Outlook, Setup, Wall
from wetside.readings import Condition, Place, Reading
from wetside.thermal.belief import Belief
from wetside.thermal.estimator import begin, update
from wetside.thermal.forecast import outlook

SETUP = Setup(20.0, 0.3, Wall.STEEL, 300.0)
SINK = NewtonSink(start=26.0, bath=19.0, rate=1 / 300)


def told(rows: list[Reading], setup: Setup = SETUP) -> Belief:
    """Belief after all rows."""
    belief = begin(setup)
    for row in rows:
        belief = update(belief, row)
    return belief


def view(rows: list[Reading], setup: Setup = SETUP) -> Outlook:
    """Outlook right after all rows."""
    return outlook(told(rows, setup), rows[-1].seconds)


def test_update_leaves_the_given_belief_as_it_was() -> None:
    """The same belief can be continued in two ways."""
    rows = SINK.readings([("developer", 80)])
    belief = told(rows[:60])
    bank = belief.story.bank
    assert bank is not None
    before = bank.mean.copy()
    update(belief, rows[60])
    update(belief, replace(rows[60], celsius=10.0))
    assert np.array_equal(before, bank.mean)


def test_same_readings_give_the_same_answer() -> None:
    """Nothing in the core is drawn by chance."""
    rows = SINK.readings([("developer", 100)])
    assert view(rows) == view(rows)


@pytest.mark.parametrize(
    ("condition", "word"),
    [(Condition.FAILED, "failed read"), (Condition.BUS_GONE, "bus gone")],
)
def test_failed_reads_are_named_and_change_nothing_else(condition: Condition, word: str) -> None:
    """A read without a value leaves temperatures alone and stands among the faults."""
    rows = SINK.readings([("developer", 60)])
    belief = told(rows)
    with pytest.raises(ValueError, match="degC is not"):
        Reading(60.0, "p", 20.0, Place.DEVELOPER, condition)
    after = update(belief, Reading(60.0, "p", None, Place.DEVELOPER, condition))
    assert belief.stories == after.stories
    assert word in outlook(after, 60.0).faults


@pytest.mark.parametrize("celsius", [85.0, 0.0, 127.9375, -55.0, 35.5])
def test_wild_values_are_rejected(celsius: float) -> None:
    """Power-on value, shorted bus and single outliers change no temperature."""
    rows = SINK.readings([("developer", 90)])
    spoilt = [*rows[:70], replace(rows[70], celsius=celsius), *rows[71:]]
    assert "rejected" in view(spoilt[:71]).faults
    clean, dirty = view(rows), view(spoilt)
    assert clean.developer is not None
    assert dirty.developer is not None
    assert clean.developer.celsius == pytest.approx(dirty.developer.celsius, abs=0.03)


def test_first_reading_of_85_is_not_a_developer() -> None:
    """A probe that has just been powered is waited for."""
    belief = update(begin(SETUP), Reading(0.0, "p", 85.0))
    assert outlook(belief, 0.0).developer is None


def test_doubled_and_late_rows_change_nothing_else() -> None:
    """A row that was heard, or is older than the latest, is named and left."""
    rows = SINK.readings([("developer", 60)])
    belief = told(rows)
    doubled, late = update(belief, rows[-1]), update(belief, rows[-20])
    assert belief.stories == doubled.stories == late.stories
    assert outlook(doubled, 60.0).faults == ("duplicate",)
    assert outlook(late, 60.0).faults == ("late",)


def test_silence_is_called_stale_and_widens() -> None:
    """After three seconds without reading the answer says so; a minute later it is wider."""
    rows = SINK.readings([("developer", 60)])
    belief = told(rows)
    now, later = outlook(belief, 60.0), outlook(belief, 120.0)
    assert "stale" not in now.faults
    assert "stale" in later.faults
    assert now.developer is not None
    assert later.developer is not None
    assert later.developer.sd > now.developer.sd


def test_a_gap_is_bridged() -> None:
    """Forty seconds without probe: ten seconds after its return the forecast is where it was."""
    rows = SINK.readings([("developer", 200)])
    truth = SINK.crossing(20.3) - rows[-1].seconds
    after = view([*rows[:120], *rows[160:]])
    assert after.ready_in.p05 is not None
    assert after.ready_in.p95 is not None
    assert after.ready_in.p05 < truth < after.ready_in.p95


def test_third_probe_is_ignored() -> None:
    """Two probes are followed; the name of a third leads to a word, not to an error."""
    belief = begin(SETUP)
    for probe, place in (("a", Place.DEVELOPER), ("b", Place.BATH), ("c", Place.AIR)):
        belief = update(belief, Reading(0.0, probe, 21.0, place))
    assert "ignored" in outlook(belief, 0.0).faults


def test_two_probes_that_nobody_placed_are_told_apart() -> None:
    """The one that changes is the developer's, whichever comes first in the file."""
    developer = SINK.readings([("developer", 120)], told=False)
    bath = SINK.readings([("bath", 120)], told=False)
    for names in (("x", "y"), ("y", "x")):
        belief = begin(SETUP)
        for one, two in zip(developer, bath, strict=True):
            pair = [replace(one, probe=names[0]), replace(two, probe=names[1])]
            for row in sorted(pair, key=lambda row: row.probe):
                belief = update(belief, row)
        places = {track.probe: track.place for track in belief.tracks}
        assert {names[0]: Place.DEVELOPER, names[1]: Place.BATH} == places
