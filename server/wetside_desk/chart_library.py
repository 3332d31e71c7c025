"""The chart library that the browser loads: Chart.js, out of the installed package chartkick.

Nothing of it is copied into this project; docs/decisions/0601 says why this one.
"""

from __future__ import annotations

import gzip
import hashlib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

_FILES = ("django", "static", "chartkick", "Chart.bundle.js")


@dataclass(frozen=True, slots=True)
class Library:
    """The script, plain and compressed once, with a tag of its content."""

    plain: bytes
    packed: bytes
    tag: str


@lru_cache(maxsize=1)
def library() -> Library | None:
    """The script, or None when the package is not installed: pages then keep their SVG."""
    try:
        file = resources.files("chartkick").joinpath(*_FILES)
        plain = file.read_bytes()
    except (ModuleNotFoundError, OSError):
        return None
    return Library(plain, gzip.compress(plain, 9, mtime=0), hashlib.sha256(plain).hexdigest()[:16])
