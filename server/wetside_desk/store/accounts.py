"""The teacher's passphrase and the sessions that it opens."""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
from contextlib import suppress
from dataclasses import dataclass

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from wetside.errors import JournalUnavailable
from wetside_desk.store.database import Database

SHORTEST_PASSPHRASE = 10
LONGEST_PASSPHRASE = 200

#: A session that nobody uses ends after this time, and every session after the second.
IDLE_SECONDS = 8 * 3600.0
SESSION_SECONDS = 14 * 86400.0
#: A key for programs lasts this long.
KEY_SECONDS = 400 * 86400.0
_LASTS = {"teacher": SESSION_SECONDS, "key": KEY_SECONDS}
#: ``seen`` is written at most this often, so that looking around does not wear the card.
_SEEN_EVERY_SECONDS = 300.0

# OWASP's smallest recommended argon2id: 19 MiB, two passes, one lane. One at a time (below),
# so that a Pi with 512 MB never needs more than this for sign-ins.
_HASHER = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A session in force; ``form`` is the token that its forms carry."""

    digest: str
    kind: str
    name: str
    form: str
    seen: float
    expires: float


def _digest(token: str) -> str:
    return hashlib.sha256(f"session:{token}".encode()).hexdigest()


def hashed_passphrase(database: Database) -> str:
    """The passphrase as it is kept, empty before it was set."""
    with database.read() as connection:
        row = connection.execute("SELECT value FROM secret WHERE name = 'passphrase'").fetchone()
    return "" if row is None else str(row[0])


def claimed(database: Database) -> bool:
    """Whether a passphrase was set."""
    return bool(hashed_passphrase(database))


def set_passphrase(database: Database, passphrase: str) -> None:
    """Set or replace the passphrase; every session ends.

    Raises
    ------
    ValueError
        Too short or too long.
    """
    if not SHORTEST_PASSPHRASE <= len(passphrase) <= LONGEST_PASSPHRASE:
        raise ValueError(
            f"a passphrase has {SHORTEST_PASSPHRASE} to {LONGEST_PASSPHRASE} characters; "
            f"four words in a row are good and easy to type"
        )
    with _ONE_AT_A_TIME:
        hashed = _HASHER.hash(passphrase)
    with database.transaction() as connection:
        connection.execute(
            "INSERT OR REPLACE INTO secret (name, value) VALUES ('passphrase', ?)", (hashed,)
        )
        connection.execute("DELETE FROM session WHERE kind = 'teacher'")


def forget_passphrase(database: Database) -> None:
    """Remove the passphrase and every session and key."""
    with database.transaction() as connection:
        connection.execute("DELETE FROM secret WHERE name = 'passphrase'")
        connection.execute("DELETE FROM session")


def passphrase_fits(database: Database, passphrase: str) -> bool:
    """Whether this is the passphrase; slow on purpose, and one at a time."""
    kept = hashed_passphrase(database)
    if not kept or len(passphrase) > LONGEST_PASSPHRASE:
        return False
    with _ONE_AT_A_TIME:
        try:
            return _HASHER.verify(kept, passphrase)
        except (VerificationError, InvalidHashError):
            return False


def open_session(database: Database, name: str, kind: str = "teacher") -> str:
    """A new session; gives its token, which is not kept."""
    token = secrets.token_urlsafe(32)
    now = time.time()
    with database.transaction() as connection:
        connection.execute(
            "INSERT INTO session (digest, kind, name, form, created, seen, expires) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (
                _digest(token),
                kind,
                name[:80],
                secrets.token_urlsafe(24),
                now,
                now,
                now + _LASTS[kind],
            ),
        )
    return token


def session_of(
    database: Database, token: str, kind: str = "teacher", *, used: bool = True
) -> SignedIn | None:
    """The session of a token, or None when there is none in force.

    ``used`` says that it is used now, so that it does not idle out.
    """
    now = time.time()
    with database.read() as connection:
        row = connection.execute(
            "SELECT digest, kind, name, form, seen, expires FROM session "
            "WHERE digest = ? AND kind = ?",
            (_digest(token), kind),
        ).fetchone()
    if row is None:
        return None
    found = SignedIn(*row)
    if not in_force(found, now):
        return None
    if used and not 0.0 <= now - found.seen <= _SEEN_EVERY_SECONDS:
        # where it cannot be written now, on a full disk say, pages are shown all the same
        with suppress(JournalUnavailable), database.transaction() as connection:
            connection.execute(
                "UPDATE session SET seen = ?, expires = MIN(expires, ?) WHERE digest = ?",
                (now, now + _LASTS[kind], found.digest),
            )
    return found


def sessions(database: Database) -> list[SignedIn]:
    """All sessions in force, the last used first."""
    now = time.time()
    with database.read() as connection:
        found = connection.execute(
            "SELECT digest, kind, name, form, seen, expires FROM session ORDER BY seen DESC"
        ).fetchall()
    return [one for one in (SignedIn(*row) for row in found) if in_force(one, now)]


def in_force(found: SignedIn, now: float) -> bool:
    """Whether a session or key opens anything at this Unix time."""
    idle = found.kind == "teacher" and now - found.seen > IDLE_SECONDS
    return now <= found.expires and not idle


def prune(database: Database, now: float) -> None:
    """Remove sessions and keys that are over; ``now`` is Unix time of a clock to be trusted.

    Those that were made while the clock stood ahead end as if they had been made now.
    """
    with database.transaction() as connection:
        connection.executemany(
            "UPDATE session SET seen = MIN(seen, ?), expires = MIN(expires, ?) WHERE kind = ?",
            [(now, now + lasts, kind) for kind, lasts in _LASTS.items()],
        )
        connection.execute(
            "DELETE FROM session WHERE expires < ? OR (kind = 'teacher' AND seen < ?)",
            (now, now - IDLE_SECONDS),
        )


def revoke(database: Database, digest: str) -> bool:
    """End a session; whether there was one."""
    with database.transaction() as connection:
        return connection.execute("DELETE FROM session WHERE digest = ?", (digest,)).rowcount > 0
