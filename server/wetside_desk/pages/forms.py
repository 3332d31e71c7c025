"""Fields of forms as values, and values in the units that the teacher chose."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, time
from typing import Annotated, NamedTuple

from fastapi import Depends, Request
from starlette.datastructures import FormData

from wetside.development.spec import parse_clock
from wetside.errors import UnitsError
from wetside.units import parse_celsius, parse_millilitres, parse_number, volume_text
from wetside_desk.files.edits import Value
from wetside_desk.problems import ProblemError

#: What is said where a tick before something final is missing.
NOT_SURE = "Nothing was changed: confirm it first."

#: What a field may hold at most, in characters; a file as text has its own limit.
_LONGEST = 60_000


class Wrong(ValueError):
    """Fields that cannot be used: pairs (field, reason)."""

    def __init__(self, problems: list[tuple[str, str]]) -> None:
        self.problems = problems
        super().__init__("; ".join(f"{field}: {reason}" for field, reason in problems))


async def _fields(request: Request) -> FormData:
    return await request.form(max_files=0)


Fields = Annotated[FormData, Depends(_fields)]


def text_of(form: FormData, name: str) -> str:
    """A field as text, without space around it; empty where it is not given."""
    value = form.get(name, "")
    return value.strip()[:_LONGEST] if isinstance(value, str) else ""


def texts_of(form: FormData, name: str) -> list[str]:
    """Every value of a field that may be given more than once."""
    return [value for value in form.getlist(name) if isinstance(value, str)]


class Reader:
    """Reads fields one by one and collects what is wrong with them.

    ``unit`` is what a volume without a unit is in, as the teacher chose.
    """

    def __init__(self, form: FormData, unit: str = "mL") -> None:
        self._form = form
        self.unit = unit
        self._wrong: list[tuple[str, str]] = []

    def text(self, name: str) -> str | None:
        """A text, None where it is empty."""
        return text_of(self._form, name) or None

    def number(self, name: str, key: str = "") -> int | float | None:
        """A number, None where it is empty."""
        given = text_of(self._form, name)
        if not given:
            return None
        try:
            value = parse_number(given)
        except UnitsError as error:
            self._wrong.append((key or name, str(error)))
            return None
        return int(value) if value.is_integer() and abs(value) < 1e15 else value

    def seconds(self, name: str) -> int | float | None:
        """Seconds as a number, or as m:ss as pages write them; None where it is empty."""
        given = text_of(self._form, name)
        if ":" not in given:
            return self.number(name)
        try:
            return int(parse_clock(given))
        except UnitsError as error:
            self._wrong.append((name, str(error)))
            return None

    def day(self, name: str) -> date | None:
        """A date, None where it is empty."""
        given = text_of(self._form, name)
        try:
            return date.fromisoformat(given) if given else None
        except ValueError:
            self._wrong.append((name, f"{given!r} is not a date such as 2031-09-01"))
            return None

    def days(self, name: str) -> list[date] | None:
        """Dates with spaces or commas between, None where there are none."""
        found = []
        for given in text_of(self._form, name).replace(",", " ").split():
            try:
                found.append(date.fromisoformat(given))
            except ValueError:
                self._wrong.append((name, f"{given!r} is not a date such as 2031-10-13"))
        return found or None

    def clock(self, name: str) -> time | None:
        """A time of day, None where it is empty."""
        given = text_of(self._form, name)
        try:
            return time.fromisoformat(given).replace(tzinfo=None) if given else None
        except ValueError:
            self._wrong.append((name, f"{given!r} is not a time such as 10:50"))
            return None

    def millilitres(self, name: str) -> int | float | None:
        """A volume with its unit, or in the unit that the teacher chose."""
        given = text_of(self._form, name)
        if not given:
            return None
        try:
            value = round(millilitres_of(given, self.unit), 1)
        except UnitsError as error:
            self._wrong.append((name, str(error)))
            return None
        return int(value) if value.is_integer() else value

    def sure(self) -> None:
        """The tick before something final."""
        if text_of(self._form, "sure") != "on":
            self._wrong.append(("", NOT_SURE))

    def done(self) -> None:
        """Say what was wrong.

        Raises
        ------
        Wrong
            Anything was.
        """
        if self._wrong:
            raise Wrong(self._wrong)


def millilitres_of(given: str, unit: str) -> float:
    """A volume with its unit, or in ``unit`` where it has none.

    Raises
    ------
    UnitsError
        Not a volume.
    """
    bare = given.strip().replace(",", ".").replace(".", "", 1).isdecimal()
    return parse_millilitres(f"{given} {unit}" if bare else given)


def celsius_of(given: str, unit: str) -> float:
    """A temperature with its unit, or in ``unit`` (C or F) where it has none.

    Raises
    ------
    UnitsError
        Not a temperature.
    """
    return parse_celsius(given if given.strip()[-1:].isalpha() else f"{given}{unit}")


def volume_in(unit: str) -> Callable[[float | None], str]:
    """How a volume is written in a unit, mL or fl oz."""

    def volume(millilitres: float | None) -> str:
        if millilitres is None:
            return "\N{EN DASH}"
        return volume_text(millilitres, unit)

    return volume


def problems_of(error: Exception) -> list[tuple[str, str]]:
    """What a form's page shows of a refusal, as pairs (key, reason).

    Raises
    ------
    ProblemError
        Again, where it is not about what was filled in.
    """
    if isinstance(error, Wrong):
        return error.problems
    if isinstance(error, ProblemError):
        if error.problem.name == "file-refused":
            given = error.extra.get("errors", [])
            return [(one["place"], one["reason"]) for one in given] or [("", error.detail)]
        if error.problem.name in {"changed-meanwhile", "conflict", "invalid-request", "name-taken"}:
            return [("", f"{error.problem.title}. {error.detail}")]
        raise error
    return [("", str(error))]


_PART = re.compile(r"([a-z_]+)(?:\[(\d+)\])?")
_KEY = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")
_TABLE = re.compile(r"\b([a-z]+)\[(\d+)\]")


class Refused(NamedTuple):
    """What is wrong with a form: a label and the reason for people, and the field's own name.

    ``label`` is empty for what is about the whole form, ``field`` for what is about none of it.
    """

    label: str
    reason: str
    field: str = ""


def worded(problems: list[tuple[str, str]], labels: Mapping[str, str], here: str) -> list[Refused]:
    """Problems for people who filled a form in.

    A key is called as the label beside its field. ``here`` is the table that the form is of, such
    as ``bottle[2]``; what is wrong in another one says in which.
    """
    found = []
    for place, reason in problems:
        table, _, inside = place.partition("].")
        elsewhere = f"{table}]" if inside and f"{table}]" != here else ""
        label, field = _field(inside or place, labels)
        if elsewhere:
            label, field = f"{label} of {_plain(elsewhere)}", ""
        said = _plain(_KEY.sub(lambda key: _label(labels, key[0]), reason))
        found.append(Refused(label, said, field))
    return found


def _field(key: str, labels: Mapping[str, str]) -> tuple[str, str]:
    """The label of a key, of a list or of a table in it with the number; and its field."""
    parts = _PART.findall(key)
    for name, number in parts:
        if name in labels and (number or (name, number) == parts[-1]):
            return f"{labels[name]}, number {number}" if number else labels[name], name
    return _plain(key), ""


def _label(labels: Mapping[str, str], key: str) -> str:
    return f"“{labels[key]}”" if key in labels else key


def _plain(text: str) -> str:
    """``bottle[2]`` as ``bottle 2``."""
    return _TABLE.sub(r"\1 \2", text)


def given(**values: Value) -> dict[str, Value]:
    """Values for a file; None takes the key away."""
    return values
