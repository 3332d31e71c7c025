"""Where commands print tables and pictures: a reader that leaves is left to ``endings``."""

from __future__ import annotations

import rich.console


class Console(rich.console.Console):
    """As the library's own, which would end the program with 1 where nobody reads any more."""

    def on_broken_pipe(self) -> None:
        """Let the error go on: the command ends with 141, as every other."""
        raise  # noqa: PLE0704  # the library calls this where it caught it
