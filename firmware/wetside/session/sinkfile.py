"""What the teacher chooses for one sink: its tones and the unit of its display.

A small file that the desk writes and the station reads when it starts and at each roll.
docs/shelf.md explains every key.
"""

from enum import StrEnum
from pathlib import Path

from wetside import tomlfile
from wetside.errors import SettingsError
from wetside.tomlfile import FORMAT, Format, Table


class AgitationCalls(StrEnum):
    """How agitation is called; the display says it in every case."""

    FULL = "full"  # when to move and when to rest
    BEGIN = "begin"  # when to move
    SILENT = "silent"


class Pitch(StrEnum):
    """Pitch of all tones, so that sinks side by side are told apart."""

    LOW = "low"
    USUAL = "usual"
    HIGH = "high"


class Tones(Table):
    """What is heard. Without ``calm`` nothing sounds that is only good to know."""

    agitation: AgitationCalls = AgitationCalls.FULL
    calm: bool = True
    pitch: Pitch = Pitch.USUAL


class SinkFile(Table):
    """The choices for one sink. ``fahrenheit`` None leaves it to the station's settings."""

    format: Format = FORMAT
    fahrenheit: bool | None = None
    tones: Tones = Tones()


def parse(text: str, name: str) -> SinkFile:
    """Check the text of such a file.

    Raises
    ------
    SettingsError
        Names the file, every wrong key and the reason.
    """
    return tomlfile.parse(text, SinkFile, name, SettingsError)


def load(path: Path) -> SinkFile:
    """Read such a file; where there is none, nothing was chosen.

    Raises
    ------
    SettingsError
        Names the file, every wrong key and the reason.
    """
    if not path.exists():
        return SinkFile()
    return tomlfile.load(path, SinkFile, SettingsError)
