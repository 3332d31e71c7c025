"""``wetside doctor``: the command."""

from pathlib import Path

import typer

from wetside import settings
from wetside.commands.console import Console
from wetside.commands.doctor import house, parts
from wetside.commands.doctor.findings import Finding, State
from wetside.commands.doctor.kept import kept
from wetside.commands.options import DENIED, USUAL_SETTINGS, SettingsFile, kept_by
from wetside.errors import SettingsError
from wetside.settings import StationSettings

_STYLES = {State.FINE: "green", State.LOOK: "yellow", State.MISSING: "red"}


def doctor(
    settings_file: SettingsFile = USUAL_SETTINGS,
) -> None:
    """Look at everything the station needs: what is there, what is missing, how to mend it.

    Nothing is changed. The station may be running; the buses are then read a little slower.

    Exit codes: 0 nothing is missing, 1 something is, 2 the settings are wrong.

    Example: sudo -u wetside wetside doctor
    """
    console = Console(highlight=False)
    first, loaded = _settings(settings_file)
    findings = [first, *(_all(loaded) if loaded is not None else [])]
    for finding in findings:
        console.print(f"{finding.state:<8}", style=_STYLES[finding.state], end="", markup=False)
        console.print(f"{finding.part:<14} {finding.found}", markup=False, soft_wrap=True)
        if finding.mend:
            console.print(f"{'':<8}{'':<14} -> {finding.mend}", markup=False, soft_wrap=True)
    missing = sum(finding.state is State.MISSING for finding in findings)
    look = sum(finding.state is State.LOOK for finding in findings)
    console.print(f"{missing} missing, {look} to look at")
    if loaded is None:
        raise typer.Exit(2)
    raise typer.Exit(1 if missing else 0)


def _settings(path: Path) -> tuple[Finding, StationSettings | None]:
    if kept_by(path) is FileNotFoundError:
        mend = "The installer writes it; without one the defaults of the wiring are looked at."
        return Finding("settings", State.LOOK, f"no {path}", mend), StationSettings()
    try:
        return Finding("settings", State.FINE, str(path)), settings.load(path)
    except SettingsError as problem:
        mend = DENIED if kept_by(path) is PermissionError else ""
        return Finding("settings", State.MISSING, "; ".join(problem.lines()), mend), None


def _all(loaded: StationSettings) -> list[Finding]:
    return [
        house.board(),
        house.python(),
        parts.gpio(),
        *parts.one_wire(loaded),
        parts.display(loaded),
        *house.folders(loaded),
        house.disk(loaded.data_folder),
        house.journal(loaded),
        *kept(loaded),
        *house.sheets_there(loaded),
        *house.choices(loaded),
        house.clock(),
    ]
