"""Screens that lead to the desk: first start, the label of a roll, the desk's address. Pure.

They stand by turns with the screen of the state, and never while a run is open.
"""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import urlsplit

from wetside.cues.codes import room_beside
from wetside.cues.desknotes import Address, Claim, LabelPage
from wetside.cues.lettering import wrap
from wetside.cues.notice import Notice
from wetside.cues.panels import ROOM
from wetside.cues.snapshot import Snapshot
from wetside.session.machine import OPEN_STATES
from wetside.session.run import State

#: A press that asks for the address shows it for so long.
ADDRESS_SECONDS = 40.0
#: After a press the first start leaves the screen to whoever chooses a sheet.
TOUCHED_SECONDS = 20.0
_TURN_SECONDS = 8.0
_WORDS_SECONDS = 8.0
_LABEL_SECONDS = 24.0

_SIGNS_IN_A_ROW = 16


def instead(snapshot: Snapshot) -> Notice | None:
    """What stands in place of the screen of the state now, or None."""
    session, notes = snapshot.session, snapshot.desk
    if session.state in OPEN_STATES:
        return None
    asked = snapshot.address_asked
    if asked is not None and 0 <= snapshot.now - asked < ADDRESS_SECONDS:
        return _address(notes.address, snapshot.now - asked)
    if session.state is State.FINISHED and _labels_this(snapshot):
        assert notes.label is not None  # noqa: S101  # it is this run's
        since = since_end(snapshot) % (_WORDS_SECONDS + _LABEL_SECONDS)
        return None if since < _WORDS_SECONDS else _label(notes.label)
    touched = snapshot.touched
    if session.state is State.IDLE and notes.claim is not None:
        if touched is not None and 0 <= snapshot.now - touched < TOUCHED_SECONDS:
            return None
        turn = int(snapshot.now / _TURN_SECONDS) % 3
        return (_claim_words(notes.claim), _claim_code(notes.claim), None)[turn]
    return None


def since_end(snapshot: Snapshot) -> float:
    """Seconds since the last step of the run ended."""
    steps = snapshot.session.steps
    ended = steps[-1].ended if steps else None
    return 0.0 if ended is None else max(0.0, snapshot.now - ended)


def words_seconds(snapshot: Snapshot) -> float:
    """How long the words of a finished run have stood, without the turns of the label's code."""
    since = since_end(snapshot)
    if not _labels_this(snapshot):
        return since
    rounds, part = divmod(since, _WORDS_SECONDS + _LABEL_SECONDS)
    return rounds * _WORDS_SECONDS + min(part, _WORDS_SECONDS)


def _labels_this(snapshot: Snapshot) -> bool:
    label = snapshot.desk.label
    return label is not None and label.run == snapshot.session.run


def _label(label: LabelPage) -> Notice:
    notice = Notice(
        "label",
        head="this roll",
        big="LABEL",
        lines=("scan with", "a phone"),
        secret=True,
    )
    if room_beside(label.qr):
        return replace(notice, code=label.qr)
    parts = urlsplit(label.url)
    written = spoken(label.url) + parts.path
    return replace(notice, big="", lines=wrap(written, ROOM)[:4])


def _claim_words(claim: Claim) -> Notice:
    return Notice(
        "first-start",
        head="first start",
        big=claim.code,
        lines=("type this code at", *wrap(spoken(claim.address), ROOM)[:2]),
        secret=True,
    )


def _claim_code(claim: Claim) -> Notice | None:
    if not room_beside(claim.qr):
        return None
    first, _, second = claim.code.partition("-")
    return Notice(
        "first-start-code",
        head="first start",
        lines=("scan, type", first, second),
        code=claim.qr,
        secret=True,
    )


def _address(address: Address | None, since: float) -> Notice:
    if address is None:
        return Notice("address", head="the desk", big="no desk", lines=("it does not answer now",))
    pages = [_address_words(address)]
    if room_beside(address.qr):
        host = urlsplit(address.address).netloc
        room = room_beside(address.qr)
        name, _, port = host.rpartition(":")
        lines = (*wrap(name, room)[:3], f":{port}") if port.isdigit() else wrap(host, room)[:3]
        pages.insert(0, Notice("address", head="the desk", lines=lines, code=address.qr))
    if address.fingerprint:
        signs = address.fingerprint
        rows = [signs[at : at + _SIGNS_IN_A_ROW] for at in range(0, len(signs), _SIGNS_IN_A_ROW)]
        pages.append(
            Notice(
                "certificate",
                head="certificate, SHA-256",
                lines=tuple(
                    " ".join(row[at : at + 4] for at in range(0, len(row), 4)) for row in rows
                ),
            )
        )
    return pages[int(since / _TURN_SECONDS) % len(pages)]


def _address_words(address: Address) -> Notice:
    lines = [*wrap(spoken(address.address), ROOM)[:2]]
    if address.name:
        lines += ["or", *wrap(spoken(address.name), ROOM)[:2]]
    return Notice("address-words", head="the desk, in a browser", lines=tuple(lines[:4]))


def spoken(address: str) -> str:
    """An address as people type it: no path, and no scheme where browsers add it themselves."""
    parts = urlsplit(address)
    return (
        parts.netloc.lower()
        if parts.scheme.lower() == "http"
        else (f"{parts.scheme}://{parts.netloc}".lower())
    )
