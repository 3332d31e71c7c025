"""What a bench shows in the terminal: the display, how the sink is, and what happens."""

from __future__ import annotations

import base64
import time
from collections import deque
from collections.abc import Callable, Mapping

from PIL import Image
from rich.console import Console, Group
from rich.live import Live
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from wetside.commands.bench.braille import braille
from wetside.cues import catalogue
from wetside.session.machine import State
from wetside.session.signals import Cue
from wetside.session.summary import RunSummary
from wetside.sim.world import Truth
from wetside.units import clock_text

_REDRAW_SECONDS = 0.12
_LINES = 8


class Terminal:
    """Shows a bench. On a terminal the display stands and is redrawn; otherwise lines go by.

    Parameters
    ----------
    console
        Where to.
    truth
        Gives how the sink really is.
    """

    def __init__(self, console: Console, truth: Callable[[], Truth]) -> None:
        self._console = console
        self._truth = truth
        self._lines: deque[str] = deque(maxlen=_LINES)
        self._start: float | None = None
        self._drawn = 0.0
        self._live = (
            Live(console=console, auto_refresh=False, transient=True)
            if console.is_terminal
            else None
        )

    def __enter__(self) -> Terminal:
        """Begin to show."""
        if self._live is not None:
            self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Leave the terminal as it was."""
        if self._live is not None:
            self._live.stop()

    def cue(self, cue: Cue) -> None:
        """A cue was heard."""
        said = catalogue.words(cue)
        extra = " ".join((said.big, *said.lines))
        self._line(cue.seconds, f"buzzer   {cue.name:<18} {extra}")

    def action(self, seconds: float, text: str) -> None:
        """Hands or faults did something."""
        self._line(seconds, f"student  {text}")

    def live(self, values: Mapping[str, object]) -> None:
        """The station has a new screen."""
        now = time.monotonic()
        if self._live is None or now - self._drawn < _REDRAW_SECONDS:
            return
        self._drawn = now
        self._live.update(self._screen(values), refresh=True)

    def summary(self, summary: RunSummary | None) -> None:
        """What the roll came to."""
        if self._live is not None:
            self._live.stop()
        if summary is None:
            self._console.print("No roll was begun.")
            return
        self._console.print(summary_table(summary))
        self._console.print(summary_words(summary))

    def _line(self, seconds: float, text: str) -> None:
        if self._start is None:
            self._start = seconds
        line = f"{clock_text(seconds - self._start):>8}  {text}"
        self._lines.append(line)
        if self._live is None:
            self._console.print(line, markup=False, highlight=False, soft_wrap=True)

    def _screen(self, values: Mapping[str, object]) -> Group:
        picture = Image.frombytes("1", (128, 64), base64.b64decode(str(values["picture"])))
        shown = Text("\n".join(braille(picture)) if not values["dark"] else "\n" * 15)
        truth = self._truth()
        sink = (
            f"developer {truth['developer_celsius']:5.2f} C   "
            f"bath {truth['bath_celsius']:5.2f} C   {truth['bath_litres']:.1f} L   "
            f"room {truth['room_celsius']:.1f} C   "
            f"probe in {', '.join(truth['probes'].values())}"
        )
        return Group(
            Panel(shown, title=f"display of {values['station']}", expand=False, border_style="dim"),
            Text(f"the sink really: {sink}", style="cyan"),
            *(Text(line, style="bold" if "buzzer" in line else "") for line in self._lines),
        )


def summary_table(summary: RunSummary) -> Table:
    """Steps planned and actual."""
    table = Table(title=f"{summary.title}", title_justify="left")
    for name in ("step", "began", "planned", "actual", "over"):
        table.add_column(name, justify="left" if name == "step" else "right")
    for step in summary.steps:
        table.add_row(
            str(step.kind),
            clock_text(step.began_after_seconds),
            "" if step.planned_seconds is None else clock_text(step.planned_seconds),
            "" if step.actual_seconds is None else clock_text(step.actual_seconds),
            "" if step.over_seconds is None else f"{step.over_seconds:+.1f} s",
        )
    return table


def summary_words(summary: RunSummary) -> str:
    """The roll in a few lines."""
    window = {
        True: "hit: poured inside the window",
        False: "missed: poured outside the window",
        None: "not reached: nothing was poured",
    }[summary.window_hit]
    poured = (
        f", at an estimated {summary.poured_celsius:.2f} C"
        if summary.poured_celsius is not None
        else ""
    )
    target = f"(target {summary.target_celsius:.1f} ±{summary.tolerance_celsius:.1f} C)"
    lines = [
        f"run      {summary.run}  {summary.state}",
        f"window   {window}{poured} {target}",
    ]
    if summary.total_seconds is not None:
        lines.append(f"length   {clock_text(summary.total_seconds)}")
    if summary.flags:
        lines.append(f"flags    {', '.join(summary.flags)}")
    if summary.state is not State.FINISHED:
        lines.append("The roll did not end with the film hung.")
    return "\n".join(lines)
