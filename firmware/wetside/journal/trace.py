"""A run's samples as a recording, in the very form that ``wetside replay`` reads."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from wetside.clock import Moment
from wetside.journal.gap import between
from wetside.journal.schema import Sample

#: Header of the replay contract (docs/replay.md).
COLUMNS = ("seconds", "probe", "place", "celsius")


def elapsed(began: Moment, samples: Iterable[Sample]) -> Iterator[tuple[float, Sample]]:
    """Each sample with the seconds since the run began.

    Across a power cut the time goes on by the gap as far as it is known, else by its lower
    bound, so times never run backwards from one boot to the next.
    """
    last, base = began, 0.0  # base: seconds of the run at the moment `last`
    for sample in samples:
        if sample.moment.boot != last.boot:
            gap = between(last, sample.moment)
            base += gap.at_least if gap.seconds is None else gap.seconds
            last = sample.moment
        seconds = base + sample.moment.seconds - last.seconds
        if seconds > base:
            last, base = sample.moment, seconds
        yield seconds, sample


def _plain(value: float) -> str:
    """Up to three decimals, without the zeros behind them."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def csv_lines(began: Moment, samples: Iterable[Sample]) -> Iterator[str]:
    """Lines of a CSV file (RFC 4180: CRLF, quotes where needed), header first.

    One row for each reading: seconds since the run began, the probe, its place (empty =
    unknown) and degrees Celsius, empty where the read failed. Samples from before the begin
    have times below zero.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer)

    def line(cells: Iterable[str]) -> str:
        buffer.seek(0)
        buffer.truncate()
        writer.writerow(cells)
        return buffer.getvalue()

    yield line(COLUMNS)
    for seconds, sample in elapsed(began, samples):
        celsius = "" if sample.celsius is None else _plain(sample.celsius)
        yield line((_plain(seconds), sample.probe, str(sample.place), celsius))
