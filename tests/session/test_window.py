"""From forecasts to the cues of tempering."""

from __future__ import annotations

from wetside.outlook import Outlook, Quantiles, Setup, Temperature
from wetside.session.events import Kind
from wetside.session.run import State
from wetside.session.window import Seen, Watch, look

SETUP = Setup(target_celsius=20.0, tolerance_celsius=0.3)
NEVER_LEAVES = Quantiles(None, None, None)


def _outlook(
    seconds: float,
    ready: float | None,
    *,
    never: float = 0.0,
    leaves: Quantiles = NEVER_LEAVES,
    sd: float = 0.1,
    celsius: float = 20.0,
) -> Outlook:
    return Outlook(
        seconds,
        Temperature(celsius, sd),
        Temperature(19.5, 0.1),
        Quantiles(ready, ready, ready),
        leaves,
        never,
    )


def _said(
    state: State, outlooks: list[Outlook], measured_ago: float | None = 0.0
) -> list[tuple[float, Kind]]:
    watch = Watch()
    said = []
    for outlook in outlooks:
        watch, event = look(watch, state, outlook, Seen(SETUP, measured_ago))
        if event is not None:
            said.append((event.seconds, event.kind))
    return said


def _unsure(outlook: Outlook, measured_ago: float | None, *, already: bool = False) -> bool:
    watch = Watch(only_a_dip_tells=already)
    watch, _ = look(watch, State.TEMPERING, outlook, Seen(SETUP, measured_ago))
    return watch.only_a_dip_tells


def test_where_only_a_dip_tells_no_help_is_called_for_and_dips_are_asked_for() -> None:
    """A hidden developer believed to be past the window may be in it: "never" waits for a dip."""
    past = [_outlook(t, None, never=0.95, sd=0.4, celsius=19.4) for t in range(0, 200, 5)]
    assert _unsure(past[0], 300.0)
    said = _said(State.TEMPERING, past, measured_ago=300.0)
    assert said == [(60.0, Kind.CHECK_DIP), (150.0, Kind.CHECK_DIP)]


def test_a_developer_that_is_measured_or_surely_outside_needs_no_dip() -> None:
    """Not with a probe in it, nor four deviations from the window, nor with a wait ahead."""
    assert not _unsure(_outlook(0, None, never=0.95, sd=0.4, celsius=19.4), 0.0)
    assert not _unsure(_outlook(0, None, never=0.95, sd=0.4, celsius=18.0), 300.0)
    assert not _unsure(_outlook(0, None, never=0.97, sd=0.1, celsius=19.51), 300.0)
    assert not _unsure(_outlook(0, 200.0, sd=0.4, celsius=19.4), 300.0)


def test_that_only_a_dip_tells_does_not_flicker() -> None:
    """It begins half a minute before the median and ends a minute before it."""
    hidden = _outlook(0, 45.0, sd=0.4, celsius=19.6)
    assert not _unsure(hidden, 300.0)
    assert _unsure(hidden, 300.0, already=True)
    assert _unsure(_outlook(0, 29.0, sd=0.4, celsius=19.6), 300.0)
    assert not _unsure(_outlook(0, 61.0, sd=0.4, celsius=19.6), 300.0, already=True)


def test_soon_is_said_once() -> None:
    """The first word comes when the window is a minute away, and not again."""
    approach = [_outlook(t, 100.0 - t) for t in range(0, 90, 5)]
    assert _said(State.TEMPERING, approach) == [(40.0, Kind.SOON)]


def test_inside_must_stand_before_ready_is_called() -> None:
    """One forecast inside the window is not enough; two seconds of it are."""
    flicker = [_outlook(0, 0.0), _outlook(1, 3.0), _outlook(2, 0.0), _outlook(3, 0.0)]
    assert [kind for _, kind in _said(State.TEMPERING, flicker)] == [Kind.SOON]
    steady = [_outlook(t, 0.0) for t in range(4)]
    assert (2.0, Kind.ENTERED) in _said(State.TEMPERING, steady)


def test_leaving_must_stand_too() -> None:
    """The window is left after four seconds outside, not at the first."""
    outside = [_outlook(t, 30.0) for t in range(5)]
    assert _said(State.READY, outside) == [(4.0, Kind.LEFT)]


def test_closing_is_said_by_the_early_quantile() -> None:
    """The warning follows the early end of the interval, so it rather comes too soon."""
    closing = [_outlook(t, 0.0, leaves=Quantiles(60.0 - t, 200.0, None)) for t in range(0, 40, 5)]
    assert _said(State.READY, closing) == [(15.0, Kind.CLOSING)]


def test_who_was_just_told_to_pour_is_not_told_at_once_that_the_window_closes() -> None:
    """READY stands for a quarter of a minute before a window that soon ends is called."""
    brief = [_outlook(t, 0.0, leaves=Quantiles(10.0, 60.0, 90.0)) for t in range(30)]
    assert _said(State.READY, brief) == [(15.0, Kind.CLOSING)]


def test_a_window_that_ends_is_told_at_once() -> None:
    """However short READY has stood, a developer that left the window is not poured unawares."""
    brief = Quantiles(1.0, 2.0, 3.0)
    ends = [_outlook(t, 0.0 if t < 3 else None, leaves=brief) for t in range(10)]
    assert _said(State.READY, ends)[0] == (7.0, Kind.LEFT)


def test_never_is_said_after_it_stood_and_again_only_later() -> None:
    """That the bath will not do is said after 20 s, and repeated after two minutes."""
    stuck = [_outlook(t, None, never=0.95) for t in range(0, 200, 5)]
    assert _said(State.TEMPERING, stuck) == [(20.0, Kind.NEVER), (140.0, Kind.NEVER)]


def test_nothing_is_watched_while_a_step_runs() -> None:
    """Forecasts give no events outside tempering and ready."""
    steady = [_outlook(t, 0.0) for t in range(10)]
    assert _said(State.RUNNING, steady) == []


def test_a_developer_hardly_known_is_not_called_ready() -> None:
    """Inside by the middle of a wide guess is no window: a check dip is asked for, then again."""
    guess = [_outlook(t, 0.0, sd=0.8) for t in range(200)]
    assert [(60, Kind.CHECK_DIP), (150, Kind.CHECK_DIP)] == _said(State.TEMPERING, guess)


def test_after_the_dip_ready_is_called() -> None:
    """Once the developer is known, the window counts."""
    dipped = [_outlook(t, 0.0, sd=0.8 if t < 70 else 0.15) for t in range(80)]
    kinds = [kind for _, kind in _said(State.TEMPERING, dipped)]
    assert [Kind.CHECK_DIP, Kind.ENTERED] == kinds[:2]


def test_no_dip_is_asked_for_long_before_the_window() -> None:
    """While the window is minutes away, a wide guess is enough."""
    far = [_outlook(t, 300.0, sd=0.8) for t in range(50)]
    assert [] == _said(State.TEMPERING, far)


def test_at_the_edge_ready_waits() -> None:
    """A developer believed 0.25 C off, give or take 0.15, may be outside: it has to stand."""
    edge = [_outlook(t, 0.0, sd=0.15, celsius=20.25) for t in range(40)]
    assert [(30, Kind.ENTERED)] == _said(State.TEMPERING, edge)[:1]
    well = [_outlook(t, 0.0, sd=0.15, celsius=20.1) for t in range(40)]
    assert [(2, Kind.ENTERED)] == _said(State.TEMPERING, well)[:1]


def test_at_the_edge_of_a_window_that_closes_ready_does_not_wait() -> None:
    """Where waiting would lose the window, it is called at once."""
    brief = Quantiles(5.0, 30.0, 60.0)
    edge = [_outlook(t, 0.0, sd=0.15, celsius=19.75, leaves=brief) for t in range(10)]
    assert [(2, Kind.ENTERED)] == _said(State.TEMPERING, edge)[:1]


def test_a_dip_worth_its_trouble_is_asked_for_early_but_not_often() -> None:
    """Where a dip would narrow the forecast much, it is asked for minutes before the window."""
    far = [_outlook(t, 900.0, sd=0.8) for t in range(0, 420, 10)]
    watch, said = Watch(), []
    for outlook in far:
        watch, event = look(
            watch, State.TEMPERING, outlook, Seen(SETUP, 500.0, dip_worthwhile=True)
        )
        said += [(event.seconds, event.kind)] if event else []
    assert [(60, Kind.CHECK_DIP), (300, Kind.CHECK_DIP)] == said


def test_ready_is_not_called_on_an_inference_alone() -> None:
    """However sure the estimate, the probe must have touched the developer a short while ago."""
    sure = [_outlook(t, 0.0, sd=0.1) for t in range(80)]
    assert [(60, Kind.CHECK_DIP)] == _said(State.TEMPERING, sure, measured_ago=200.0)
    assert [(60, Kind.CHECK_DIP)] == _said(State.TEMPERING, sure, measured_ago=None)
    assert (2, Kind.ENTERED) in _said(State.TEMPERING, sure, measured_ago=60.0)
