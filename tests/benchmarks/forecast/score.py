"""Records of single answers, gathered into one line for each arrangement and method."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from forecast import metrics
from forecast.simple import NOTHING, Forecast

from wetside.outlook import Quantiles


@dataclass(frozen=True, slots=True)
class Record:
    """One method's answer to one question."""

    seed: int
    arrangement: str
    disturbance: str | None
    label: str
    method: str
    truth: float | None
    leaves: float | None
    ready_in: tuple[float | None, float | None, float | None]
    never: float
    leaves_in: tuple[float | None, float | None, float | None] | None

    @property
    def quantiles(self) -> Quantiles:
        """Quantiles of the waiting time."""
        return Quantiles(*self.ready_in)


def record(
    where: tuple[int, str, str | None, str],
    method: str,
    truth: float | None,
    leaves: float | None,
    forecast: Forecast | None,
) -> Record:
    """Record of an answer; no answer counts as "never, for sure"."""
    said = forecast or NOTHING
    ready, gone = said.ready_in, said.leaves_in
    return Record(
        *where,
        method,
        truth,
        leaves,
        (ready.p05, ready.p50, ready.p95),
        said.never,
        None if gone is None else (gone.p05, gone.p50, gone.p95),
    )


@dataclass(frozen=True, slots=True)
class Line:
    """Scores of one method in one arrangement.

    ``errors`` by label; ``coverage``, ``width``, ``crps_share`` and ``crps_seconds`` over the
    questions whose developer arrives; ``false_never`` the share of those with never > 1/2,
    ``missed_never`` the share of the others with never < 1/2; ``leaves_*`` over those that
    arrive, None where the method does not say.
    """

    arrangement: str
    method: str
    count: int
    errors: dict[str, float]
    coverages: dict[str, float]
    coverage: float
    width: float
    crps_share: float
    crps_seconds: float
    false_never: float
    missed_never: float
    brier: float
    leaves_error: float | None
    leaves_coverage: float | None


def _leaves(records: Sequence[Record]) -> tuple[float | None, float | None]:
    told = [r for r in records if r.leaves_in is not None]
    if not told:
        return None, None
    errors, hits = [], []
    for row in told:
        gone = Quantiles(*(row.leaves_in or (None, None, None)))
        hits.append(metrics.covered(gone, row.leaves))
        if row.leaves is not None:
            errors.append(metrics.relative_error(gone.p50, row.leaves))
    return metrics.mean(errors), metrics.mean(hits)


def line(records: Sequence[Record]) -> Line:
    """Scores of records of one arrangement and one method."""
    reach = [(r, r.truth) for r in records if r.truth is not None]
    lost = [r for r in records if r.truth is None]
    labels = sorted({r.label for r in records}, key=float)
    by = {label: [(r, t) for r, t in reach if r.label == label] for label in labels}
    leaves_error, leaves_coverage = _leaves([r for r, _ in reach])
    crps = [(metrics.crps(r.quantiles, t), t) for r, t in reach]
    return Line(
        records[0].arrangement,
        records[0].method,
        len(reach),
        {
            k: metrics.mean(metrics.relative_error(r.ready_in[1], t) for r, t in v)
            for k, v in by.items()
        },
        {k: metrics.mean(metrics.covered(r.quantiles, t) for r, t in v) for k, v in by.items()},
        metrics.mean(metrics.covered(r.quantiles, t) for r, t in reach),
        metrics.mean(metrics.relative_width(r.quantiles, t) for r, t in reach),
        metrics.mean(min(metrics.CAP, c / t) for c, t in crps),
        metrics.mean(c for c, _ in crps),
        metrics.mean(r.never > 0.5 for r, _ in reach),
        metrics.mean(r.never < 0.5 for r in lost),
        metrics.brier([(r.never, r.truth is None) for r in records]),
        leaves_error,
        leaves_coverage,
    )


def lines(records: Sequence[Record], order: Iterable[str]) -> list[Line]:
    """One line for each arrangement and method, methods in the given order."""
    made = []
    for arrangement in dict.fromkeys(r.arrangement for r in records):
        for method in order:
            some = [r for r in records if r.arrangement == arrangement and r.method == method]
            if some:
                made.append(line(some))
    return made


def _show(value: float | None, form: str) -> str:
    return "-" if value is None or math.isnan(value) else format(value, form)


def table(scores: Sequence[Line], labels: Sequence[str]) -> str:
    """Text table; errors are means of |p50 - truth| / remaining, capped at 3."""
    head = ["arrangement", "method", "n", *(f"err@{label}" for label in labels)]
    head += ["cover", "width", "crps/rem", "crps s", "false never", "missed never", "brier"]
    head += ["leaves err", "leaves cover"]
    rows = [head]
    for s in scores:
        cells = [s.arrangement, s.method, str(s.count)]
        cells += [_show(s.errors.get(label), ".3f") for label in labels]
        cells += [_show(s.coverage, ".1%"), _show(s.width, ".2f"), _show(s.crps_share, ".3f")]
        cells += [_show(s.crps_seconds, ".0f"), _show(s.false_never, ".1%")]
        cells += [_show(s.missed_never, ".1%"), _show(s.brier, ".3f")]
        cells += [_show(s.leaves_error, ".3f"), _show(s.leaves_coverage, ".1%")]
        rows.append(cells)
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    text = []
    for row in rows:
        cells = [row[0].ljust(widths[0]), row[1].ljust(widths[1])]
        cells += [cell.rjust(width) for cell, width in zip(row[2:], widths[2:], strict=True)]
        text.append("  ".join(cells))
    return "\n".join(text)
