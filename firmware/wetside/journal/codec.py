"""Between values and the numbers that the tables hold."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import TypeAlias

from wetside.clock import Moment
from wetside.journal.schema import CONDITION_CODES, PLACE_CODES, Json
from wetside.outlook import Fault, Outlook, Quantiles, Temperature
from wetside.readings import Condition, Reading

#: monotonic ms, wall ms, trusted
Times: TypeAlias = tuple[int, int, int]
#: offset ms, probe name, place code, condition code, milli-degrees
SampleCells: TypeAlias = tuple[int, str, int, int, int | None]
#: the columns of ``forecast`` from offset_ms on
ForecastCells: TypeAlias = tuple[int | str | None, ...]

PLACES = {code: place for place, code in PLACE_CODES.items()}
CONDITIONS = {code: condition for condition, code in CONDITION_CODES.items()}

_LONGEST_KIND = 64


def milli(value: float | None) -> int | None:
    """Thousandths, for degrees and seconds alike."""
    return None if value is None else round(value * 1000)


def unmilli(value: int | None) -> float | None:
    """Degrees or seconds from thousandths."""
    return None if value is None else value / 1000


def times(moment: Moment) -> Times:
    """A moment without its boot, in milliseconds."""
    return round(moment.seconds * 1000), round(moment.wall_seconds * 1000), int(moment.trusted)


def moment_of(ms: int, wall_ms: int, trusted: int, boot: str) -> Moment:
    """The moment that `times` and a boot stand for."""
    return Moment(ms / 1000, wall_ms / 1000, bool(trusted), boot)


def kind_text(kind: str) -> str:
    """A kind of event, checked.

    Raises
    ------
    ValueError
        Empty, too long or not plain text.
    """
    text = str(kind)
    if not 0 < len(text) <= _LONGEST_KIND or not text.isprintable():
        raise ValueError(f"a kind of event is 1 to {_LONGEST_KIND} printable characters: {text!r}")
    return text


def detail_text(detail: Mapping[str, Json]) -> str:
    """A detail as JSON, in plain ASCII so that any text comes back as it was.

    Raises
    ------
    ValueError
        It holds something that is not JSON, such as NaN or a date.
    """
    try:
        text = json.dumps(dict(detail), allow_nan=False, separators=(",", ":"))
    except (TypeError, ValueError) as error:
        raise ValueError(f"this detail of an event is not JSON: {error}: {detail!r}") from None
    return text


def detail_of(text: str) -> dict[str, Json]:
    """The detail that `detail_text` wrote."""
    detail: dict[str, Json] = json.loads(text)
    return detail


def sample_cells(reading: Reading) -> SampleCells:
    """A reading as it is stored, with its own time in place of the offset.

    A temperature that is not a finite number is kept as an implausible value.
    """
    condition, celsius = reading.condition, reading.celsius
    if celsius is not None and not math.isfinite(celsius):
        condition, celsius = Condition.IMPLAUSIBLE, None
    return (
        round(reading.seconds * 1000),
        reading.probe,
        PLACE_CODES[reading.place],
        CONDITION_CODES[condition],
        milli(celsius),
    )


def _tenths(value: float | None) -> int | None:
    return None if value is None or not math.isfinite(value) else round(value * 10)


def _pair(value: Temperature | None) -> tuple[int | None, int | None]:
    if value is None or not (math.isfinite(value.celsius) and math.isfinite(value.sd)):
        return None, None
    return milli(value.celsius), milli(value.sd)


def _not_numbers(outlook: Outlook) -> bool:
    numbers: list[float | None] = [outlook.never]
    for temperature in (outlook.developer, outlook.bath):
        if temperature is not None:
            numbers += [temperature.celsius, temperature.sd]
    for quantiles in (outlook.ready_in, outlook.leaves_in):
        numbers += [quantiles.p05, quantiles.p50, quantiles.p95]
    return any(number is not None and math.isnan(number) for number in numbers)


def forecast_cells(outlook: Outlook) -> ForecastCells:
    """An outlook as it is stored, with its own time in place of the offset.

    Where a number in it is NaN, null is stored and the faults say "not a number": a mistake of
    the forecast must neither stop the station nor pass as "never".
    """
    faults: Sequence[str] = outlook.faults
    if _not_numbers(outlook):
        faults = (*faults, Fault.NOT_A_NUMBER)
    return (
        round(outlook.seconds * 1000),
        *_pair(outlook.developer),
        *_pair(outlook.bath),
        *(_tenths(value) for value in _three(outlook.ready_in)),
        *(_tenths(value) for value in _three(outlook.leaves_in)),
        0 if math.isnan(outlook.never) else round(outlook.never * 10_000),
        json.dumps(list(faults)) if faults else None,
    )


def _three(quantiles: Quantiles) -> tuple[float | None, float | None, float | None]:
    return quantiles.p05, quantiles.p50, quantiles.p95


def _temperature(celsius: int | None, sd: int | None) -> Temperature | None:
    if celsius is None or sd is None:
        return None
    return Temperature(celsius / 1000, sd / 1000)


def _seconds(tenths: int | None) -> float | None:
    return None if tenths is None else tenths / 10


def outlook_of(seconds: float, cells: Sequence[int | None], faults: str | None) -> Outlook:
    """The outlook that `forecast_cells` stored.

    ``cells`` are the eleven numbers from ``developer_mc`` to ``never_e4``.
    """
    never = cells[10]
    return Outlook(
        seconds=seconds,
        developer=_temperature(cells[0], cells[1]),
        bath=_temperature(cells[2], cells[3]),
        ready_in=Quantiles(*(_seconds(value) for value in cells[4:7])),
        leaves_in=Quantiles(*(_seconds(value) for value in cells[7:10])),
        never=0.0 if never is None else never / 10_000,
        faults=tuple(json.loads(faults)) if faults else (),
    )
