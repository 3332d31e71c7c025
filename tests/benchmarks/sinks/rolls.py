"""A sink on virtual time that keeps all that was seen and heard there."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from wetside.commands import sheets
from wetside.commands.bench.rig import Rig, RigOptions
from wetside.journal.reader import Reader
from wetside.journal.schema import EventRow, RunRow, Sample
from wetside.journal.thread import WriterThread
from wetside.session import sheetbook
from wetside.session.run import State
from wetside.session.sheet import Sheet
from wetside.session.signals import Cue, CueName
from wetside.sim.faults import parse
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, Situation, usual
from wetside.station import lights
from wetside.station.files import journal_path
from wetside.station.loop import Station
from wetside.station.recovery import take_up_or_end

#: Developer and bath of a sink that tempers for some minutes.
SLOW = Situation(developer_celsius=22.6, bath_celsius=18.6)


class Roll:
    """A station at a simulated sink.

    Parameters
    ----------
    folder
        The journal and the live file are made here.
    sheet
        What is processed.
    faults
        In words, see ``wetside.sim.faults``; seconds from the start of the bench.
    situation
        The sink; `SLOW`, or for two probes a usual one, unless given.
    """

    def __init__(
        self,
        folder: Path,
        sheet: Sheet,
        *faults: str,
        student: str = "scripted",
        arrangement: Arrangement = Arrangement.DEVELOPER,
        situation: Situation | None = None,
        seed: int = 1,
        speed: float | None = None,
    ) -> None:
        self.folder = folder
        self.seen: list[tuple[float, Mapping[str, Any]]] = []
        self.cues: list[Cue] = []
        sink = situation or (
            usual(sheet.setup(), seed, arrangement) if arrangement is Arrangement.TWO else SLOW
        )
        self.rig = Rig(
            RigOptions(
                folder, sheet, sink, script(student, arrangement), seed, speed, station="sink-1"
            ),
            on_live=self._see,
            on_cue=self.cues.append,
        )
        self.bring(*faults)
        self.rig.student.begin()

    # --- what happens ---------------------------------------------------------------------

    def bring(self, *faults: str) -> None:
        """Let faults come; their seconds count from now."""
        for words in faults:
            self.rig.world.bring(parse(words, self.rig.options.situation.probe_names))

    @property
    def at(self) -> float:
        """Seconds since the start of the bench."""
        return self.rig.clock.now() - self.rig.started

    @property
    def state(self) -> State:
        """Where the run stands."""
        return self.rig.station.session.state

    def turn_to(self, seconds: float) -> None:
        """Go on until so many seconds after the start."""
        self.rig.turn_until(lambda: self.at >= seconds)

    def turn_until(self, state: State, at_most: float = 3600.0) -> None:
        """Go on until the run is in a state.

        Raises
        ------
        AssertionError
            It did not come to it.
        """
        end = self.at + at_most
        self.rig.turn_until(lambda: self.state is state or self.at > end)
        assert self.state is state, f"{self.state} after {at_most} s, not {state}"

    def go_on(self, seconds: float) -> None:
        """Go on for so long."""
        self.turn_to(self.at + seconds)

    def restart(self, off_seconds: float, *, boot: str | None = None) -> None:
        """The station dies and is there again so much later; ``boot`` after a power cut."""
        rig, at = self.rig, self.at
        rig.parts.probes.close()
        rig.parts.buttons.close()
        rig.parts.sounder.close()
        rig.journal.close()
        rig.clock.run_for(off_seconds)
        if boot is not None:
            rig.clock.restart(boot)
        rig.started = rig.clock.now() - at - off_seconds
        rig.journal = WriterThread(journal_path(rig.settings), "sink-1")
        rig.parts = rig._parts()
        there = sheets.first(sheetbook.read(None).offers, rig.options.sheet)
        path, moment = journal_path(rig.settings), rig.clock.moment()
        with Reader(path) as reader:
            left_open = reader.open_run("sink-1")
        run_open = left_open is not None
        rig.station = Station(
            rig.settings, rig.clock, rig.parts, rig.journal, there,
            live=rig._live, observer=rig._heard,
            lights_out=lights.left_out(path, "sink-1", moment.boot, run_open=run_open),
        )  # fmt: skip
        found = take_up_or_end(left_open, moment, rig.journal)
        if found is not None:
            rig.station.take_up(found)

    def to_the_end(self) -> None:
        """Take the roll through; the film hangs or the test fails."""
        self.turn_until(State.FINISHED)

    def close(self) -> None:
        """Stop; what waits for the journal is written."""
        self.rig.close()

    def _see(self, values: Mapping[str, Any]) -> None:
        self.seen.append((values["at"] - self.rig.started, values))

    # --- what was seen, heard and kept ----------------------------------------------------

    def words(self, begin: float = 0.0, end: float = 1e9) -> str:
        """All that stood on the display in a span of seconds after the start."""
        return "\n".join(values["screen"]["text"] for at, values in self.seen if begin <= at <= end)

    def live(self, at: float) -> Mapping[str, Any]:
        """The live file's content at a moment, seconds after the start."""
        return [values for seconds, values in self.seen if seconds <= at][-1]

    def heard(self, name: CueName) -> list[float]:
        """When a cue came, seconds after the start."""
        return [round(cue.seconds - self.rig.started, 3) for cue in self.cues if cue.name is name]

    def sounded(self, begin: float, end: float) -> int:
        """Number of notes that the buzzer's pin began in a span of seconds after the start."""
        gpio = self.rig.settings.pins.buzzer_gpio
        # a cue's moment is rounded to a millisecond
        first, last = self.rig.started + begin - 0.01, self.rig.started + end
        return sum(
            edge.gpio == gpio and edge.hertz is not None and first <= edge.seconds <= last
            for edge in self.rig.world.pins.edges
        )

    def notes(self, seconds: float) -> list[float]:
        """Go on for so long; when each note began meanwhile, in seconds from now."""
        edges, begin = self.rig.world.pins.edges, self.rig.clock.now()
        there = len(edges)
        self.go_on(seconds)
        gpio = self.rig.settings.pins.buzzer_gpio
        return [
            round(edge.seconds - begin, 2)
            for edge in list(edges)[there:]
            if edge.gpio == gpio and edge.hertz is not None
        ]

    def row(self) -> RunRow:
        """The one run, as the desk lists it."""
        with Reader(self.folder / "journal.sqlite") as reader:
            (row,) = reader.runs().rows
        return row

    def events(self) -> tuple[EventRow, ...]:
        """Every event of the one run."""
        with Reader(self.folder / "journal.sqlite") as reader:
            return reader.events(reader.runs().rows[0].id)

    def station_events(self) -> list[str]:
        """Kinds of the latest events, whatever they belong to, in order."""
        with Reader(self.folder / "journal.sqlite") as reader:
            return [event.kind for event in reader.latest_events("sink-1", limit=1000)][::-1]

    def samples(self) -> tuple[Sample, ...]:
        """Every reading of the one run."""
        with Reader(self.folder / "journal.sqlite") as reader:
            return tuple(reader.samples(reader.runs().rows[0].id))

    def problems(self) -> tuple[str, ...]:
        """What the journal's own check finds wrong."""
        with Reader(self.folder / "journal.sqlite") as reader:
            problems = reader.health(check=True).problems
        return ("not all was looked at",) if problems is None else problems


def conditions(events: Iterable[EventRow]) -> list[str]:
    """The conditions that the probes went through, in order."""
    return [str(event.detail["condition"]) for event in events if event.kind == "probe-condition"]


def late_seconds(events: Iterable[EventRow]) -> list[float]:
    """How late each event of the schedule was taken, with its cue."""
    cues = {"agitate", "rest", "drain", "prepare-next", "next-now"}
    return [
        float(event.detail["late_seconds"])  # type: ignore[arg-type]  # the station writes a number
        for event in events
        if event.detail.get("cue") in cues
    ]


Make = Callable[..., Roll]
