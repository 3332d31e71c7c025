"""A station at a simulated sink, on virtual time: what ``wetside bench`` runs."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from ulid import ULID

from wetside.commands import sheets
from wetside.development.deadline import NEW_STUDENTS, Handover
from wetside.devices.buttons import ButtonPanel
from wetside.devices.buzzer import Buzzer
from wetside.devices.ds18b20 import Bus
from wetside.devices.feed import TimedFeed
from wetside.devices.oled import Oled
from wetside.devices.parts import button_gpios
from wetside.errors import BenchError
from wetside.journal.reader import Reader
from wetside.journal.thread import WriterThread
from wetside.ports import Parts
from wetside.session import sheetbook
from wetside.session.run import ENDED_STATES
from wetside.session.sheet import Sheet
from wetside.session.sheetbook import Offer
from wetside.session.signals import Cue, CueName
from wetside.session.summary import RunSummary, summarise
from wetside.settings import StationSettings, Supplies
from wetside.sim.clock import VirtualClock
from wetside.sim.folder import memory_folder
from wetside.sim.situation import Situation
from wetside.sim.student import Script, Student
from wetside.sim.world import World
from wetside.station.desknotes import NoteReader
from wetside.station.files import journal_path, live_path
from wetside.station.learning import handover_of
from wetside.station.live import LiveFile, picture_text
from wetside.station.loop import Station
from wetside.station.recovery import TakeUp, take_up_or_end

#: A roll that is not done by then will not be.
LONGEST_ROLL_SECONDS = 3 * 3600.0


@dataclass(frozen=True, slots=True)
class RigOptions:
    """What a bench is made of.

    ``speed`` None is as fast as it can. ``renew`` gives the sheets in place of the shipped ones,
    asked as the station asks; ``sheet`` is then among them.
    """

    data_folder: Path
    sheet: Sheet
    situation: Situation
    script: Script
    seed: int = 1
    speed: float | None = None
    station: str = "bench"
    bells_file: Path | None = None
    renew: Callable[[], Sequence[Offer]] | None = None


class Rig:
    """Everything of one bench, on the calling thread.

    Parameters
    ----------
    options
        What to build.
    on_live, on_cue, on_action
        Get each live object, each cue, and each thing that hands or faults do.

    Notes
    -----
    ``given_up`` is a roll that an earlier bench left open in this folder, ``true_at_pour``
    the developer's true temperature when it was poured last.

    Raises
    ------
    BenchError
        The data folder cannot be made.
    """

    def __init__(
        self,
        options: RigOptions,
        *,
        on_live: Callable[[Mapping[str, object]], None] | None = None,
        on_cue: Callable[[Cue], None] | None = None,
        on_action: Callable[[float, str], None] | None = None,
    ) -> None:
        self.options = options
        try:
            options.data_folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise BenchError(
                f"{options.data_folder} cannot be made: {error.strerror}; give another with --data"
            ) from None
        self._tree_folder = memory_folder()
        self.clock = VirtualClock(
            boot=f"bench-{ULID()}", wall_seconds=time.time(), speed=options.speed
        )
        self.started = self.clock.now()
        pins = StationSettings().pins
        self.world = World(
            self.clock,
            Path(self._tree_folder.name),
            options.situation,
            pins=pins,
            seed=options.seed,
        )
        self.world.on_action = on_action
        self.settings = StationSettings(
            station=options.station,
            data_folder=options.data_folder,
            live_folder=options.data_folder / "live",
            w1_folder=self.world.tree.folder,
            probe=self.world.probe_settings(),
            pins=pins,
            bells_file=options.bells_file,
            room_celsius=round(options.situation.sink.room_celsius),
            room_sd_celsius=1.0,
            supplies=Supplies(
                bath_litres=options.situation.sink.bath_litres,
                more_litres=3.0,
                hot_tap_celsius=options.situation.sink.tap_hot_celsius,
                cold_tap_celsius=options.situation.sink.tap_cold_celsius,
                ice=True,
            ),
        )
        self.student = Student(self.world, options.script, options.sheet.setup(), seed=options.seed)
        self._on_cue = on_cue
        self._listening = False
        self.given_up: str | None = None
        self.true_at_pour: float | None = None
        self._on_live = on_live
        self._notes = NoteReader(self.settings.live_folder)
        self._said_url = ""
        self._live_file = LiveFile(live_path(self.settings))
        self.journal = WriterThread(journal_path(self.settings), options.station)
        self.parts = self._parts()
        book = sheetbook.read(None)
        self.bad_sheets = book.left_out
        self.station = self._station(book.offers)
        self._close_open_run()
        self._listening = True

    def run_roll(self) -> RunSummary | None:
        """Turn until a roll is over, or until it takes too long; the roll in short."""
        limit = self.clock.now() + LONGEST_ROLL_SECONDS
        earlier = self.station.session.run
        self.student.begin()
        self.turn_until(
            lambda: (
                (self.station.session.run != earlier and self.station.session.state in ENDED_STATES)
                or self.clock.now() > limit
            )
        )
        return summarise(self.station.session)

    def turn_until(self, done: Callable[[], bool]) -> None:
        """Turn the station until ``done`` says so."""
        wake = self.parts.wake
        while not done():
            wake.clear()
            self.clock.wait(self.station.turn(), wake)
        self.station.turn()

    def close(self) -> None:
        """Stop everything; what waits for the journal is written."""
        self.world.close()
        self.parts.screen.close()
        self.journal.close()
        self._tree_folder.cleanup()

    def cut_power(self, off_seconds: float, boot: str, wall_seconds: float | None = None) -> None:
        """No power for so long, then another boot with the same journal, parts and sink.

        ``wall_seconds`` as in `VirtualClock.restart`: None where a battery keeps the clock going.
        """
        self.journal.close()
        self.clock.run_for(off_seconds)
        gone_by = self.clock.now() - self.started
        self.clock.restart(boot, wall_seconds=wall_seconds, trusted=wall_seconds is None)
        self.started = self.clock.now() - gone_by
        self.journal = WriterThread(journal_path(self.settings), self.options.station)
        self.station = self._station(sheetbook.read(None).offers)
        found = self._left_open()
        if found is not None:
            self.station.take_up(found)

    def _station(self, shipped: Sequence[Offer]) -> Station:
        renew = self.options.renew
        return Station(
            self.settings,
            self.clock,
            self.parts,
            self.journal,
            sheets.first(shipped, self.options.sheet) if renew is None else renew(),
            live=self._live,
            observer=self._heard,
            handover=self._learnt(),
            renew=renew,
        )

    def _left_open(self) -> TakeUp | None:
        self.journal.settled(5.0)
        with Reader(journal_path(self.settings)) as reader:
            left_open = reader.open_run(self.options.station)
        return take_up_or_end(left_open, self.clock.moment(), self.journal)

    def _parts(self) -> Parts:
        wake = threading.Event()
        factory = self.world.pins.factory
        settings = self.settings
        return Parts(
            probes=TimedFeed(Bus(settings.w1_folder, settings.probe), self.clock, self.clock, wake),
            sounder=Buzzer(settings.pins.buzzer_gpio, self.clock, self.clock, factory),
            screen=Oled(self.world.panel.open, threaded=False),
            buttons=ButtonPanel(
                button_gpios(settings.pins),
                self.clock,
                wake,
                settle_seconds=settings.buttons.settle_seconds,
                long_seconds=settings.buttons.long_press_seconds,
                pin_factory=factory,
            ),
            wake=wake,
        )

    def _learnt(self) -> Handover:
        """Hand-over times of earlier rolls on this bench; only a bell asks for them."""
        if self.options.bells_file is None:
            return NEW_STUDENTS
        self.journal.settled(5.0)
        with Reader(journal_path(self.settings)) as reader:
            return handover_of(reader, self.options.station)

    def _close_open_run(self) -> None:
        """A roll of a bench that was stopped: its sink is gone, so it is given up."""
        found = self._left_open()
        if found is not None:
            self.station.take_up(found)
            self.station.give_up()
            self.station.turn()
            self.given_up = found.session.run

    def _live(self, values: Mapping[str, object]) -> None:
        self._live_file.write(values)
        if self._on_live is not None:
            # who stands at the bench sees the display itself, also what no board may repeat
            seen = self.world.panel.picture
            shown = {} if seen is None else {"picture": picture_text(seen.convert("1"))}
            self._on_live({**values, **shown})
        self._say_label()

    def _say_label(self) -> None:
        """Say the address that the display's code holds, for a person without a camera."""
        label = self._notes.look(self.clock.now(), wanted=True).label
        if label is not None and label.url != self._said_url:
            self._said_url = label.url
            parts = urlsplit(label.url)
            origin = f"{parts.scheme}://{parts.netloc}".lower()
            self.world.say(f"may label the roll at {origin}{parts.path}")

    def sounding_hertz(self) -> float | None:
        """Pitch that the buzzer sounds with now, None when it is silent."""
        return self.world.pins.hertz(self.settings.pins.buzzer_gpio)

    def _heard(self, cue: Cue) -> None:
        if not self._listening:
            return
        if cue.name is CueName.POUR_BEGUN and cue.values.get("step") == "develop":
            self.true_at_pour = self.world.developer_celsius
        self.student.hear(cue)
        if self._on_cue is not None:
            self._on_cue(cue)
