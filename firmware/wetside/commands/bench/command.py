"""``wetside bench``: a simulated sink, the station and the desk in one."""

import os
import signal
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Protocol

import typer

from wetside.commands import sheets
from wetside.commands.bench.desk import DeskProcess
from wetside.commands.bench.rig import Rig, RigOptions
from wetside.commands.bench.terminal import Terminal
from wetside.commands.console import Console
from wetside.development.bells import load as load_bells
from wetside.errors import BellsError, BenchError, SheetError, UnitsError, WetsideError
from wetside.session import sheetbook
from wetside.session.machine import OPEN_STATES
from wetside.session.run import State
from wetside.session.summary import summarise
from wetside.sim.faults import parse as parse_fault
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, Situation, usual
from wetside.station.files import journal_path, live_path
from wetside.units import parse_celsius

#: A scripted roll of half an hour then takes about a minute.
USUAL_SPEED = 30.0
DESK_PORT = 8470
SINK_PORT = 8471


_YOUR_TURN = (
    "you    open the sink page and press now; put the probe into the developer, press probe;",
    "       after 20 s put it into the bath and press probe at once; wait for READY;",
    "       lift the developer out, press now and pour. docs/bench.md tells the rest.",
)


def _usual_folder() -> Path:
    state = os.environ.get("XDG_STATE_HOME", "")
    return (Path(state) if state else Path.home() / ".local" / "state") / "wetside" / "bench"


def _speed(text: str | None, student: str) -> float | None:
    if text is None:
        return 1.0 if student == "me" else USUAL_SPEED
    if text == "max":
        if student == "me":
            raise typer.BadParameter("a person cannot keep up with max; give a number")
        return None
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not 0 < speed <= 1000:
        raise typer.BadParameter(f"{text!r} is not max or a number above 0 up to 1000")
    return speed


def bench(
    speed: Annotated[
        str | None,
        typer.Option(
            help="Simulated seconds in a second, or max. Default: 30; 1 for --student me."
        ),
    ] = None,
    seed: Annotated[int, typer.Option(help="The same seed gives the same roll.")] = 1,
    student: Annotated[
        str, typer.Option(help="Script of the student, or me: press the buttons on the page.")
    ] = "scripted",
    sheet: Annotated[
        str | None, typer.Option(help="Name of a sheet or a file; default: the first that ships.")
    ] = None,
    once: Annotated[
        bool, typer.Option("--once", help="End after the roll, without pages.")
    ] = False,
    pour_early: Annotated[
        bool,
        typer.Option("--pour-early", help="A student who pours before the window: 'hurried'."),
    ] = False,
    bells: Annotated[
        Path | None,
        typer.Option(readable=False, help="A bell table (TOML), read by this machine's clock."),
    ] = None,
    fault: Annotated[
        list[str] | None,
        typer.Option(help="A fault, for example 'unplug probe 300 40'; may be repeated."),
    ] = None,
    probes: Annotated[
        Arrangement, typer.Option(help="One probe, mostly in the bath or in the developer; or two.")
    ] = Arrangement.BATH,
    developer: Annotated[
        str | None, typer.Option(help="Developer at the start, such as 24.5C; default: by seed.")
    ] = None,
    bath: Annotated[
        str | None, typer.Option(help="Bath at the start, such as 19.4C; default: by seed.")
    ] = None,
    data: Annotated[
        Path | None,
        typer.Option(
            readable=False,
            help="Folder of the bench's journal; default: ~/.local/state/wetside/bench.",
        ),
    ] = None,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port of the desk.")] = DESK_PORT,
    sink_port: Annotated[
        int, typer.Option(min=1, max=65535, help="Port of the page with the sink.")
    ] = SINK_PORT,
) -> None:
    """Take a roll through at a simulated sink: no hardware, no chemistry.

    A scripted student dips the probe, tempers, pours and presses; the display and what
    happens are shown here, and on a page with the display, the buttons and the taps. The
    desk shows the run afterwards. Ctrl-C ends it.

    \b
    Examples:
      wetside bench                          one roll in about a minute, then the pages stay
      wetside bench --once --speed max       as fast as it can, then end
      wetside bench --student me             you are the student, in real time
      wetside bench --fault "unplug probe 120 40"
      wetside bench --pour-early             wait or pour now? this student pours

    \b
    Exit codes: 0 the film hangs, 1 the roll did not end well, 2 something was asked wrongly,
    130 Ctrl-C while a roll was open.
    """  # noqa: D301  # \b keeps the lines of the help as they are
    console = Console(highlight=False)
    if port == sink_port:
        raise typer.BadParameter("the desk and the sink page need two ports")
    for number in (signal.SIGTERM, signal.SIGHUP):
        # a closed terminal ends the bench as Ctrl-C does, and the desk with it
        signal.signal(number, signal.default_int_handler)
    try:
        chosen = sheets.find(sheet) if sheet else sheetbook.read(None).offers[0].sheet
        situation = _situation(usual(chosen.setup(), seed, probes), developer, bath, fault or [])
        options = RigOptions(
            data_folder=data or _usual_folder(),
            sheet=chosen,
            situation=situation,
            script=script(_student(student, pour_early=pour_early), probes),
            bells_file=_checked(bells),
            seed=seed,
            speed=_speed(speed, student),
        )
        ended_well = _run(console, options, once=once, port=port, sink_port=sink_port)
    except (BellsError, BenchError, SheetError, UnitsError) as problem:
        typer.echo(f"wetside bench: {problem}", err=True)
        raise typer.Exit(2) from None
    except WetsideError as problem:
        typer.echo(f"wetside bench: {problem}", err=True)
        raise typer.Exit(1) from None
    raise typer.Exit(0 if ended_well else 1)


def _student(name: str, *, pour_early: bool) -> str:
    if not pour_early:
        return name
    if name not in {"scripted", "hurried"}:
        raise BenchError(f"--pour-early is the student hurried; leave --student {name} out")
    return "hurried"


def _checked(bells: Path | None) -> Path | None:
    """The bell table's path; a bad table is told before the roll begins."""
    if bells is not None:
        load_bells(bells)
    return bells


def _water(text: str | None, usual_celsius: float) -> float:
    celsius = usual_celsius if text is None else parse_celsius(text)
    if not 2 <= celsius <= 60:
        raise BenchError(f"{text}: water at a sink is between 2 and 60 C")
    return celsius


def _situation(
    situation: Situation, developer: str | None, bath: str | None, faults: list[str]
) -> Situation:
    situation = replace(
        situation,
        developer_celsius=_water(developer, situation.developer_celsius),
        bath_celsius=_water(bath, situation.bath_celsius),
    )
    return replace(
        situation,
        faults=tuple(parse_fault(text, situation.probe_names) for text in faults),
    )


def _run(console: Console, options: RigOptions, *, once: bool, port: int, sink_port: int) -> bool:
    shown: list[Terminal] = []
    page: list[LiveView] = []
    rig = Rig(
        options,
        on_live=lambda values: _each(values, shown, page),
        on_cue=lambda cue: shown[0].cue(cue) if shown else None,
        on_action=lambda at, text: shown[0].action(at, text) if shown else None,
    )
    try:
        if rig.given_up is not None:
            console.print(f"a roll that an earlier bench left open was given up: {rig.given_up}")
        for bad in rig.bad_sheets:
            console.print(f"left out: {bad}", markup=False)
        with Terminal(console, rig.world.truth) as terminal:
            shown.append(terminal)
            if once:
                return _roll(rig, terminal)
            # FastAPI is 20 MB that the station's command must not carry
            from wetside.commands.bench.page import SinkPage  # noqa: PLC0415

            with (
                DeskProcess(journal_path(rig.settings), live_path(rig.settings), port) as desk,
                SinkPage(rig, sink_port) as sink,
            ):
                page += [sink, Watch(desk, terminal)]
                terminal.stay(
                    f"sink   {sink.url}   display, buttons and taps",
                    f"desk   {desk.url}   runs, and the display live",
                    *(() if options.script.rules else _YOUR_TURN),
                )
                try:
                    ended_well = not options.script.rules or _roll(rig, terminal)
                    if options.script.rules:
                        rig.clock.speed = 1.0
                        up = "The sink's page stays" if desk.ended else "The pages stay"
                        console.print(f"{up} up; Ctrl-C ends the bench.")
                    rig.turn_until(lambda: False)
                except KeyboardInterrupt:
                    if not options.script.rules:
                        terminal.summary(summarise(rig.station.session), rig.true_at_pour)
                    console.print("ended")
                    if rig.station.session.state in OPEN_STATES:
                        raise
                    return rig.station.session.state in {State.FINISHED, State.IDLE}
                return ended_well
    finally:
        rig.close()


class LiveView(Protocol):
    """Something that shows, or goes by, the live object."""

    def live(self, values: Mapping[str, object], /) -> None:
        """Show it."""
        ...


class Watch:
    """Says once that the desk has ended, as it looks like a desk that answers slowly."""

    def __init__(self, desk: DeskProcess, terminal: Terminal) -> None:
        self._desk = desk
        self._terminal = terminal
        self._told = False

    def live(self, _values: Mapping[str, object]) -> None:
        """Look again; called as often as there is a new screen."""
        ended = None if self._told else self._desk.ended
        if ended is not None:
            self._told = True
            self._terminal.say(ended)


def _each(values: Mapping[str, object], terminals: list[Terminal], pages: list[LiveView]) -> None:
    for terminal in terminals:
        terminal.live(values)
    for page in pages:
        page.live(values)


def _roll(rig: Rig, terminal: Terminal) -> bool:
    try:
        summary = rig.run_roll()
    except KeyboardInterrupt:
        terminal.summary(summarise(rig.station.session))
        raise
    rig.journal.settled(30.0)
    terminal.summary(summary, rig.true_at_pour)
    return summary is not None and summary.state is State.FINISHED
