"""``wetside``: the commands."""

import sys

try:
    from wetside.commands.endings import INTERRUPTED, open_closed_output, spell_as_can_be
    from wetside.commands.table import app
except KeyboardInterrupt:  # 128 + SIGINT; what would say so is not imported yet
    sys.exit(130)

__all__ = ["app", "main"]


def main() -> None:
    """Run the command that was asked for."""
    try:
        open_closed_output()
        spell_as_can_be()
        app()
    except KeyboardInterrupt:  # between two commands of typer's own
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
