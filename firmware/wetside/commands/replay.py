"""``wetside replay``: what the display would have said during a recording."""

import json
import statistics
import sys
from collections.abc import Iterator, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from wetside.errors import FileProblem, UnitsError
from wetside.outlook import (
    HORIZON_SECONDS,
    MOST_MILLILITRES,
    MOST_TOLERANCE_CELSIUS,
    Outlook,
    Quantiles,
    Setup,
    Temperature,
    Wall,
)
from wetside.readings import Reading
from wetside.thermal.estimator import begin
from wetside.thermal.forecast import outlook
from wetside.thermal.hindsight import Hindsight, hear
from wetside.thermal.recording import read_recording
from wetside.units import clock_text, parse_celsius, parse_celsius_difference, parse_millilitres

#: Between these water is a liquid at sea level; no other target has a sense.
FREEZES_CELSIUS, BOILS_CELSIUS = 0.0, 100.0
#: No developer is warmer: such figures are mostly degrees Fahrenheit (common practice).
_WARMEST_CELSIUS = 45.0
#: A reading comes late by seconds; so many in a row, by that much, are another recording.
_RESTART_SECONDS, _RESTART_ROWS = 60.0, 10
#: Answers closer together than any probe reads would only be many.
_LEAST_EVERY_SECONDS = 0.01
#: From this probability on text says that it may never get there.
_WORTH_SAYING = 0.05


class ReplayOutput(StrEnum):
    """Form of the answer."""

    JSONL = "jsonl"
    TEXT = "text"


def replay_outlooks(readings: Sequence[Reading], setup: Setup, every: float) -> Iterator[Outlook]:
    """Outlooks every ``every`` seconds of recording time, each from rows up to its time only.

    Parameters
    ----------
    readings
        In the order in which they arrived; a row may carry an earlier time than the one before
        (a late reading), its turn still comes where it stands.
    every
        Seconds between outlooks; the first is at the time of the first row.
    """
    past = Hindsight(begin(setup))
    start = readings[0].seconds
    count = 0
    latest = start
    for reading in readings:
        while reading.seconds > start + count * every:
            yield outlook(past.belief, start + count * every)
            count += 1
        past = hear(past, reading)
        latest = max(latest, reading.seconds)
    while start + count * every <= latest:
        yield outlook(past.belief, start + count * every)
        count += 1


def _target(text: str) -> float:
    """The wanted temperature, which water must be able to have."""
    celsius = parse_celsius(text)
    if not FREEZES_CELSIUS <= celsius <= BOILS_CELSIUS:
        raise UnitsError(
            f"--target {text}: a developer is water, between "
            f"{FREEZES_CELSIUS:g}C and {BOILS_CELSIUS:g}C (32F and 212F)"
        )
    return celsius


def _at_most(value: float, most: float, refusal: str) -> float:
    if value > most:
        raise UnitsError(f"{refusal}, as in a sheet")
    return value


def _tolerance(text: str) -> float:
    most = MOST_TOLERANCE_CELSIUS
    refusal = f"--tolerance {text}: at most {most:g}C ({most * 1.8:g}F) either way"
    return _at_most(parse_celsius_difference(text), most, refusal)


def _volume(text: str) -> float:
    refusal = f"--volume {text}: a container holds at most {MOST_MILLILITRES / 1000.0:g}L"
    return _at_most(parse_millilitres(text), MOST_MILLILITRES, refusal)


def _check_every(every: float) -> None:
    if not _LEAST_EVERY_SECONDS <= every < float("inf"):
        raise UnitsError(
            f"--every {every:g}: the seconds between answers are at least {_LEAST_EVERY_SECONDS:g}"
        )


def _number(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _temperature(value: Temperature | None) -> dict[str, float] | None:
    if value is None:
        return None
    return {"celsius": round(value.celsius, 3), "sd": round(value.sd, 3)}


def _quantiles(value: Quantiles) -> dict[str, float | None]:
    return {name: _number(getattr(value, name), 1) for name in ("p05", "p50", "p95")}


def outlook_object(view: Outlook) -> dict[str, object]:
    """Fields of the replay contract (docs/replay.schema.json), ready for JSON."""
    return {
        "seconds": round(view.seconds, 3),
        "developer": _temperature(view.developer),
        "bath": _temperature(view.bath),
        "ready_in": _quantiles(view.ready_in),
        "leaves_in": _quantiles(view.leaves_in),
        "never": round(view.never, 4),
        "faults": list(view.faults),
    }


def _doubts(target_celsius: float, readings: Sequence[Reading]) -> list[str]:
    """What looks like another scale or another recording, taken as it is all the same."""
    doubts = []
    if target_celsius > _WARMEST_CELSIUS:
        doubts.append(f"--target: taken as {target_celsius:g} C; Fahrenheit ends in F, as in 68F")
    values = [reading.celsius for reading in readings if reading.celsius is not None]
    if values and statistics.median(values) > _WARMEST_CELSIUS:
        doubts.append(f"the recording: taken as C, around {statistics.median(values):g}; is it F?")
    if behind := _longest_behind(readings):
        doubts.append(
            f"the recording: {behind} rows in a row lie over a minute before those above "
            "and are taken as late; did its seconds start again?"
        )
    return doubts


def _longest_behind(readings: Sequence[Reading]) -> int:
    """Most rows in a row that lie far before the latest, 0 where these are few."""
    latest, run, most = readings[0].seconds, 0, 0
    for reading in readings:
        latest = max(latest, reading.seconds)
        run = run + 1 if reading.seconds < latest - _RESTART_SECONDS else 0
        most = max(most, run)
    return most if most >= _RESTART_ROWS else 0


def _span(value: Quantiles) -> str:
    beyond = f"over {clock_text(HORIZON_SECONDS)}"
    low, mid, high = (
        beyond if q is None else clock_text(q) for q in (value.p05, value.p50, value.p95)
    )
    return mid if low == high else f"{mid} ({low} to {high})"


def outlook_line(view: Outlook) -> str:
    """One line for people."""
    parts = [f"{clock_text(view.seconds):>8}"]
    for name, value in (("developer", view.developer), ("bath", view.bath)):
        text = "?" if value is None else f"{value.celsius:.2f} C +-{2 * value.sd:.2f}"
        parts.append(f"{name} {text}")
    if view.developer is None:
        parts.append("no forecast yet")
    elif view.ready_in.p50 == 0:
        ready = "ready" if view.never < _WORTH_SAYING else f"ready with {1.0 - view.never:.0%}"
        stays = view.leaves_in.p50 is None
        parts.append(f"{ready}, stays" if stays else f"{ready}, for {_span(view.leaves_in)}")
    elif view.ready_in.p50 is None and view.ready_in.p05 == 0.0:
        parts.append(f"perhaps ready: {view.never:.0%} it is not and never gets there")
    else:
        parts.append(f"ready in {_span(view.ready_in)}")
        if view.never >= _WORTH_SAYING:
            parts.append(f"if at all: {view.never:.0%} it never gets there")
    if view.faults:
        parts.append(", ".join(view.faults))
    return "  ".join(parts)


def replay(
    file: Annotated[
        Path,
        typer.Argument(readable=False, help="CSV: seconds,probe,place,celsius", metavar="FILE.csv"),
    ],
    target: Annotated[str, typer.Option(help="Wanted developer temperature: 24.0C or 75.2F")],
    tolerance: Annotated[str, typer.Option(help="Allowed either way: 0.3C or 0.5F")] = "0.3C",
    vessel: Annotated[
        Wall | None, typer.Option(help="What the developer's container is made of")
    ] = None,
    volume: Annotated[
        str | None, typer.Option(help="Developer in the container: 300mL, 0.3L or 10floz")
    ] = None,
    every: Annotated[float, typer.Option(help="Seconds of recording between answers")] = 5.0,
    output: Annotated[
        ReplayOutput, typer.Option(help="One JSON object a line, or lines for people")
    ] = ReplayOutput.JSONL,
) -> None:
    """Play a recording of probe readings and say at every moment what was known by then.

    \b
    Examples:
      wetside replay evening.csv --target 24.0C --vessel plastic --volume 300mL
      wetside replay evening.csv --target 68F --tolerance 0.5F --every 30 --output text

    \b
    Exit codes: 0 played to the end, 2 the file or an option cannot be used.
    """  # noqa: D301  # \b keeps the lines of the help as they are
    try:
        setup = Setup(
            target_celsius=_target(target),
            tolerance_celsius=_tolerance(tolerance),
            wall=vessel,
            volume_millilitres=None if volume is None else _volume(volume),
        )
        _check_every(every)
        readings = read_recording(file)
    except (FileProblem, UnitsError) as problem:
        print(str(problem).splitlines()[0], file=sys.stderr)
        raise typer.Exit(2) from problem
    for doubt in _doubts(setup.target_celsius, readings):
        print(doubt, file=sys.stderr)
    for view in replay_outlooks(readings, setup, every):
        if output is ReplayOutput.JSONL:
            print(json.dumps(outlook_object(view), allow_nan=False))
        else:
            print(outlook_line(view))
