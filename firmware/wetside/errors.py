"""Everything wetside raises on purpose, on one page.

    WetsideError
      UnitsError (ValueError)        a temperature or volume that cannot be read
      FileProblem (ValueError)       a file people write: names file, place and reason
        SettingsError                station settings
        SheetError                   process sheet
        RecordingError               recording given to replay
        ShelfError                   shelf file (the bottles in use)
        BellsError                   bell table (periods of the school)
      JournalError (RuntimeError)    the journal cannot be used as it is
        JournalUnavailable           it cannot be written or read now; trying again may help
        JournalMissing             there is none yet: the station was never started
        JournalDamaged               the file's content is broken
      RunUnreadable (ValueError)     a run's rows that this version cannot tell again
      ArchiveRefused (ValueError)    a file that is no backup, or a damaged or newer one
      BenchError (ValueError)        what was asked of the simulated sink cannot be done

Every class keeps a builtin parent, so callers who know nothing of wetside can still catch
it. This module imports nothing of wetside.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path


class WetsideError(Exception):
    """Parent of every error that wetside raises on purpose."""


class UnitsError(WetsideError, ValueError):
    """A quantity that cannot be read; the message says what would be accepted."""


class FileProblem(WetsideError, ValueError):
    """A file that people write holds something that cannot be used.

    Parameters
    ----------
    file
        The file as the user named it.
    problems
        Pairs (place, reason); the place is a key such as ``step[2].seconds`` or ``line 7``.
    """

    def __init__(self, file: Path | str, problems: Sequence[tuple[str, str]]) -> None:
        self.file = str(file)
        self.problems = tuple(problems)
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """One line for each problem: ``file: place: reason``."""
        return [
            f"{self.file}: {place}: {reason}" if place else f"{self.file}: {reason}"
            for place, reason in self.problems
        ]


class SettingsError(FileProblem):
    """The station settings file cannot be used."""


class SheetError(FileProblem):
    """A process sheet cannot be used."""


class RecordingError(FileProblem):
    """A recording of readings cannot be used."""


class ShelfError(FileProblem):
    """The shelf file cannot be used."""


class BellsError(FileProblem):
    """The bell table cannot be used."""


class JournalError(WetsideError, RuntimeError):
    """The journal cannot be used as it is; the message says what was found and what helps."""


class JournalUnavailable(JournalError):
    """The journal cannot be written or read now: disk full, read-only, busy or gone."""


class JournalMissing(JournalUnavailable):
    """There is no journal yet: the station makes it when it first starts."""


class JournalDamaged(JournalError):
    """The content of the journal is broken; the station sets it aside and begins a new one."""


class RunUnreadable(WetsideError, ValueError):
    """The rows of a run cannot be told again, such as a sheet that this version does not know."""


class ArchiveRefused(WetsideError, ValueError):
    """A file that is no backup, or one that is damaged or newer; the message says which."""


class BenchError(WetsideError, ValueError):
    """What was asked of the simulated sink cannot be done; the message says what can."""
