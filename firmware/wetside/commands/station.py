"""``wetside station``: the station on a Raspberry Pi, until it is stopped."""

import signal
import threading
import warnings
from contextlib import ExitStack
from pathlib import Path
from typing import Annotated

import typer
from gpiozero import BadPinFactory, GPIOZeroError, PinFactoryFallback

from wetside import __version__
from wetside.clock import Clock, SystemClock
from wetside.commands.options import USUAL_SETTINGS, SettingsFile, settings_of
from wetside.development.deadline import NEW_STUDENTS, Handover
from wetside.devices.parts import button_gpios, close_parts, open_parts
from wetside.errors import JournalDamaged, JournalUnavailable, WetsideError
from wetside.journal.reader import Reader
from wetside.journal.schema import OpenRun
from wetside.journal.thread import WriterThread
from wetside.session import sheetbook
from wetside.settings import StationSettings
from wetside.station import containers, lights
from wetside.station.files import journal_path, live_path
from wetside.station.heart import Heart
from wetside.station.learning import handover_of
from wetside.station.live import LiveFile
from wetside.station.loop import Station
from wetside.station.notify import Notifier
from wetside.station.recovery import take_up_or_end
from wetside.station.study import StudyRoom


def station(
    settings_file: SettingsFile = USUAL_SETTINGS,
    parts: Annotated[
        Path | None,
        typer.Option(
            "--parts-from",
            help="For tests: a folder of files in place of buttons, and no display.",
        ),
    ] = None,
    speed: Annotated[
        float, typer.Option(min=0.1, max=100, help="With --parts-from: how fast time runs.")
    ] = 1.0,
) -> None:
    """Run the station: read the probes, temper, call the steps, keep the journal.

    On a Pi systemd starts it. A run that was open when it stopped is taken up again.

    Exit codes: 0 stopped as asked, 1 the parts or the journal cannot be used, 2 the settings
    are wrong.

    Example: wetside station --settings /etc/wetside/station.toml
    """
    loaded = settings_of(settings_file)
    # what it tries one after the other is in the one error that there is when all fail
    warnings.simplefilter("ignore", PinFactoryFallback)
    try:
        _run(loaded, settings_file, parts, speed)
    except (BadPinFactory, GPIOZeroError) as problem:
        typer.echo(f"the GPIO pins cannot be used: {problem}; see wetside doctor", err=True)
        raise typer.Exit(1) from None
    except (WetsideError, OSError) as problem:
        typer.echo(f"wetside station: {problem}", err=True)
        raise typer.Exit(1) from None


def _run(
    loaded: StationSettings, settings_file: Path, parts_folder: Path | None, speed: float
) -> None:
    stop = threading.Event()
    with ExitStack() as opened:
        clock: Clock
        if parts_folder is None:
            clock = SystemClock()
            parts = open_parts(loaded, clock)
        else:
            # the simulated sink is only for tests: no station loads it
            from wetside.sim.apart import FastClock, FilePins, dummy_panel  # noqa: PLC0415

            clock = FastClock(speed)
            pins = FilePins(parts_folder, button_gpios(loaded.pins).values())
            parts = open_parts(
                loaded,
                clock,
                pin_factory=pins.factory,
                panel=dummy_panel,
                probe_period=1.0 / speed,
            )
            pins.start()
            opened.callback(pins.close)
        opened.callback(close_parts, parts)
        journal = WriterThread(journal_path(loaded), loaded.station)
        opened.callback(journal.close)
        notifier = Notifier()
        opened.callback(notifier.close)
        live = LiveFile(live_path(loaded))
        opened.callback(live.remove)
        book = sheetbook.read(loaded.sheets_folder)
        for problem in book.left_out:
            typer.echo(f"left out: {problem}", err=True)

        journal.append(clock.moment(), "station-started", {"version": __version__})
        if journal.opening is not None and journal.opening.set_aside is not None:
            journal.append(clock.moment(), "journal-set-aside", journal.opening.detail())
        left_open, handover = _earlier(journal, loaded)
        lights_out = lights.left_out(
            journal_path(loaded),
            loaded.station,
            clock.moment().boot,
            run_open=left_open is not None,
        )
        room = StudyRoom(clock, settings_file.absolute())
        opened.callback(room.close)
        taught = containers.path_of(loaded)
        running = Station(
            loaded,
            clock,
            parts,
            journal,
            book.offers,
            live=live.write,
            handover=handover,
            renew=lambda: sheetbook.read(loaded.sheets_folder).offers,
            learnt=lambda setup: containers.prior_of(containers.read(taught), setup),
            lights_out=lights_out,
        )
        found = take_up_or_end(left_open, clock.moment(), journal)
        if found is not None:
            running.take_up(found)
        elif left_open is not None:
            typer.echo(
                "the run that was open cannot go on and was ended; its page says why", err=True
            )

        def stopped(*_: object) -> None:
            stop.set()
            parts.wake.set()

        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, stopped)
        heart = Heart(notifier, parts, clock)
        notifier.send("READY=1", f"STATUS={running.session.state}")

        def turned(state: str) -> None:
            heart.beat(state)
            room.saw(state)

        running.run(stop, turned)
        notifier.send("STOPPING=1")
        journal.append(clock.moment(), "station-stopped", {})


def _earlier(journal: WriterThread, loaded: StationSettings) -> tuple[OpenRun | None, Handover]:
    """The run that was open when the station stopped, and what earlier runs teach.

    A failing disk is no reason not to start.
    """
    try:
        journal.settled(5.0)
    except JournalUnavailable as problem:
        typer.echo(f"wetside station: {problem}", err=True)
    try:
        with Reader(journal_path(loaded)) as reader:
            return reader.open_run(loaded.station), handover_of(reader, loaded.station)
    except JournalUnavailable as problem:
        typer.echo(f"no earlier run can be looked for: {problem}", err=True)
    except JournalDamaged as problem:
        typer.echo(f"wetside station: {problem}", err=True)
        journal.set_aside(str(problem))
    return None, NEW_STUDENTS
