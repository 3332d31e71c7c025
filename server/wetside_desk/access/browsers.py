"""Browsers that signed in before, so that a flood by others does not keep the teacher out.

Each carries a cookie that the desk sealed with the passphrase's own hash. The desk keeps nothing
of them, and with another passphrase all seals are void.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

from wetside_desk.store import accounts
from wetside_desk.store.database import Database

COOKIE = "known"
LASTS_SECONDS = 400 * 86400


def made(database: Database) -> str:
    """The cookie of a browser that signs in the first time."""
    name = secrets.token_hex(12)
    return f"{name}.{_seal(database, name)}"


def known(database: Database, cookie: str) -> str:
    """The name of the browser that carries this cookie; empty for any other."""
    name, _, seal = cookie.partition(".")
    good = hmac.compare_digest(seal.encode(), _seal(database, name).encode())
    return name if good else ""


def _seal(database: Database, name: str) -> str:
    key = accounts.hashed_passphrase(database).encode()
    return hmac.new(key, f"browser:{name}".encode(), hashlib.sha256).hexdigest()
