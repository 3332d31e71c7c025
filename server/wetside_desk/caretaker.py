"""What the desk does by itself every few seconds: notes to the display, old labels removed.

The station shows three notes that the desk leaves in the folder they share:

* ``claim.json`` until a passphrase is set (see `wetside_desk.access.claim`);
* ``label.json`` after a run ended, for as long as its link is valid:

    {"format": 1, "run": "01K...", "url": "HTTP://192.168.1.20:8470/L/7K2M9QXA4D3F",
     "expires": 1764000000.0, "qr": ["1111111...", ...]}

* ``address.json`` for as long as the desk runs:

    {"format": 1, "address": "https://192.168.1.20:8470", "name": "https://sink-1.local:8470",
     "fingerprint": "5E0C93A1...", "qr": ["1111111...", ...]}

``name`` is empty where the machine is not announced, ``fingerprint`` where the desk made no
certificate.
"""

from __future__ import annotations

import asyncio
import logging
import time
from urllib.parse import urlsplit

from wetside.errors import JournalError, JournalUnavailable
from wetside.journal.reader import Reader
from wetside.journal.schema import RunRow
from wetside_desk import live, qr, schooltime, whereabouts
from wetside_desk.access.certificate import CertificateKeeper
from wetside_desk.access.claim import Claim, write_note
from wetside_desk.bells.periods import PeriodKeeper
from wetside_desk.review import OPEN_WORDS
from wetside_desk.settings import DeskSettings
from wetside_desk.shelf.counting import Counter
from wetside_desk.store import accounts, audit, labels, preferences, uses
from wetside_desk.store.database import Database

_log = logging.getLogger("wetside_desk")

EVERY_SECONDS = 3.0
_CLEAN_EVERY_SECONDS = 3600.0
_DAY_SECONDS = 86400.0


class Caretaker:
    """Runs `look` again and again.

    Where phones find the desk is found anew each time, because the network may come, or give
    another, while the desk runs. ``certificate`` is None where the desk makes none itself.
    """

    def __init__(
        self,
        settings: DeskSettings,
        reader: Reader,
        database: Database,
        claim: Claim,
        counter: Counter,
        periods: PeriodKeeper,
        certificate: CertificateKeeper | None,
    ) -> None:
        self._reader = reader
        self._database = database
        self._claim = claim
        self._file = settings.live_folder / "label.json"
        self._address_file = settings.live_folder / "address.json"
        self._settings = settings
        self._certificate = certificate
        self._told: dict[str, object] = {}
        self._counter = counter
        self._periods = periods
        self._linked: str | None = None
        self._expires = 0.0
        self._clean_at = 0.0

    async def run(self) -> None:
        """Until cancelled; a mistake in one look does not end the next."""
        while True:
            try:
                await asyncio.to_thread(self.look)
            except (JournalError, OSError) as error:
                _log.debug("caretaker: %s", error)
            except Exception:  # noqa: BLE001  # the next look removes labels and renews the certificate
                _log.exception("caretaker: this look was broken off")
            await asyncio.sleep(EVERY_SECONDS)

    def look(self, now: float | None = None) -> None:
        """One round."""
        now = time.time() if now is None else now
        address = whereabouts.address_of(self._settings)
        trusted = schooltime.believed(live.read(self._settings.live_file))
        if self._certificate is not None:
            self._renew(self._certificate, now, trusted=trusted)
        self._tell(address)
        if accounts.claimed(self._database):
            self._claim.hide()
        elif self._claim.file.parent.is_dir():
            self._claim.show(address)
        if trusted:
            uses.mend(self._database, now)
            self._tidy(now)
        self._offer(address, now)
        self._counter.count_ended()
        self._periods.look()

    def _tidy(self, now: float) -> None:
        """Clean once an hour, and only by a clock that the station trusts: gone is gone."""
        since = time.monotonic()
        if since < self._clean_at:
            return
        self._clean_at = since + _CLEAN_EVERY_SECONDS
        self.clean(now)

    def clean(self, now: float) -> int:
        """Remove what is old enough: labels, audit entries, sessions; gives the number of labels.

        ``now`` is Unix time of a clock to be trusted.
        """
        days = preferences.load(self._database).retention_days
        gone = labels.expire(self._database, now - days * _DAY_SECONDS, self._made)
        if gone:
            audit.add(self._database, "the desk", "old labels removed", f"{gone} labels")
        audit.prune(self._database, now)
        accounts.prune(self._database, now)
        return gone

    def _made(self, run: str, given: float) -> float:
        """When a film was made: no sooner than it was labelled where the clock was not set."""
        try:
            row = self._reader.run(run)
        except JournalUnavailable:
            if self._settings.journal.exists():  # it comes back, and dates better
                raise
            return given
        if row is None or row.listed_wall_seconds is None:
            return given
        listed = row.listed_wall_seconds
        return listed if row.began.trusted else max(given, listed)

    def take_away(self) -> None:
        """The desk is going: the display shows nothing of it any more."""
        self._claim.hide()
        for file in (self._address_file, self._file):
            file.unlink(missing_ok=True)

    def _renew(self, certificate: CertificateKeeper, now: float, *, trusted: bool) -> None:
        try:
            renewed = certificate.look(now, trusted=trusted)
        except OSError as error:
            _log.error("the certificate cannot be renewed: %s", error)
            return
        if renewed and certificate.made is not None:
            audit.add(
                self._database, "the desk", "certificate renewed", certificate.made.fingerprint
            )

    def _tell(self, address: str) -> None:
        """Tell the display where the desk is."""
        made = self._certificate.made if self._certificate is not None else None
        wanted: dict[str, object] = {
            "format": 1,
            "address": address,
            "name": whereabouts.name_of(self._settings),
            "fingerprint": made.fingerprint if made is not None else "",
        }
        if self._address_file.exists() and wanted == self._told:
            return
        if self._address_file.parent.is_dir():
            write_note(self._address_file, {**wanted, "qr": qr.rows(address.upper())})
            self._told = wanted

    def _just_ended(self, latest: RunRow, now: float) -> bool:
        """Whether the run ended within the life of a link.

        A device without a clock, and a bench whose time runs faster, give no time to compare
        with; there a run has just ended while the display still says so, once.
        """
        if latest.ended is None:
            return False
        ago = now - latest.ended.wall_seconds
        if latest.ended.trusted and ago >= 0:
            return ago < labels.LINK_SECONDS
        if self._linked == latest.id and now >= self._expires:
            return False
        found = live.read(self._settings.live_file)
        running = found.presence is live.Presence.RUNNING
        return running and found.live is not None and found.live.state == "finished"

    def _offer(self, address: str, now: float) -> None:
        rows = self._reader.latest(1)
        latest = rows[0] if rows else None
        wanted = (
            latest is not None
            and latest.state not in OPEN_WORDS
            and self._just_ended(latest, now)
            and labels.of_run(self._database, latest.id) is None
            and self._file.parent.is_dir()
        )
        if not wanted or latest is None:
            self._file.unlink(missing_ok=True)
            return
        in_time = labels.in_time(self._expires, now)
        if self._linked == latest.id and in_time and self._file.exists():
            return
        token, self._expires = labels.new_link(self._database, latest.id, now)
        self._linked = latest.id
        parts = urlsplit(address)
        url = f"{parts.scheme}://{parts.netloc}/L/{token}".upper()
        write_note(
            self._file,
            {
                "format": 1,
                "run": latest.id,
                "url": url,
                "expires": self._expires,
                "qr": qr.rows(url),
            },
        )
