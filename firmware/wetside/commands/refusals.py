"""What was asked wrongly on the command line, told in one line.

The library's own answer is four lines, partly in the words of its checker.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

import typer

#: The library's copy of click has no public names: this is the parent of a class that has one.
_Refusal: type[typer.BadParameter] = next(
    one for one in typer.BadParameter.__mro__ if one.__name__ == "UsageError"
)

#: The checker's words, and what stands in their place.
_PLAIN = (
    (r"Value error, ", ""),
    (r"Input should be ", "must be "),
    (r", unable to parse string as an? \w+", ""),
)


@contextmanager
def one_line_refusals() -> Iterator[None]:
    """One line on standard error in place of a page of usage.

    Raises
    ------
    typer.Exit
        2 where a command, an option or a value was none.
    """
    try:
        yield
    except _Refusal as refusal:
        if type(refusal).__name__ == "NoArgsIsHelpError":
            raise  # nothing was asked, and the help is the answer
        typer.echo(_line(refusal), err=True)
        raise typer.Exit(2) from None


def _line(refusal: BaseException) -> str:
    context = getattr(refusal, "ctx", None)
    command = "wetside" if context is None else context.command_path
    said = " ".join(refusal.format_message().split()).rstrip(".")  # type: ignore[attr-defined]
    for words, plain in _PLAIN:
        said = re.sub(words, plain, said)
    return f"{command}: {said[:1].lower()}{said[1:]}; see {command} --help"
