"""The one-time code of the first start.

Until a passphrase is set, the desk keeps ``claim.json`` in the folder that it shares with the
station; the station shows its code on the display. Who reads the display stands at the sink,
and that is the proof that is asked for. The file goes when the passphrase is set.

    {"format": 1, "code": "7K2M-9QXA", "address": "http://192.168.1.20:8470/first-start",
     "qr": ["1111111...", ...]}

``qr`` has one text for each row of modules, 1 for dark, without a quiet zone. It holds the
address in capitals, whose code is small enough for the display.
"""

from __future__ import annotations

import hmac
import json
import secrets
import threading
from pathlib import Path

from wetside import wholefile
from wetside_desk import qr
from wetside_desk.store.labels import ALPHABET

_CHARACTERS = 8
#: After so many wrong codes a new one is made.
_WRONG_CODES = 10


class Claim:
    """The code in force, and its note to the station."""

    def __init__(self, folder: Path, address: str) -> None:
        self._file = folder / "claim.json"
        self._address = address
        self._shown_address = ""
        self._guard = threading.Lock()
        self._wrong = 0
        self._code = _new_code()

    @property
    def file(self) -> Path:
        """Where the note to the station lies."""
        return self._file

    def show(self, address: str | None = None) -> None:
        """Put the note where the station finds it, if it is not there or the address is new."""
        self._address = self._address if address is None else address
        if self._file.exists() and self._shown_address == self._address:
            return
        self._shown_address = self._address
        address = f"{self._address}/first-start"
        write_note(
            self._file,
            {"format": 1, "code": self._code, "address": address, "qr": qr.rows(address.upper())},
        )

    def hide(self) -> None:
        """Take the note away."""
        self._file.unlink(missing_ok=True)

    def fits(self, code: str) -> bool:
        """Whether this is the code; after ten wrong ones a new code is shown."""
        with self._guard:
            if hmac.compare_digest(_plain(code).encode(), _plain(self._code).encode()):
                return True
            self._wrong += 1
            if self._wrong >= _WRONG_CODES:
                self._wrong = 0
                self._code = _new_code()
                self.hide()
                self.show()
            return False


def write_note(file: Path, values: dict[str, object]) -> None:
    """Replace a note to the station, whole; readable by owner and group only."""
    wholefile.replace(file, json.dumps(values, separators=(",", ":")), 0o640, durable=False)


def _plain(code: str) -> str:
    return code.upper().replace("-", "").replace(" ", "").replace("O", "0").replace("I", "1")


def _new_code() -> str:
    text = "".join(secrets.choice(ALPHABET) for _ in range(_CHARACTERS))
    return f"{text[:4]}-{text[4:]}"
