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
from wetside.session.run import State
from wetside.session.signals import Cue
from wetside.session.summary import RunSummary
from wetside.sim.world import Truth
from wetside.units import clock_text

_REDRAW_SECONDS = 0.12
_LINES = 8
#: A terminal smaller than this gets the words of the display instead of its picture.
_PICTURE_COLUMNS, _PICTURE_ROWS = 70, 30


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
        self._stay: tuple[str, ...] = ()
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

    def stay(self, *lines: str) -> None:
        """Lines that stay in sight, such as addresses; they are printed as well."""
        self._stay = lines
        for line in lines:
            self.say(line)

    def say(self, line: str) -> None:
        """A line that is printed once, above what stands."""
        self._console.print(line, markup=False, soft_wrap=True)

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

    def summary(self, summary: RunSummary | None, true_celsius: float | None = None) -> None:
        """What the roll came to; ``true_celsius`` is what the developer really had."""
        if self._live is not None:
            self._live.stop()
        if summary is None:
            self._console.print("No roll was begun.")
            return
        self._console.print(summary_table(summary))
        self._console.print(summary_words(summary), markup=False, soft_wrap=True)
        if true_celsius is not None:
            off = abs(true_celsius - summary.target_celsius)
            inside = "inside" if off <= summary.tolerance_celsius else "outside"
            self._console.print(
                f"in truth {true_celsius:.2f} C when poured: {inside} (only a bench knows)"
            )

    def _line(self, seconds: float, text: str) -> None:
        if self._start is None:
            self._start = seconds
        line = f"{clock_text(seconds - self._start):>8}  {text}"
        self._lines.append(line)
        if self._live is None:
            self._console.print(line, markup=False, highlight=False, soft_wrap=True)

    def _screen(self, values: Mapping[str, object]) -> Group:
        size = self._console.size
        large = size.width >= _PICTURE_COLUMNS and size.height >= _PICTURE_ROWS
        shown = _picture(values) if large else _words(values)
        room = size.height - (22 if large else 10) - len(self._stay)
        lines = list(self._lines)[-max(2, min(_LINES, room)) :]
        return Group(
            *(Text(line, style="dim", no_wrap=True) for line in self._stay),
            Panel(shown, title=f"display of {values['station']}", expand=False, border_style="dim"),
            Text(_sink_line(self._truth()), style="cyan", no_wrap=True, overflow="ellipsis"),
            *(
                Text(
                    line,
                    style="bold" if "buzzer" in line else "",
                    no_wrap=True,
                    overflow="ellipsis",
                )
                for line in lines
            ),
        )


def _picture(values: Mapping[str, object]) -> Text:
    """The display's picture in Braille; nothing while it is dark."""
    picture = Image.frombytes("1", (128, 64), base64.b64decode(str(values["picture"])))
    return Text("\n".join(braille(picture)) if not values["dark"] else "\n" * 15)


def _words(values: Mapping[str, object]) -> Text:
    """The display's words, for a small terminal."""
    screen = values["screen"]
    if values["dark"] or not isinstance(screen, Mapping):
        return Text("(dark)")
    lines = screen.get("lines") or []
    return Text("\n".join([f"{screen.get('head', '')}", f"  {screen.get('big', '')}", *lines]))


def _sink_line(truth: Truth) -> str:
    return (
        f"really: developer {truth['developer_celsius']:.2f} C, bath {truth['bath_celsius']:.2f} C,"
        f" {truth['bath_litres']:.1f} L; probe in {', '.join(truth['probes'].values())}"
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
        True: "hit, as far as the station knows",
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
    if summary.chosen is not None:
        lines.append(f"choice   {summary.chosen}")
    if summary.effective_text is not None:
        lines.append(f"develop  {summary.effective_text}")
    if summary.total_seconds is not None:
        lines.append(f"length   {clock_text(summary.total_seconds)}")
    if summary.flags:
        lines.append(f"flags    {', '.join(summary.flags)}")
    if summary.state is not State.FINISHED:
        lines.append("The roll did not end with the film hung.")
    return "\n".join(lines)
