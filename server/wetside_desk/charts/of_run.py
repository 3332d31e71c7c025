"""The charts of one run and of several over each other. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wetside.journal.schema import Sample
from wetside.readings import Place
from wetside.units import celsius_to_fahrenheit, clock_text
from wetside_desk.charts.series import Band, Chart, Line, Mark, Point, thin
from wetside_desk.pages import words
from wetside_desk.review import Promise, Review, Timeline

_PLACES = {
    Place.DEVELOPER: ("developer", "one"),
    Place.BATH: ("bath", "two"),
    Place.UNKNOWN: ("place not known", "three"),
    Place.AIR: ("air", "four"),
}
#: A probe that says nothing for longer than this leaves a gap in its line.
_GAP_SECONDS = 15.0


def _shown(celsius: float, unit: str) -> float:
    return celsius_to_fahrenheit(celsius) if unit == "F" else celsius


def traces(samples: Iterable[Sample], line: Timeline) -> dict[tuple[str, Place], list[Point]]:
    """Points (minutes, degrees Celsius) of each probe at each place, with gaps."""
    found: dict[tuple[str, Place], list[Point]] = {}
    last: dict[str, tuple[float, Place]] = {}
    for sample in samples:
        seconds = line.seconds(sample.moment)
        if seconds is None:
            continue
        points = found.setdefault((sample.probe, sample.place), [])
        before = last.get(sample.probe)
        if points and before is not None:
            moved = before[1] is not sample.place
            if moved or seconds - before[0] > _GAP_SECONDS:
                points.append((seconds / 60, None))
        points.append((seconds / 60, sample.celsius))
        last[sample.probe] = (seconds, sample.place)
    return found


def trace(review: Review, samples: Iterable[Sample], unit: str = "C") -> Chart:
    """Temperatures over the whole run, the target band and the steps."""
    found = traces(samples, review.line)
    several = len({probe for probe, _ in found}) > 1
    lines = []
    for (probe, place), points in sorted(found.items(), key=lambda item: item[0][1] != "developer"):
        name, ink = _PLACES[place]
        lines.append(
            Line(
                f"{name} ({probe})" if several else name,
                [(x, None if y is None else _shown(y, unit)) for x, y in thin(points)],
                ink,
            )
        )
    summary = review.summary
    bands: tuple[Band, ...] = ()
    marks: tuple[Mark, ...] = ()
    says = "Temperatures that the probe measured during the run"
    if summary is not None:
        target, tolerance = summary.target_celsius, summary.tolerance_celsius
        low, high = _shown(target - tolerance, unit), _shown(target + tolerance, unit)
        bands = (Band(f"target {_shown(target, unit):.1f} °{unit}", low, high),)
        marks = tuple(
            Mark(step.began_after_seconds / 60, words.step(str(step.kind)))
            for step in summary.steps
        )
        says += f", with the target of {_shown(target, unit):.1f} °{unit}"
        if summary.poured_celsius is not None:
            says += (
                f"; the developer was poured at {_shown(summary.poured_celsius, unit):.1f} °{unit}"
            )
    return Chart(
        title="Temperature",
        says=says + ".",
        x_name="minutes since the run began",
        y_name=f"temperature, °{unit}",
        lines=tuple(lines),
        bands=bands,
        marks=marks,
    )


def forecast(review: Review, made: Sequence[Promise]) -> Chart:
    """What was forecast at each moment, against when it happened.

    The level line is the moment at which the developer entered the window; a good forecast
    lies on it from early on, and its band narrows around it.
    """
    happened = review.entered_after_seconds
    until = happened if happened is not None else review.poured_after_seconds
    shown = [p for p in made if until is None or p.after_seconds <= until]

    def minutes(value: float | None) -> float | None:
        return None if value is None else value / 60

    low: list[Point] = [(p.after_seconds / 60, minutes(p.ready.p05)) for p in shown]
    middle: list[Point] = [(p.after_seconds / 60, minutes(p.ready.p50)) for p in shown]
    high: list[Point] = [(p.after_seconds / 60, minutes(p.ready.p95)) for p in shown]
    now: list[Point] = [(p.after_seconds / 60, p.after_seconds / 60) for p in shown]
    says = "For each moment of the wait, when the developer was expected to be ready"
    if happened is not None:
        says += f"; it was ready after {clock_text(happened)}"
    return Chart(
        title="Forecast against what happened",
        says=says + ".",
        x_name="minutes since the run began, when the forecast was made",
        y_name="ready after, minutes",
        lines=(
            Line("5 to 95 %", low, "two", upper=high),
            Line("forecast (median)", middle, "two"),
            Line("the moment itself", now, "three", dash=True),
        ),
        levels=(Mark(happened / 60, "ready"),) if happened is not None else (),
    )


def compare(runs: Sequence[tuple[str, Review, Iterable[Sample]]], unit: str = "C") -> Chart:
    """Developer temperatures of several runs over each other, minute 0 = poured in."""
    inks = ("one", "two", "three", "four")
    lines = []
    bands: list[Band] = []
    for number, (name, review, samples) in enumerate(runs):
        pour = (review.poured_after_seconds or 0.0) / 60
        points: list[Point] = []
        for (_, place), found in traces(samples, review.line).items():
            if place in {Place.DEVELOPER, Place.UNKNOWN}:
                points += found
        shown = [
            (x - pour, None if y is None else _shown(y, unit))
            for x, y in thin(sorted(points, key=lambda point: point[0]))
        ]
        lines.append(Line(name, shown, inks[number % 4], dash=number >= 4))
        if review.summary is not None:
            target, tolerance = review.summary.target_celsius, review.summary.tolerance_celsius
            band = Band(
                f"target {_shown(target, unit):.1f} °{unit}",
                _shown(target - tolerance, unit),
                _shown(target + tolerance, unit),
            )
            if band not in bands:
                bands.append(band)
    return Chart(
        title="Runs over each other",
        says=f"Developer temperature of {len(runs)} runs, aligned at the moment of pouring.",
        x_name="minutes from the moment the developer was poured in",
        y_name=f"developer, °{unit}",
        lines=tuple(lines),
        bands=tuple(bands),
    )
