"""Randomised sinks: who stands what in which bath, and what happens meanwhile.

Seeds 0 to 999 are for tuning. Published figures come from seeds of 100000 and above only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from wetside.outlook import Setup, Wall
from wetside.sim.physics import (
    Controls,
    Sink,
    State,
    Vessel,
    add_ice,
    add_water,
    advance,
    footprint,
    start,
)
from wetside.sim.probe import ProbeBody

PHYSICAL = ("ice", "hot water", "tap changed", "lifted out")
DIRT = ("unplugged", "85.0", "0.0", "duplicates", "late rows")


@dataclass(frozen=True, slots=True)
class Span:
    """Controls that hold from ``begin`` to ``end``, seconds; ``what`` names the change."""

    begin: float
    end: float
    what: str
    value: float


@dataclass(frozen=True, slots=True)
class Plan:
    """One sink with everything that will be done to it."""

    sink: Sink
    setup: Setup
    developer_celsius: float
    bath_celsius: float
    base: Controls
    spans: tuple[Span, ...]
    probes: tuple[ProbeBody, ProbeBody]
    depths: tuple[float, float]
    cadence_seconds: float
    event: Span | None = None


def _uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high))


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return math.exp(_uniform(rng, math.log(low), math.log(high)))


def _vessel(rng: np.random.Generator) -> Vessel:
    wall = (Wall.PLASTIC, Wall.GLASS, Wall.STEEL)[int(rng.choice(3, p=[0.45, 0.3, 0.25]))]
    thin, thick = {Wall.PLASTIC: (0.8, 3.0), Wall.GLASS: (1.5, 4.0), Wall.STEEL: (0.4, 1.0)}[wall]
    volume = _log_uniform(rng, 240.0, 1000.0)
    slenderness = _uniform(rng, 0.7, 2.2)  # depth over width
    width = 10.0 * (4.0 * volume / (math.pi * slenderness)) ** (1.0 / 3.0)
    return Vessel(wall, _uniform(rng, thin, thick), width, volume, _uniform(rng, 0.1, 0.8))


def _sink(rng: np.random.Generator) -> Sink:
    vessel = _vessel(rng)
    litres = _uniform(rng, 2.0, 8.0)
    area = litres * 1e-3 / _uniform(rng, 0.06, 0.14) + footprint(vessel)
    return Sink(
        vessel=vessel,
        bath_litres=litres,
        room_celsius=_uniform(rng, 15.0, 30.0),
        tap_hot_celsius=_uniform(rng, 40.0, 60.0),
        tap_cold_celsius=_uniform(rng, 7.0, 18.0),
        line_hot_celsius=_uniform(rng, -4.0, 1.0) if rng.random() < 0.4 else 0.0,
        line_cold_celsius=_uniform(rng, -1.0, 4.0) if rng.random() < 0.4 else 0.0,
        line_litres=_uniform(rng, 2.0, 12.0),
        tap_drift_per_hour=_uniform(rng, -3.0, 3.0),
        basin_square_metres=max(area, 1.2 * footprint(vessel)),
        basin_heat=_uniform(rng, 200.0, 1500.0),
        basin_contact=_uniform(rng, 30.0, 100.0),
        basin_loss=_uniform(rng, 0.3, 3.0),
        air_film=_uniform(rng, 6.0, 14.0),
        room_humidity=_uniform(rng, 0.3, 0.7),
        bath_mixing=_log_uniform(rng, 5.0, 50.0),
    )


def _running(rng: np.random.Generator, sink: Sink, bath: float) -> Controls:
    """Taps set to about the bath's temperature, as well as somebody can."""
    aim = min(sink.tap_hot_celsius, max(sink.tap_cold_celsius, bath + rng.normal(0.0, 0.6)))
    flow = _log_uniform(rng, 0.5, 6.0)
    share = (aim - sink.tap_cold_celsius) / (sink.tap_hot_celsius - sink.tap_cold_celsius)
    return Controls(hot_litres_per_minute=flow * share, cold_litres_per_minute=flow * (1 - share))


def _stirring(rng: np.random.Generator, base: Controls) -> tuple[Controls, tuple[Span, ...]]:
    habit = rng.random()
    if habit < 0.15:
        base = replace(base, stir_developer=_uniform(rng, 0.05, 0.3))
    spans: list[Span] = []
    if 0.15 <= habit < 0.5:
        every = _uniform(rng, 60.0, 240.0)
        now = _uniform(rng, 5.0, every)
        while now < 5000.0:
            long = _uniform(rng, 5.0, 15.0)
            spans.append(Span(now, now + long, "stir developer", _uniform(rng, 0.2, 1.0)))
            now += every * _uniform(rng, 0.7, 1.3)
    if rng.random() < 0.3:
        now = _uniform(rng, 20.0, 400.0)
        spans.append(Span(now, now + 10.0, "stir bath", _uniform(rng, 0.3, 1.0)))
    return base, tuple(spans)


def _offset(rng: np.random.Generator) -> float:
    """Offset of a probe: three in four corrected at two points, the others as bought.

    Residual after a straight-line correction 0.05 to 0.13 C, raw within 0.5 C: Rodriguez-Rama
    et al. on eight encapsulated DS18B20.
    """
    sd = 0.05 if rng.random() < 0.75 else 0.2
    return float(np.clip(rng.normal(0.0, sd), -0.5, 0.5))


def draw(seed: int, attempt: int = 0) -> Plan:
    """Sink number ``seed``; ``attempt`` counts draws that were turned down before."""
    rng = np.random.default_rng([seed, attempt, 20])
    sink = _sink(rng)
    target = _uniform(rng, 18.0, 24.0)
    tolerance = float(rng.choice([0.2, 0.25, 0.3, 0.5]))
    sign = 1.0 if rng.random() < 0.5 else -1.0
    developer = target - sign * _log_uniform(rng, 1.5, 12.0)
    fate = rng.random()
    if fate < 0.78:
        beyond = _uniform(rng, 0.3, 6.0)
    elif fate < 0.88:
        beyond = _uniform(rng, -0.3, 0.5)
    else:
        beyond = _uniform(rng, -2.5, -0.3)
    bath = target + sign * beyond
    base = _running(rng, sink, bath) if rng.random() < 0.4 else Controls()
    base, spans = _stirring(rng, replace(base, lid=bool(rng.random() < 0.3)))
    vessel = sink.vessel
    said = vessel.volume_millilitres * _uniform(rng, 0.92, 1.08)
    setup = Setup(
        target_celsius=round(target, 1),
        tolerance_celsius=tolerance,
        wall=vessel.wall if rng.random() < 0.7 else None,
        volume_millilitres=round(said, -1) if rng.random() < 0.7 else None,
    )
    probes = [
        ProbeBody(
            tau_seconds=_log_uniform(rng, 7.0, 30.0),
            sensor_part=part,
            offset_celsius=_offset(rng),
            noise_sd=_log_uniform(rng, 0.005, 0.06),
        )
        for part in np.random.default_rng([seed, attempt, 26]).uniform(0.0, 0.45, 2)
    ]
    return Plan(
        sink=sink,
        setup=setup,
        developer_celsius=developer,
        bath_celsius=bath,
        base=base,
        spans=spans,
        probes=(probes[0], probes[1]),
        depths=(_uniform(rng, 0.15, 0.85), _uniform(rng, 0.0, 1.0)),
        cadence_seconds=float(rng.choice([1.0, 2.0, 5.0], p=[0.7, 0.2, 0.1])),
    )


def disturb(plan: Plan, seed: int, kind: str, ready_at: float | None) -> Plan:
    """The same sink with one disturbance of the named kind on the way."""
    rng = np.random.default_rng([seed, 21])
    wait = 600.0 if ready_at is None else ready_at
    begin = round(wait * _uniform(rng, 0.2, 0.35))
    if kind == "ice":
        event = Span(begin, begin, kind, _uniform(rng, 0.05, 0.3))
    elif kind == "hot water":
        event = Span(begin, begin, kind, _uniform(rng, 0.2, 1.0))
    elif kind == "tap changed":
        event = Span(begin, math.inf, kind, _uniform(rng, -1.5, 1.5))
    elif kind == "lifted out":
        event = Span(begin, begin + round(_uniform(rng, 10.0, 60.0)), kind, 1.0)
    elif kind == "unplugged":
        event = Span(begin, begin + round(_uniform(rng, 20.0, 60.0)), kind, 1.0)
    elif kind in DIRT:
        event = Span(begin, begin + 60.0, kind, 1.0)
    else:
        raise ValueError(f"no such disturbance: {kind}")
    return replace(plan, event=event)


def controls_at(plan: Plan, seconds: float) -> Controls:
    """What hands do at that second of the plan."""
    controls = plan.base
    for span in plan.spans:
        if span.begin <= seconds < span.end:
            if span.what == "stir developer":
                controls = replace(controls, stir_developer=span.value)
            else:
                controls = replace(controls, stir_bath=span.value)
    event = plan.event
    if event is not None and event.begin <= seconds < event.end:
        if event.what == "lifted out":
            controls = replace(controls, in_bath=False)
        elif event.what == "tap changed":
            hot = controls.hot_litres_per_minute
            controls = replace(controls, hot_litres_per_minute=max(0.0, hot + event.value))
    return controls


def begin(plan: Plan, *, developer_more: float = 0.0, bath_more: float = 0.0) -> State:
    """First state, if wanted a little off for a sensitivity."""
    return start(plan.sink, plan.developer_celsius + developer_more, plan.bath_celsius + bath_more)


def follow_plan(plan: Plan, state: State, seconds: float) -> State:
    """One second of the plan: one-time additions first, then the physics."""
    event = plan.event
    if event is not None and event.begin == seconds:
        if event.what == "ice":
            state = add_ice(state, plan.sink, event.value)
        elif event.what == "hot water":
            state = add_water(state, plan.sink, event.value, plan.sink.tap_hot_celsius)
    return advance(state, plan.sink, controls_at(plan, seconds), 1.0)
