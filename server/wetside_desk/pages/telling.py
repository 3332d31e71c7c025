"""What the journal keeps beside an event, as a teacher reads it. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from wetside.journal.schema import Json
from wetside.units import clock_text, in_unit
from wetside_desk.pages import words

#: Said by the event itself, or of use to programs only; the JSON of a run has all of it.
_LEFT_OUT = frozenset(
    {
        "at", "sheet", "run", "cue", "missed", "late_seconds", "developer_sd", "condition_before",
        "percent", "low", "high", "seconds", "law", "sooner", "safer", "shift_seconds",
        "at_least_seconds", "at_most_seconds", "wanted_seconds", "outside_seconds",
    }
)  # fmt: skip

#: Values that speak for themselves.
_SENTENCES = frozenset({"text", "reason", "fault", "problem", "gap", "gap_text"})

#: Less than this late is on time for a hand.
_LATE_SECONDS = 0.5


def _option(name: str, value: Mapping[str, Json]) -> str:
    done = value.get("done_in")
    if isinstance(done, int | float) and not value.get("refused"):
        return f"{name}: developed after {clock_text(done)}"
    return f"{name}: {value.get('refused') or 'not known'}"


def _number(name: str, said: str, value: float, unit: str) -> str:
    if name.endswith("celsius"):
        what = said.removesuffix("celsius").strip()
        return f"{what} {words.temperature(value, unit)}".strip()
    if name.endswith(("_in", "_seconds")):
        return f"{said.removesuffix(' seconds')} {clock_text(value)}"
    if name == "never":
        return f"{100 * value:.0f} % sure"
    return f"{said} {value:.4g}"


def _several(name: str, said: str, value: Mapping[str, Json] | list[Json]) -> str:
    if isinstance(value, list):
        return f"{said} {', '.join(str(one) for one in value)}" if value else ""
    if name == "choice":
        return f"chosen: {value.get('way')}"
    return _option(said, value) if "done_in" in value else ""


def _part(name: str, value: Json, unit: str) -> str:
    said = name.replace("_", " ")
    if isinstance(value, bool):
        return said if value else f"not {said}"
    if isinstance(value, int | float):
        return _number(name, said, float(value), unit)
    if isinstance(value, Mapping | list):
        return _several(name, said, value)
    return str(value) if name in _SENTENCES else f"{said} {value}"


def _parts(detail: Mapping[str, Json], unit: str) -> Iterator[str]:
    for name, value in detail.items():
        if name not in _LEFT_OUT and value is not None:
            yield _part(name, value, unit)
    late = detail.get("late_seconds")
    if isinstance(late, int | float) and late >= _LATE_SECONDS:
        yield f"{late:.1f} s late"
    if detail.get("missed") is True:
        yield "missed"


def _of_probes(values: Mapping[str, Json], kind: str) -> str:
    """The sentence of an event that tells of probes alone; empty for any other."""
    if kind == "probe-condition":
        return words.trouble(str(values.get("probe", "")), str(values.get("condition", "")))
    if kind == "place":
        moved = {name: where for name, where in values.items() if name not in _LEFT_OUT}
        return "; ".join(words.place(name, str(where)) for name, where in moved.items())
    return ""


def detail(values: Mapping[str, Json], unit: str = "C", kind: str = "") -> str:
    """What is worth reading of the detail of an event of this kind.

    Examples
    --------
    >>> detail({"developer_celsius": 19.876, "ready_in": 18.7, "late_seconds": 0.0})
    'developer 19.9 °C; ready in 0:19'
    """
    said = _of_probes(values, kind) or "; ".join(part for part in _parts(values, unit) if part)
    return in_unit(said, fahrenheit=unit == "F")
