"""Settings of a backup made fit for this machine: what is where stays as it is here.

With the paths of the machine that the backup was made on, the station would leave the data that
have just been put back and look elsewhere, perhaps into another station's folder.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from wetside import tomlfile
from wetside.errors import SettingsError
from wetside.settings import StationSettings

#: The keys that say where something is.
_PATHS = tuple(
    name
    for name, field in StationSettings.model_fields.items()
    if tomlfile.takes(Path, field.annotation)
)


@dataclass(frozen=True, slots=True)
class Fitted:
    """The text to write; ``stayed`` are keys that this machine has otherwise than the backup."""

    text: str
    stayed: tuple[str, ...] = ()


def fitted(found: Path, here: Path) -> Fitted:
    """Settings of a backup with the paths in force; on a machine without settings as they are.

    Raises
    ------
    SettingsError
        No station starts with one of the two files.
    """
    text = tomlfile.read_text(found, SettingsError)
    tomlfile.parse(text, StationSettings, found.name, SettingsError)
    if not here.exists():
        return Fitted(text)
    try:
        document = tomlkit.parse(text)
        in_force = tomlkit.parse(tomlfile.read_text(here, SettingsError))
    except TOMLKitError as problem:
        raise SettingsError(here, [("", f"not valid TOML: {problem}")]) from None
    stayed = tuple(key for key in _PATHS if document.get(key) != in_force.get(key))
    for key in stayed:
        if key in in_force:
            document[key] = str(in_force[key])
        else:
            document.remove(key)
    return Fitted(tomlkit.dumps(document), stayed)
