"""What a class usually is in this room: sinks, tanks, the sheet. Kept with the preferences."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, dataclass, fields

from wetside_desk.store.database import Database

_PREFIX = "class."


@dataclass(frozen=True, slots=True)
class ClassPlan:
    """The usual class.

    ``stations`` are sink positions with a device; ``ready_minutes`` is how long after the bell
    the first developer is ready, ``again_minutes`` how long after one film hangs the next one is,
    None for as long as the first took.
    """

    sheet: str = ""
    stations: int = 1
    tanks_per_station: int = 1
    students_per_tank: int = 1
    ready_minutes: int = 10
    again_minutes: int | None = None

    @property
    def tempering_again(self) -> int:
        """Minutes from one film hanging until the next developer is ready."""
        return self.ready_minutes if self.again_minutes is None else self.again_minutes


#: What people read beside each field, and what a message calls it.
LABELS = {
    "sheet": "Usual sheet",
    "stations": "Sinks with a device",
    "tanks_per_station": "Tanks at once at each",
    "students_per_tank": "Students to a tank",
    "ready_minutes": "Minutes from the bell until the developer is ready",
    "again_minutes": "Minutes to temper each later roll",
}

_LIMITS = {
    "stations": (1, 30),
    "tanks_per_station": (1, 8),
    "students_per_tank": (1, 8),
    "ready_minutes": (0, 180),
    "again_minutes": (0, 180),
}


def changed(values: dict[str, str]) -> ClassPlan:
    """A plan from texts; what is not given has its default.

    Raises
    ------
    ValueError
        A number that cannot be.
    """
    made: dict[str, str | int] = {}
    for field in fields(ClassPlan):
        text = values.get(field.name, "").strip()
        if field.name == "sheet":
            made[field.name] = text[:40]
        elif text:
            least, most = _LIMITS[field.name]
            if not text.isdecimal() or not least <= int(text) <= most:
                said = f"“{LABELS[field.name]}” is a whole number from {least} to {most}"
                raise ValueError(f"{said}, not {text!r}")
            made[field.name] = int(text)
    return ClassPlan(**made)  # type: ignore[arg-type]  # each was made for its field above


def load(database: Database) -> ClassPlan:
    """The plan; an entry that cannot be read counts as not given."""
    with database.read() as connection:
        rows = connection.execute(
            "SELECT name, value FROM preference WHERE name LIKE ?", (f"{_PREFIX}%",)
        ).fetchall()
    try:
        return changed({name.removeprefix(_PREFIX): value for name, value in rows})
    except ValueError:
        return ClassPlan()


def shown(plan: ClassPlan) -> dict[str, str]:
    """The text of each field of its form, empty where nothing is said."""
    return {name: "" if value is None else str(value) for name, value in asdict(plan).items()}


def save(database: Database, plan: ClassPlan, names: Collection[str] | None = None) -> None:
    """Keep the plan, or only those of its fields that are named."""
    with database.transaction() as connection:
        connection.executemany(
            "INSERT OR REPLACE INTO preference (name, value) VALUES (?, ?)",
            [
                (_PREFIX + name, value)
                for name, value in shown(plan).items()
                if names is None or name in names
            ],
        )
