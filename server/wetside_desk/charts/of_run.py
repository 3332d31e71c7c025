"""The charts of one run and of several over each other. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from wetside.journal.schema import Sample
from wetside.readings import Place
from wetside.session.events import Kind
from wetside.units import celsius_to_fahrenheit, clock_text
from wetside_desk.charts.series import Band, Chart, Line, Mark, Point, Stroke, thin
from wetside_desk.pages import steps
from wetside_desk.review import Promise, Review, Timeline

_PLACES = {
    Place.DEVELOPER: ("developer", "one"),
    Place.BATH: ("bath", "two"),
    Place.UNKNOWN: ("place not known", "three"),
    Place.AIR: ("air", "four"),
}
#: A probe that says nothing for longer than this leaves a gap in its line.
_GAP_SECONDS = 15.0
#: So long without an estimate interrupts its line: the station makes one every five seconds.
_GAP_OF_ESTIMATES_SECONDS = 30.0
#: What is believed with a larger standard deviation is a guess before the first reading.
_GUESS_SD_CELSIUS = 1.0
#: Estimates that are drawn of each run, at most.
_MOST_ESTIMATES = 400
#: The band around an estimate is so many standard deviations wide to each side.
_BAND_SDS = 2.0

#: What ends a call to agitate.
_STILL = frozenset(
    {Kind.REST, Kind.DRAIN_DUE, Kind.END_DUE, Kind.NOW, Kind.HOLD, Kind.ABANDON, Kind.POWER_LOST}
)

#: What is believed at one moment: degrees Celsius and standard deviation.
Believed = tuple[float | None, float | None]


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


def _of_developer(made: Promise) -> Believed:
    return made.developer_celsius, made.developer_sd


def _of_bath(made: Promise) -> Believed:
    return made.bath_celsius, made.bath_sd


def estimates(
    made: Sequence[Promise],
    until_seconds: float | None,
    of: Callable[[Promise], Believed],
    sds: float = 0.0,
) -> list[Point]:
    """Points (minutes, degrees Celsius) of what was believed, ``sds`` standard deviations off.

    They end at ``until_seconds``, the pour, where it is given. Where nothing was known yet, or
    nothing was estimated for a while, there is a gap.
    """
    known = [one for one in made if until_seconds is None or one.after_seconds <= until_seconds]
    every = -(-len(known) // _MOST_ESTIMATES) or 1
    points: list[Point] = []
    last: float | None = None
    for number, one in enumerate(known):
        at = one.after_seconds
        if last is not None and at - last > _GAP_OF_ESTIMATES_SECONDS:
            points.append((at / 60, None))
        last = at
        if number % every:
            continue
        celsius, sd = of(one)
        vague = celsius is None or sd is None or sd > _GUESS_SD_CELSIUS
        points.append((at / 60, None if vague else (celsius or 0.0) + sds * (sd or 0.0)))
    return points


def _known(points: Sequence[Point]) -> bool:
    return any(y is not None for _, y in points)


def _moved(points: Sequence[Point], by: float, unit: str) -> list[Point]:
    """The points ``by`` minutes later, in the wanted unit."""
    return [(x + by, None if y is None else _shown(y, unit)) for x, y in points]


def _estimated(
    made: Sequence[Promise], review: Review, names: tuple[str, str, str], inks: tuple[str, str]
) -> list[Line]:
    """Band and line of the believed developer and line of the believed bath, up to the pour.

    ``names`` are those of developer, band and bath, ``inks`` those of developer and bath.
    """
    pour = review.poured_after_seconds
    lines = []
    middle = estimates(made, pour, _of_developer)
    if _known(middle):
        low = estimates(made, pour, _of_developer, -_BAND_SDS)
        high = estimates(made, pour, _of_developer, _BAND_SDS)
        lines += [
            Line(names[0], middle, inks[0], Stroke.BROKEN),
            Line(names[1], low, inks[0], upper=high),
        ]
    bath = estimates(made, pour, _of_bath)
    if _known(bath):
        lines.append(Line(names[2], bath, inks[1], Stroke.DOTTED))
    return lines


def _in_place(line: Line, by: float, unit: str) -> Line:
    upper = None if line.upper is None else _moved(line.upper, by, unit)
    return replace(line, points=_moved(line.points, by, unit), upper=upper)


def trace(
    review: Review, samples: Iterable[Sample], made: Sequence[Promise] = (), unit: str = "C"
) -> Chart:
    """Temperatures over the whole run, measured and as the station estimated them before the pour.

    With the target band and the steps.
    """
    found = traces(samples, review.line)
    several = len({probe for probe, _ in found}) > 1
    lines = []
    for (probe, place), points in sorted(found.items(), key=lambda item: item[0][1] != "developer"):
        name, ink = _PLACES[place]
        lines.append(
            Line(
                f"{name} ({probe})" if several else name,
                _moved(thin(points), 0.0, unit),
                ink,
            )
        )
    names = ("developer, estimated", "two standard deviations", "bath, estimated")
    lines += [
        _in_place(line, 0.0, unit) for line in _estimated(made, review, names, ("one", "two"))
    ]
    summary, poured = review.summary, review.poured_after_seconds
    bands: tuple[Band, ...] = ()
    marks: tuple[Mark, ...] = ()
    says = "Temperatures that the probe measured during the run"
    if made:
        says += ", and what the station made of them until the developer was poured"
    if summary is not None:
        target, tolerance = summary.target_celsius, summary.tolerance_celsius
        low, high = _shown(target - tolerance, unit), _shown(target + tolerance, unit)
        bands = (Band(f"target {_shown(target, unit):.1f} °{unit}", low, high),)
        marks = tuple(
            Mark(step.began_after_seconds / 60, name)
            for name, step in zip(
                steps.names([str(step.kind) for step in summary.steps]), summary.steps, strict=True
            )
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
        reach=() if poured is None else (poured / 60,),
        y_unit=f"°{unit}",
        moves=_moves(review),
    )


def _moves(review: Review) -> tuple[tuple[float, float], ...]:
    """Minutes from each call to agitate to what ended it: the call to rest, or the next step."""
    found = []
    begun: float | None = None
    for event in review.events:
        after = review.after(event)
        if after is None:
            continue
        if begun is not None and event.kind in _STILL:
            found.append((begun / 60, after / 60))
            begun = None
        if event.kind == Kind.AGITATE:
            begun = after
    return tuple(found)


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
            Line("the moment itself", now, "three", Stroke.BROKEN),
        ),
        levels=(Mark(happened / 60, "ready"),) if happened is not None else (),
        y_unit="min",
    )


@dataclass(frozen=True, slots=True)
class Compared:
    """One of several runs: its name, what was logged, and what was estimated while it waited."""

    name: str
    review: Review
    samples: Iterable[Sample]
    made: Sequence[Promise] = ()


_INKS = ("one", "two", "three", "four")


def _of_compared(run: Compared, ink: str) -> list[Line]:
    """The developer as it was estimated, with the bath; as it was measured where nothing was.

    Readings of a dip are left out where there is an estimate: the probe in them is still
    warming up.
    """
    poured = run.review.poured_after_seconds is not None
    name = run.name if poured else f"{run.name}, not poured: from its begin"
    lines = [
        # inks tell the runs apart, so the developer is a whole line in each
        replace(line, stroke=Stroke.WHOLE) if line.stroke is Stroke.BROKEN else line
        for line in _estimated(run.made, run.review, (name, "", f"bath of {run.name}"), (ink, ink))
    ]
    if any(line.name == name for line in lines):
        return lines
    points: list[Point] = []
    for (_, place), found in traces(run.samples, run.review.line).items():
        if place in {Place.DEVELOPER, Place.UNKNOWN}:
            points += found
    return [Line(name, thin(sorted(points, key=lambda point: point[0])), ink), *lines]


def compare(runs: Sequence[Compared], unit: str = "C") -> Chart:
    """Developers and baths of up to four runs over each other, minute 0 = poured in."""
    lines: list[Line] = []
    bands: list[Band] = []
    for run, ink in zip(runs, _INKS, strict=False):
        pour = (run.review.poured_after_seconds or 0.0) / 60
        lines += [_in_place(line, -pour, unit) for line in _of_compared(run, ink)]
        if run.review.summary is not None:
            target = run.review.summary.target_celsius
            tolerance = run.review.summary.tolerance_celsius
            band = Band(
                f"target {_shown(target, unit):.1f} °{unit}",
                _shown(target - tolerance, unit),
                _shown(target + tolerance, unit),
            )
            if band not in bands:
                bands.append(band)
    return Chart(
        title="Runs over each other",
        says=f"Developer and bath of {len(runs)} runs, aligned at the moment of pouring.",
        x_name="minutes from the moment the developer was poured in",
        y_name=f"temperature, °{unit}",
        lines=tuple(lines),
        bands=tuple(bands),
        reach=(0.0,),
        y_unit=f"°{unit}",
    )
