"""Reading the TOML files that people write, with every problem named at once."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from wetside.errors import FileProblem

_Model = TypeVar("_Model", bound=BaseModel)


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
            text += f".{part}" if text else part
    return text


def _reason(error_type: str, message: str, context: dict[str, object], given: object) -> str:
    if error_type == "extra_forbidden":
        return "this key is not known here; is it misspelt?"
    if error_type == "missing":
        return "is missing"
    plain = message.removeprefix("Value error, ")
    plain = plain[:1].lower() + plain[1:]
    if context.get("error") is not None or isinstance(given, dict | list):
        return plain
    return f"{plain}, not {given!r}"


def parse(text: str, model: type[_Model], name: str, problem: type[FileProblem]) -> _Model:
    """Check TOML text against a model.

    Raises
    ------
    problem
        Names ``name``, each key and each reason.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise problem(name, [("", f"not valid TOML: {error}")]) from None
    try:
        return model.model_validate(table)
    except ValidationError as error:
        raise problem(
            name,
            [
                (
                    place_of(item["loc"]),
                    _reason(item["type"], item["msg"], item.get("ctx", {}), item["input"]),
                )
                for item in error.errors()
            ],
        ) from None


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
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise problem(path, [("", f"is not UTF-8 text: {error.reason}")]) from None
    except OSError as error:
        raise problem(path, [("", f"cannot be read: {error.strerror}")]) from None
