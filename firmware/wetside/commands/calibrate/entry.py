"""Writing a probe's correction into the settings file, everything else left as it stands."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table

from wetside.errors import SettingsError
from wetside.settings import StationSettings
from wetside.thermal.calibration import Calibration
from wetside.tomlfile import parse, read_text


def corrected_text(text: str, file: Path, rom: str, name: str, line: Calibration, day: date) -> str:
    """The settings with this probe's correction; comments and layout stay.

    ``name`` is given to a probe that the settings do not list yet.

    Raises
    ------
    SettingsError
        The text cannot be changed so, or what came out would not be settings any more.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as problem:
        raise SettingsError(file, [("", f"not valid TOML: {problem}")]) from None
    probes = document.get("probe")
    if probes is None:
        probes = tomlkit.aot()
        document.append("probe", probes)
    if not isinstance(probes, AoT):
        raise SettingsError(file, [("probe", "is not written as [[probe]] tables: do that first")])
    entry = next((one for one in probes if _rom(one) == rom), None)
    if entry is None:
        entry = tomlkit.table()
        entry["rom"], entry["name"] = rom, name
        _set(entry, line, day)
        probes.append(entry)
    else:
        _set(entry, line, day)
    written = tomlkit.dumps(document)
    parse(written, StationSettings, str(file), SettingsError)
    return written


def _rom(table: Table) -> str:
    return str(table.get("rom", "")).lower().removeprefix("28-")


def _set(table: Table, line: Calibration, day: date) -> None:
    slope, offset = line.settings
    table["slope"] = round(slope, 5)
    table["offset_celsius"] = round(offset, 3)
    table["sd_celsius"] = round(line.used_sd, 3)
    table["calibrated"] = day


def text_of(file: Path) -> str:
    """The settings file's text.

    Raises
    ------
    SettingsError
        It cannot be read.
    """
    return read_text(file, SettingsError)
