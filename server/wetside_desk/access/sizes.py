"""How large a body each address takes. Pure."""

from __future__ import annotations

import re

from wetside_desk.files import papers

FORM_BYTES = 64 * 1024
#: A form that is carried through the sign-in; the names of its fields grow there.
CARRIED_BYTES = FORM_BYTES - 8 * 1024
#: A file as text: in a form the end of a line has six bytes, any other byte at most three.
TEXT_BYTES = 6 * papers.LARGEST_BYTES + FORM_BYTES
BACKUP_BYTES = 512 * 1024 * 1024

_TEXT = re.compile(r"/(?:shelf|bells|sheets/[^/]+)/text")


def largest(path: str) -> int:
    """The largest body that is taken at this path, in bytes."""
    if path == "/settings/restore":
        return BACKUP_BYTES
    return TEXT_BYTES if _TEXT.fullmatch(path) else FORM_BYTES
