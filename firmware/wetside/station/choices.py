"""What the teacher chose for this sink: read at the start and at each roll."""

from __future__ import annotations

from pathlib import Path

from wetside.errors import SettingsError
from wetside.session import sinkfile
from wetside.session.events import Json
from wetside.session.sinkfile import SinkFile


class Choices:
    """The choices as they stand now.

    Parameters
    ----------
    path
        The file, None where the desk writes none.

    Notes
    -----
    ``problem`` names what is wrong with the file; then every tone sounds as in the catalogue,
    because too much is better than a cue that nobody hears.
    """

    def __init__(self, path: Path | None = None) -> None:
        self._path = path
        self.now = SinkFile()
        self.problem: str | None = None
        self.reload()

    def reload(self) -> None:
        """Read the file anew."""
        self.now, self.problem = SinkFile(), None
        if self._path is None:
            return
        try:
            self.now = sinkfile.load(self._path)
        except SettingsError as problem:
            self.problem = problem.lines()[0]

    def fahrenheit(self, installed: bool) -> bool:
        """Whether the display speaks in Fahrenheit; ``installed`` is what the settings say."""
        return installed if self.now.fahrenheit is None else self.now.fahrenheit

    def renewed(self) -> dict[str, Json]:
        """Read anew; gives what is worth a line in the journal, empty where nothing was chosen."""
        self.reload()
        if self.problem is not None:
            return {"problem": self.problem}
        tones = self.now.tones
        return {} if tones == sinkfile.Tones() else dict(tones.model_dump(mode="json"))
