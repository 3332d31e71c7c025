"""What the journal's classes share: used with ``with``, they are closed at the end."""

from __future__ import annotations

from abc import ABC, abstractmethod
from types import TracebackType
from typing import Self


class Closing(ABC):
    """Closed at the end of a ``with`` block."""

    @abstractmethod
    def close(self) -> None:
        """Let go of what is held."""

    def __enter__(self) -> Self:
        """The object itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close, whatever happened."""
        self.close()
