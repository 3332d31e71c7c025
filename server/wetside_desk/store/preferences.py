"""What the teacher chose for this desk."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, dataclass, fields, replace

from wetside.errors import JournalError
from wetside_desk.store.database import Database


@dataclass(frozen=True, slots=True)
class Preferences:
    """Every choice, with its default.

    ``retention_days`` is how long labels are kept; ``board`` is ``open`` (anybody on the
    network sees the live board) or ``teacher``.
    """

    school: str = ""
    temperature: str = "C"
    volume: str = "mL"
    retention_days: int = 365
    board: str = "open"


_CHOICES = {"temperature": {"C", "F"}, "volume": {"mL", "fl oz"}, "board": {"open", "teacher"}}


def load(database: Database) -> Preferences:
    """The preferences; unknown or broken entries count as not given."""
    with database.read() as connection:
        kept = dict(connection.execute("SELECT name, value FROM preference").fetchall())
    found = Preferences()
    for field in fields(Preferences):
        if field.name in kept:
            try:
                found = changed(found, field.name, kept[field.name])
            except ValueError:
                continue
    return found


def known(database: Database) -> Preferences:
    """As `load`; the defaults where the file cannot be read, so that the board stays up."""
    try:
        return load(database)
    except JournalError:
        return Preferences()


def changed(preferences: Preferences, name: str, value: str) -> Preferences:
    """The preferences with one of them read from a form.

    Raises
    ------
    ValueError
        The value is not one of the choices.
    """
    if name in _CHOICES and value not in _CHOICES[name]:
        raise ValueError(f"{name} is one of {', '.join(sorted(_CHOICES[name]))}")
    if name == "retention_days":
        if not value.isdecimal() or not 1 <= int(value) <= 3660:
            raise ValueError("labels are kept for 1 to 3660 days")
        return replace(preferences, retention_days=int(value))
    if name == "school" and len(value) > 60:
        raise ValueError("the school's name has at most 60 characters")
    made = {**asdict(preferences), name: value.strip()}
    return Preferences(**made)


def save(
    database: Database, preferences: Preferences, names: Collection[str] | None = None
) -> None:
    """Keep all of them, or only those that are named."""
    with database.transaction() as connection:
        connection.executemany(
            "INSERT OR REPLACE INTO preference (name, value) VALUES (?, ?)",
            [
                (name, str(value))
                for name, value in asdict(preferences).items()
                if names is None or name in names
            ],
        )
