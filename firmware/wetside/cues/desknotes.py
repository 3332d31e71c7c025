"""What the desk wants on the display: a code, an address, a page for labels. Values only.

Modules of a QR code are one text a row, ``1`` for dark, without the quiet zone around them.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Claim:
    """The desk has no passphrase yet: its one-time code, where to type it, the same as QR."""

    code: str
    address: str
    qr: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LabelPage:
    """The page on which the run ``run`` gets its label; whoever has ``url`` may give it."""

    run: str
    url: str
    qr: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Address:
    """Where the desk answers.

    ``address`` is made of numbers, so that it works where names do not. ``name`` is the same
    by name, empty where there is none. ``fingerprint`` is the SHA-256 of the certificate that
    the desk made itself, 64 hexadecimal digits, empty where it has none.
    """

    address: str
    name: str
    fingerprint: str
    qr: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DeskNotes:
    """All that the desk wants shown now; None for what it does not."""

    claim: Claim | None = None
    label: LabelPage | None = None
    address: Address | None = None
