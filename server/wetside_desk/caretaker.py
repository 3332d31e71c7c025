"""What the desk does by itself every few seconds: notes to the display, old labels removed.

The station shows two notes that the desk leaves in the folder they share:

* ``claim.json`` until a passphrase is set (see `wetside_desk.access.claim`);
* ``label.json`` after a run ended, for as long as its link is valid:

    {"format": 1, "run": "01K...", "url": "HTTP://192.168.1.20:8470/L/7K2M9QXA4D3F",
     "expires": 1764000000.0, "qr": ["1111111...", ...]}
"""

from __future__ import annotations

import asyncio
import logging
import socket
import time
from urllib.parse import urlsplit

from wetside.errors import JournalError
from wetside.journal.reader import Reader
from wetside_desk import qr
from wetside_desk.access.claim import Claim, write_note
from wetside_desk.bells.periods import Keeper
from wetside_desk.review import OPEN_WORDS
from wetside_desk.settings import DeskSettings
from wetside_desk.shelf.counting import Counter
from wetside_desk.store import accounts, audit, labels, preferences
from wetside_desk.store.database import Database

_log = logging.getLogger("wetside_desk")

EVERY_SECONDS = 3.0
_CLEAN_EVERY_SECONDS = 3600.0
_DAY_SECONDS = 86400.0


def address_of(settings: DeskSettings) -> str:
    """The address that a phone on the same network can open.

    Asks the system which of its addresses it would use towards another network; nothing is
    sent. 192.0.2.1 is an address for documentation (RFC 5737).
    """
    if settings.address:
        return settings.address.rstrip("/")
    host = settings.host
    if host in {"0.0.0.0", "::"}:  # noqa: S104  # compared, not bound
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
            try:
                asked.connect(("192.0.2.1", 9))
                host = asked.getsockname()[0]
            except OSError:
                host = "127.0.0.1"
    return f"http://{host}:{settings.port}"


class Caretaker:
    """Runs `look` again and again. ``address`` is where phones find the desk."""

    def __init__(
        self,
        settings: DeskSettings,
        reader: Reader,
        database: Database,
        claim: Claim,
        address: str,
        counter: Counter | None = None,
        periods: Keeper | None = None,
    ) -> None:
        self._reader = reader
        self._database = database
        self._claim = claim
        self._file = settings.live_folder / "label.json"
        self._address = address
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
            await asyncio.sleep(EVERY_SECONDS)

    def look(self, now: float | None = None) -> None:
        """One round."""
        now = time.time() if now is None else now
        if accounts.claimed(self._database):
            self._claim.hide()
        elif self._claim.file.parent.is_dir():
            self._claim.show()
        if now >= self._clean_at:
            self._clean_at = now + _CLEAN_EVERY_SECONDS
            self.clean(now)
        self._offer(now)
        if self._counter is not None:
            self._counter.look()
        if self._periods is not None:
            self._periods.look()

    def clean(self, now: float) -> int:
        """Remove labels and audit entries that are old enough; gives the number of labels."""
        days = preferences.load(self._database).retention_days
        gone = labels.expire(self._database, now - days * _DAY_SECONDS)
        if gone:
            audit.add(self._database, "the desk", "old labels removed", f"{gone} labels")
        audit.prune(self._database, now)
        return gone

    def _offer(self, now: float) -> None:
        rows = self._reader.runs(limit=1).rows
        latest = rows[0] if rows else None
        wanted = (
            latest is not None
            and latest.state not in OPEN_WORDS
            and latest.ended is not None
            and abs(now - latest.ended.wall_seconds) < labels.LINK_SECONDS
            and labels.of_run(self._database, latest.id) is None
            and self._file.parent.is_dir()
        )
        if not wanted or latest is None:
            if self._linked is not None:
                self._file.unlink(missing_ok=True)
                self._linked = None
            return
        if self._linked == latest.id and now < self._expires:
            return
        token, self._expires = labels.new_link(self._database, latest.id, now)
        self._linked = latest.id
        parts = urlsplit(self._address)
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
