"""Reading the TOML files that people write, with every problem named at once."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from types import UnionType
from typing import Annotated, LiteralString, TypeVar, Union, get_args, get_origin

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    ValidationInfo,
    field_validator,
)
from pydantic_core import PydanticCustomError

from wetside.errors import FileProblem

#: Longest name of a file people write, in bytes; what is written beside it needs some more.
LONGEST_NAME_BYTES = 200
#: What such a name is, for the message about one that is another.
FILE_NAME_WORDS = (
    "a file's name has letters that can be printed, no slash and no dot in front, "
    f"and is at most {LONGEST_NAME_BYTES} bytes long"
)

#: How files people write are laid out; one of a later wetside counts on.
FORMAT = 1

#: What TOML accepts as a key without quotes.
_BARE_KEY = re.compile(r"^[A-Za-z0-9_-]+$")

_Model = TypeVar("_Model", bound=BaseModel)

#: What the parser says, and what people look for at the line that it names.
_TOML_WORDS = {
    "Illegal character '\\n'": "a text is not closed, put a quotation mark at its end",
    "Unterminated string": "a text is not closed, put quotation marks at its end",
    "Invalid value": 'what stands after = is no value; a text needs "quotation marks"',
    "Expected '='": "an = is missing after the key",
    "Cannot overwrite a value": "this key stands there a second time",
    "Expected newline": (
        'more stands after the value; a text or a time such as "7:30" needs quotation marks, '
        "a number a point in place of a comma"
    ),
    "Unclosed array": "a list is not closed, or a comma is missing in it",
    "Expected ']": "a ] is missing at the end of the table's name",
    "Invalid statement": "a line begins with a key and =, with [ or with #",
}


def is_file_name(name: str) -> bool:
    """Whether a file people write may be called so: one part of a path, that all can read.

    Station, desk, backup and restore go by this one rule. Letters of any language and spaces
    are fine; separators, a dot in front, control characters and undecodable bytes are not.
    """
    return (
        name.isprintable()
        and not name.startswith(".")
        and not {"/", "\\"} & set(name)
        and 0 < len(name.encode()) <= LONGEST_NAME_BYTES
    )


def place_of(location: Sequence[str | int]) -> str:
    """Pydantic's location as a key people recognise.

    ``("step", 2, "seconds")`` becomes ``step[3].seconds``.
    List positions count from one, as people count the tables of their file.
    """
    text = ""
    for part in location:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            key = part if _BARE_KEY.match(part) else json.dumps(part)
            text += f".{key}" if text else key
    return text


#: The checker's own words for a wrong type, put as people who write TOML would.
_PLAIN_TYPES = {
    "bool_parsing": "must be true or false",
    "bool_type": "must be true or false",
    "date_from_datetime_inexact": "must be a date such as 2031-09-01",
    "date_from_datetime_parsing": "must be a date such as 2031-09-01",
    "date_parsing": "must be a date such as 2031-09-01",
    "date_type": "must be a date such as 2031-09-01",
    "dict_type": "must be a table",
    "float_parsing": "must be a number",
    "float_type": "must be a number",
    "int_from_float": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_type": "must be a whole number",
    "list_type": "must be a list, written in [brackets]",
    "model_attributes_type": "must be a table",
    "model_type": "must be a table",
    "path_type": "must be a path in quotes",
    "string_type": "must be a text in quotes",
    "time_parsing": "must be a time such as 10:50:00",
    "time_type": "must be a time such as 10:50:00",
    "tuple_type": "must be a list, written in [brackets]",
}

#: A wrong value is quoted up to so many characters.
_QUOTED = 60


def shaped(pattern: str, words: str) -> AfterValidator:
    """Check that a text has the shape of a pattern; ``words`` tell people what that is."""
    shape = re.compile(pattern)

    def check(text: str) -> str:
        if shape.fullmatch(text) is None:
            raise ValueError(f"must be {words}, not {_quoted(text)}")
        return text

    return AfterValidator(check)


def _not_newer(given: object) -> object:
    if isinstance(given, int) and given > FORMAT:
        raise ValueError(f"{given} is of a newer wetside than this one, which reads {FORMAT}")
    return given


#: The checker's name of a value that is no number.
_NUMBER_TYPES: Mapping[type, LiteralString] = {int: "int_type", float: "float_type"}


def takes(kind: type, wanted: object) -> bool:
    """Whether a key that is annotated so takes a value of this kind itself."""
    if get_origin(wanted) in {Annotated, Union, UnionType}:
        return any(takes(kind, part) for part in get_args(wanted))
    return wanted is kind


#: The key of a file that says how it is laid out.
Format = Annotated[int, BeforeValidator(_not_newer), Field(ge=FORMAT, le=FORMAT)]


class Table(BaseModel):
    """A table of a file people write: no key but the known ones, and never changed.

    TOML has true and false of its own: neither is taken as a number.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    @field_validator("*", mode="before")
    @classmethod
    def _number_is_no_truth(cls, given: object, info: ValidationInfo) -> object:
        if isinstance(given, bool) and info.field_name is not None:
            wanted = cls.model_fields[info.field_name].annotation
            for kind in _NUMBER_TYPES:
                if takes(kind, wanted):
                    raise PydanticCustomError(_NUMBER_TYPES[kind], "")
        return given


def _quoted(given: object) -> str:
    """A value as the file's author wrote it, shortened where it is long."""
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, date | datetime | time):
        return str(given)
    text = repr(given)
    return text if len(text) <= _QUOTED else text[: _QUOTED - 3] + "..."


def _reason(error_type: str, message: str, context: dict[str, object], given: object) -> str:
    if error_type == "extra_forbidden":
        return "this key is not known here; is it misspelt?"
    if error_type == "missing":
        return "is missing"
    plain = _PLAIN_TYPES.get(error_type, message.removeprefix("Value error, "))
    plain = re.sub("^(?:Input|String|List|Tuple|Dictionary|Value) should ", "must ", plain)
    plain = plain.replace(" after validation", "")
    plain = plain[:1].lower() + plain[1:]
    if isinstance(context.get("error"), Exception) or isinstance(given, dict | list | tuple):
        return plain
    return f"{plain}, not {_quoted(given)}"


def problems_of(error: ValidationError) -> list[tuple[str, str]]:
    """Each wrong key of a table with its reason."""
    return [
        (
            place_of(item["loc"]),
            _reason(item["type"], item["msg"], item.get("ctx", {}), item["input"]),
        )
        for item in error.errors()
    ]


def _toml_reason(error: ValueError) -> str:
    """What is wrong with a text that is no TOML, with the place that the parser names."""
    said, opened, place = str(error).partition(" (at ")
    plain = next((words for key, words in _TOML_WORDS.items() if said.startswith(key)), said)
    return f"{plain}{opened}{place}"


def parse(text: str, model: type[_Model], name: str, problem: type[FileProblem]) -> _Model:
    """Check TOML text against a model.

    Raises
    ------
    problem
        Names ``name``, each key and each reason.
    """
    try:
        table = tomllib.loads(text)
    except RecursionError:
        raise problem(name, [("", "not valid TOML: nested too deeply")]) from None
    except ValueError as error:  # TOMLDecodeError, and Python's limit of digits in a number
        raise problem(name, [("", f"not valid TOML: {_toml_reason(error)}")]) from None
    try:
        return model.model_validate(table)
    except ValidationError as error:
        raise problem(name, problems_of(error)) from None


def load(path: Path, model: type[_Model], problem: type[FileProblem]) -> _Model:
    """Read and check a TOML file.

    Raises
    ------
    problem
        The file cannot be read, is not UTF-8 or TOML, or holds something wrong.
    """
    return parse(read_text(path, problem), model, str(path), problem)


def read_text(path: Path, problem: type[FileProblem]) -> str:
    """The text of a file people write.

    Raises
    ------
    problem
        The file cannot be read or is not UTF-8.
    """
    try:
        # Windows writes a mark before the first letter
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise problem(path, [("", f"is not UTF-8 text: {error.reason}")]) from None
    except OSError as error:
        raise problem(path, [("", f"cannot be read: {error.strerror}")]) from None
