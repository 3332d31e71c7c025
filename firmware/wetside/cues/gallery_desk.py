"""Screens that lead to the desk, for the gallery. Pure.

The modules were made by segno from the addresses beside them; tests read them back.
"""

from __future__ import annotations

from dataclasses import replace

from wetside.cues.desknotes import Address, Claim, DeskNotes, LabelPage
from wetside.cues.posing import Scene
from wetside.cues.snapshot import Snapshot


def _rows(size: int, text: str) -> tuple[str, ...]:
    """Rows of modules from hexadecimal numbers."""
    return tuple(f"{int(row, 16):0{size}b}" for row in text.split())


# fmt: off
#: HTTP://192.168.1.20:8470/L/7K2M9QXA4D3F
_LABEL_ROWS = _rows(25,
    "1fded7f 1043b41 174a05d 1747a5d 174735d 104ba41 1fd557f 0019400 1b49d41 1b35dfc 06fab91 "
    "058032a 19edca2 1835194 1ec4b64 11839eb 13629f7 0017718 1fc975e 1040316 175fffd 175dd87 "
    "1748e23 1059572 1fda597 "
)
#: HTTP://192.168.1.20:8470/FIRST-START
_CLAIM_ROWS = _rows(25,
    "1fc997f 1053c41 175f25d 174e55d 175055d 105ad41 1fd557f 0019b00 1a64b76 02b6e03 165c93b "
    "1590cd5 1651e08 041f26b 12e1dce 0f0d614 18df7fd 0014517 1fd1555 104a91b 174c5f7 175ce78 "
    "174a489 1050e8d 1fdef3d "
)
#: HTTPS://192.168.1.20:8470
_ADDRESS_ROWS = _rows(21,
    "1fcd7f 105641 17595d 17425d 17565d 105b41 1fd57f 001c00 1a6576 12958f 1364c2 1314b9 "
    "19c971 001d03 1fd515 104862 1747c4 175c0b 174d61 1058d9 1fda20 "
)
# fmt: on

LABEL = LabelPage("gallery", "HTTP://192.168.1.20:8470/L/7K2M9QXA4D3F", _LABEL_ROWS)
CLAIM = Claim("7K2M-9QXA", "http://192.168.1.20:8470/first-start", _CLAIM_ROWS)
ADDRESS = Address(
    "https://192.168.1.20:8470",
    "https://sink-1.local:8470",
    "5E0C93A1B7D24F6689E01B3C7A55D0F24C18E96B03A7DD5F2190B46E8C7F3A1D",
    _ADDRESS_ROWS,
)


def desk(idle: Snapshot, finished: Snapshot) -> list[Scene]:
    """Every screen that leads to the desk; ``finished`` has just ended."""
    first = replace(idle, desk=DeskNotes(claim=CLAIM, address=ADDRESS), now=0.0)
    asked = replace(idle, desk=DeskNotes(address=ADDRESS), address_asked=0.0)
    label = replace(finished, desk=DeskNotes(label=LABEL), now=finished.now + 8.0)
    return [
        Scene("first-start", "The desk has no passphrase yet.", first),
        Scene("first-start-code", "Eight seconds later.", replace(first, now=8.0)),
        Scene("label", "A student scans it to give the roll a label.", label),
        Scene("address", "Somebody held wait between two rolls.", asked),
        Scene("address-words", "Eight seconds later.", replace(asked, now=8.0)),
        Scene(
            "certificate", "And later, where the desk made a certificate.", replace(asked, now=16.0)
        ),
        Scene("address-none", "The same while no desk answers.", replace(asked, desk=DeskNotes())),
    ]
