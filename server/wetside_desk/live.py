"""What the station says right now: one small file that it replaces about twice a second.

The file is read tolerantly. A newer station may add members; an older one may leave some
out; a member of the wrong shape makes the file unusable, and the desk says so instead of
showing half of it.
"""

import asyncio
import logging
import time
from collections.abc import AsyncGenerator, Callable
from enum import StrEnum
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

_log = logging.getLogger("wetside_desk")

#: A live file older than this means that the station does not run.
SILENT_AFTER_SECONDS = 5.0

#: How often the file is looked at while somebody watches.
LOOK_EVERY_SECONDS = 0.2

#: So long after the last word somebody who watches is told that it still holds.
STILL_EVERY_SECONDS = 5.0

#: A live file larger than this is not one (a full one has about 3 KB).
LARGEST_BYTES = 256 * 1024


class _Part(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True, allow_inf_nan=False)


class LiveSheet(_Part):
    """The sheet of the run that is open."""

    name: str
    title: str = ""


class LiveStep(_Part):
    """The step that is going on; ``planned_seconds`` is null while tempering."""

    index: int = 0
    kind: str
    solution: str | None = None
    planned_seconds: float | None = None
    elapsed_seconds: float = 0.0
    agitating: bool = False


class LiveTemperature(_Part):
    """Believed temperature with its standard deviation, both in degrees Celsius."""

    celsius: float
    sd: float = 0.0


class LiveQuantiles(_Part):
    """Seconds from now; null = beyond one hour or never."""

    p05: float | None = None
    p50: float | None = None
    p95: float | None = None


class LiveOutlook(_Part):
    """The forecast as the replay contract (docs/replay.md) describes it."""

    seconds: float = 0.0
    developer: LiveTemperature | None = None
    bath: LiveTemperature | None = None
    ready_in: LiveQuantiles = LiveQuantiles()
    leaves_in: LiveQuantiles = LiveQuantiles()
    never: float = 0.0
    faults: tuple[str, ...] = ()


class LiveScreen(_Part):
    """The words on the display, for eyes that do not see the picture; ``text`` has all of them."""

    name: str = ""
    head: str = ""
    big: str = ""
    lines: tuple[str, ...] = ()
    text: str = ""


class LiveProbe(_Part):
    """Whether the probes were corrected against a reference, and what they can promise.

    ``sd_celsius`` is the standard deviation of the worst probe's lasting error;
    ``promised_celsius`` is the tolerance that it holds 19 times in 20.
    """

    corrected: bool = False
    sd_celsius: float | None = None
    promised_celsius: float | None = None


class LiveWay(_Part):
    """A way to bring the developer into the window; ``ready_in`` in seconds once it is done."""

    words: str = ""
    ready_in: float | None = None


class LiveAdvice(_Part):
    """What to do about the bath, best first."""

    ways: tuple[LiveWay, ...] = ()


class LiveCue(_Part):
    """The last cue that was given."""

    name: str
    at: float | None = None


class Live(_Part):
    """One state of the station.

    ``at`` is monotonic seconds of the boot ``boot``; ``wall`` is Unix time, believable when
    ``trusted``. ``only_a_dip_tells``: the developer may be ready by now, or past it, and nobody
    has looked. ``picture`` is base64 of 1024 bytes: 64 rows of 16 bytes, leftmost pixel in
    the most significant bit.
    """

    format: int = Field(default=1, le=1)
    station: str = ""
    version: str = ""
    at: float = 0.0
    boot: str = ""
    wall: float = 0.0
    trusted: bool = False
    state: str = "idle"
    run: str | None = None
    sheet: LiveSheet | None = None
    step: LiveStep | None = None
    next: str | None = None
    outlook: LiveOutlook | None = None
    only_a_dip_tells: bool = False
    places: dict[str, str] = Field(default_factory=dict)
    probe: LiveProbe | None = None
    troubles: dict[str, str] = Field(default_factory=dict)
    flags: tuple[str, ...] = ()
    screen: LiveScreen = LiveScreen()
    dark: bool = False
    picture: str = ""
    advice: LiveAdvice | None = None
    last_cue: LiveCue | None = None
    warnings: tuple[str, ...] = ()


class Presence(StrEnum):
    """Whether the station can be heard."""

    RUNNING = "running"
    SILENT = "silent"
    ABSENT = "absent"
    UNREADABLE = "unreadable"


class StationNow(BaseModel):
    """The answer of /v1/station and each event of /v1/live.

    ``presence`` says whether the station runs; ``age_seconds`` is the age of what it said
    last, and ``live`` is that, null when nothing can be read.
    """

    model_config = ConfigDict(frozen=True)

    presence: Presence
    says: str
    age_seconds: float | None = None
    live: Live | None = None


def _ago(seconds: float) -> str:
    for size, name in ((86400, "days"), (3600, "hours"), (60, "minutes")):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {name}"
    return f"{seconds:.0f} seconds"


def read(file: Path, now: float | None = None) -> StationNow:
    """Read the live file; ``now`` is Unix time, taken from the system when not given."""
    try:
        written = file.stat().st_mtime
        with file.open("rb") as stream:
            text = stream.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        return StationNow(
            presence=Presence.ABSENT, says=f"The station is not running: there is no {file}."
        )
    except OSError as error:
        return StationNow(presence=Presence.UNREADABLE, says=f"{file} cannot be read: {error}.")
    age = (time.time() if now is None else now) - written
    if len(text) > LARGEST_BYTES:
        return StationNow(
            presence=Presence.UNREADABLE,
            says=f"{file} is too large to be a live file.",
            age_seconds=max(age, 0.0),
        )
    try:
        live = Live.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        return StationNow(
            presence=Presence.UNREADABLE,
            says=f"{file} cannot be used: {place or 'content'}: {first['msg']}.",
            age_seconds=max(age, 0.0),
        )
    if age > SILENT_AFTER_SECONDS:
        return StationNow(
            presence=Presence.SILENT,
            says=f"The station is not running: it last spoke {_ago(age)} ago.",
            age_seconds=age,
            live=live,
        )
    return StationNow(
        presence=Presence.RUNNING,
        says=f"Station {live.station} is running.",
        age_seconds=max(age, 0.0),
        live=live,
    )


class Relay:
    """Reads the live file once for everybody who watches.

    `watch` yields the serial number and the text of each new state; ``text`` makes it. The
    file is looked at only while somebody watches, by one task, however many watch. A look that
    fails is repeated, and until one succeeds nobody is told that all is as it was.
    """

    def __init__(
        self,
        file: Path,
        text: Callable[[StationNow], str] = StationNow.model_dump_json,
        every_seconds: float = LOOK_EVERY_SECONDS,
        still_seconds: float = STILL_EVERY_SECONDS,
    ) -> None:
        self._file = file
        self._make = text
        self._every = every_seconds
        self._still = still_seconds
        self._failed = False
        self._watchers = 0
        self._serial = 0
        self._text = ""
        self._changed = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    async def watch(self) -> AsyncGenerator[tuple[int, str | None], None]:
        """The state now, then every new one, for as long as it is asked for.

        None in place of a text says that the one before still holds.
        """
        self._watchers += 1
        if self._task is None or self._task.done():
            self._task = asyncio.create_task(self._look())
        seen = 0
        try:
            while True:
                changed = self._changed
                if self._serial != seen and self._text:
                    seen = self._serial
                    yield seen, self._text
                    continue
                try:
                    await asyncio.wait_for(changed.wait(), self._still)
                except TimeoutError:
                    if self._text and not self._failed:
                        yield seen, None
        finally:
            self._watchers -= 1
            if self._watchers == 0 and self._task is not None:
                self._task.cancel()
                self._task = None

    async def _look(self) -> None:
        last: tuple[int | None, int, bool] | None = None
        while True:
            try:
                stat = self._file.stat()
                silent = time.time() - stat.st_mtime > SILENT_AFTER_SECONDS
                mark: tuple[int | None, int, bool] = (stat.st_mtime_ns, stat.st_ino, silent)
            except OSError as error:
                mark = (error.errno, 0, True)
            if mark != last or self._failed:
                self._tell(repeated=mark == last)
                last = mark
            await asyncio.sleep(self._every)

    def _tell(self, *, repeated: bool) -> None:
        """Make the text anew; a mistake in that is no reason to look no more."""
        try:
            self._say(self._make(read(self._file)))
            self._failed = False
        except Exception:  # noqa: BLE001  # whatever it was, the next look may go well
            self._failed = True
            if not repeated:
                _log.exception("the board cannot be told of %s", self._file)

    def _say(self, text: str) -> None:
        self._text = text
        self._serial += 1
        changed, self._changed = self._changed, asyncio.Event()
        changed.set()
