"""How a command ends that is stopped, or whose output cannot be written.

Whoever reads a pipe may close it early, a disk may be full, somebody presses Ctrl-C: none of it
is a mistake of the program, so each ends with an exit code and at most one line.
"""

from __future__ import annotations

import io
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import typer

#: What a shell gives for a program that the signal ended.
INTERRUPTED = 128 + signal.SIGINT
READER_GONE = 128 + signal.SIGPIPE

_STANDARD_OUTPUT = 1
_STOPS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@contextmanager
def one_line_endings() -> Iterator[None]:
    """Exit codes in place of tracebacks; all output is written when the block ends.

    Raises
    ------
    typer.Exit
        130 after Ctrl-C; 141 where nobody reads the output to its end; 1, with one line on
        standard error, where the output or a file cannot be written or read.
    """
    try:
        try:
            yield
        finally:
            sys.stdout.flush()
    except KeyboardInterrupt:
        raise typer.Exit(INTERRUPTED) from None
    except typer.Abort as stop:  # a question, which Ctrl-C or the end of the input ended
        if isinstance(stop.__context__, KeyboardInterrupt):
            raise typer.Exit(INTERRUPTED) from None
        raise
    except BrokenPipeError:
        _write_no_more()
        raise typer.Exit(READER_GONE) from None
    except OSError as problem:
        _write_no_more()
        what = "the output cannot be written: " if problem.filename is None else ""
        with suppress(OSError):
            typer.echo(f"wetside: {what}{reason(problem)}", err=True)
        raise typer.Exit(1) from None


def _write_no_more() -> None:
    """What is left to write is dropped, also when Python ends and empties its buffers."""
    with suppress(OSError):  # a test's output has no number
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@contextmanager
def not_half_way() -> Iterator[None]:
    """Ctrl-C, and the end of the terminal or of the system, stop the block only behind its end."""
    waiting: list[int] = []

    def later(number: int, _frame: object) -> None:
        waiting.append(number)

    before = {number: signal.signal(number, later) for number in _STOPS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        if waiting:
            signal.raise_signal(waiting[0])


def reason(problem: Exception) -> str:
    """What went wrong, with the system's errors as ``file: reason``; of a copy, where to."""
    if not isinstance(problem, OSError):
        return str(problem)
    file = problem.filename2 or problem.filename
    said = problem.strerror or str(problem)
    return said if file is None else f"{file}: {said}"


def spell_as_can_be() -> None:
    """Letters that the output has no code for become ``?``: no figure is lost for one."""
    if isinstance(sys.stdout, io.TextIOWrapper):  # a test's is none
        sys.stdout.reconfigure(errors="replace")


def open_closed_output() -> None:
    """Give a process that was started without a standard output one that cannot be written.

    Python would drop what is printed and end with 0. The number is taken as well: a file that is
    opened later must not become the standard output.
    """
    if sys.stdout is None:
        handle = os.open(os.devnull, os.O_RDONLY)
        os.dup2(handle, _STANDARD_OUTPUT)
        sys.stdout = os.fdopen(_STANDARD_OUTPUT, "w", encoding="utf-8")
